"""Loading the checklist of a station's visits, with every fault at its line."""

from __future__ import annotations

from collections.abc import Iterator

from sunledger.config.loading import StationConfig, checked_model
from sunledger.config.messages import not_among
from sunledger.config.models.checklist import Checklist, Item
from sunledger.config.record import deployment_periods
from sunledger.config.yaml_text import Loc, SourceLines, parse_file
from sunledger.errors import ConfigError, Fault

FILE_NAME = "checklist.yaml"


def load_checklist(config: StationConfig) -> Checklist:
    """
    The checklist that lies beside a station's other files.

    Parameters
    ----------
    config : StationConfig
        The station's files.

    Returns
    -------
    checklist : Checklist
        In the order written.

    Raises
    ------
    ConfigError
        If there is none, or with every fault of it.
    """
    checklist, faults = read_checklist(config)
    if checklist is None or any(f.severity == "error" for f in faults):
        raise ConfigError(faults)
    return checklist


def checklist_faults(config: StationConfig) -> list[Fault]:
    """
    What is wrong with a station's checklist, if it has one.

    Parameters
    ----------
    config : StationConfig
        The station's files.

    Returns
    -------
    faults : list of Fault
        Of both severities; empty where there is no checklist.
    """
    return read_checklist(config)[1] if (config.folder / FILE_NAME).is_file() else []


def read_checklist(config: StationConfig) -> tuple[Checklist | None, list[Fault]]:
    """
    The checklist and what is wrong with it.

    Parameters
    ----------
    config : StationConfig
        The station's files.

    Returns
    -------
    checklist, faults : Checklist or None, list of Fault
        Errors are unknown places; radiometers that no item names are a warning.
    """
    path = config.folder / FILE_NAME
    if not path.is_file():
        why = "the station has no checklist; copy one of configs/stations and change its order"
        return None, [Fault(str(path), 0, "", why)]
    parsed = parse_file(path)
    faults: list[Fault] = []
    checklist = checked_model(parsed, Checklist, faults)
    if checklist is not None:
        faults += sorted(_unknown_places(checklist, config, parsed.source))
        faults += _never_looked_at(checklist, config, parsed.source)
    return checklist, faults


def _items(checklist: Checklist) -> Iterator[tuple[Loc, Item]]:
    for p, place in enumerate(checklist.places):
        for i, item in enumerate(place.items):
            yield ("places", p, "items", i), item


def _unknown_places(
    checklist: Checklist, config: StationConfig, lines: SourceLines
) -> Iterator[Fault]:
    stood = (p.entry.position for p in deployment_periods(config.fieldlog))
    known = {
        "positions": tuple(dict.fromkeys((*config.station.positions(), *stood))),
        "loggers": tuple(config.station.loggers),
    }
    for loc, item in _items(checklist):
        for field, allowed in known.items():
            for name in (n for n in getattr(item, field) if n not in allowed):
                why = f"not at this station; {not_among(name, allowed)}"
                where = f"places[{loc[1]}].items[{loc[3]}].{field}"
                line = lines.line(*loc, field)
                yield Fault(lines.path, line, where, why)


def _never_looked_at(
    checklist: Checklist, config: StationConfig, lines: SourceLines
) -> Iterator[Fault]:
    named = {p for _, item in _items(checklist) for p in item.positions}
    for position in config.station.positions():
        if position not in named:
            why = f"no item names {position}; nobody would look at it"
            yield Fault(lines.path, lines.line("places"), "places", why, "warning")
