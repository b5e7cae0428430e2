"""The plan of a run: every product of the months asked for, whether it is stale, and why."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import Any, Literal

from sunledger.archive.digest import json_digest, plain_data
from sunledger.archive.history import history_rows
from sunledger.archive.manifest import Manifest, read_manifest
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import Period, resolve_period
from sunledger.run.context import RunContext
from sunledger.run.file_index import FileIndex, IndexedFile, files_for
from sunledger.run.keys import (
    HALO,
    STAGE_VERSIONS,
    differences,
    ingest_settings,
    label_window,
    minute_settings,
    unit_key,
)
from sunledger.run.months import month_bounds, months_touched

Kind = Literal["voltage", "minute", "aggregate"]
DAY = 86400
AGGREGATES = ("hourly", "daily", "monthly")
MOST_REASONS = 5


@dataclass(frozen=True)
class Unit:
    """
    One file to be made.

    Parameters
    ----------
    kind : str
        ``voltage``, ``minute`` or ``aggregate``.
    station : str
        Identifier of the station.
    product : str
        Such as ``minute``.
    period : str
        Such as ``2031-03`` or ``2031``.
    logger : str
        Of a voltage product.
    key : str
        Digest of what it reads.
    settings : dict
        What of the configuration it reads.
    sources : tuple of (name, sha256, size)
        Raw files it rests on.
    months : tuple of str
        Months of minutes that an aggregate joins.
    stale : bool
        Whether it has to be made.
    reasons : tuple of str
        Why.
    after : tuple of str
        Names of the units it reads.
    """

    kind: Kind
    station: str
    product: str
    period: str
    key: str
    settings: Mapping[str, Any] = field(repr=False)
    sources: tuple[tuple[str, str, int], ...] = ()
    logger: str = ""
    months: tuple[str, ...] = ()
    stale: bool = True
    reasons: tuple[str, ...] = ()
    after: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """
        Name by which a person knows the unit.

        Returns
        -------
        name : str
            Such as ``osr minute 2031-03``.
        """
        return " ".join(filter(None, (self.station, self.product, self.logger, self.period)))


@dataclass(frozen=True)
class Plan:
    """
    What a run will make.

    Parameters
    ----------
    units : tuple of Unit
        Fresh and stale, each after those it reads.
    empty : tuple of str
        Names of the months asked for without a raw file.
    """

    units: tuple[Unit, ...]
    empty: tuple[str, ...] = ()

    def stale(self) -> tuple[Unit, ...]:
        """
        Units that have to be made.

        Returns
        -------
        units : tuple of Unit
            In order.
        """
        return tuple(u for u in self.units if u.stale)


def metadata_digest(context: RunContext, config: StationConfig) -> str:
    """
    Digest of the descriptive words that every file of a station repeats.

    Parameters
    ----------
    context : RunContext
        With the network.
    config : StationConfig
        The station's files.

    Returns
    -------
    digest : str
        Changes with names, contacts, licence, description, but with no setting.
    """
    plain = plain_data(config.station)
    words = {k: v for k, v in plain.items() if k not in ("loggers", "primary")}
    return json_digest({"network": plain_data(context.network), "station": words})


def _no_nan(value: Any) -> Any:
    return None if isinstance(value, float) and value != value else value


def history_settings(config: StationConfig, resolved: Period, start: int, end: int) -> dict[str, Any]:
    """
    Rows of the history tables as part of what a unit reads.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    resolved : Period
        Resolved configuration.
    start, end : int
        Period of the file. [s]

    Returns
    -------
    rows : dict of list
        Missing numbers as None.
    """
    causes = frozenset(item.cause for item in resolved.conditions)
    interpolated = resolved.processing.calibrate.policy == "interpolated"
    tables = history_rows(config, start, end, causes, interpolated)
    return {
        name: [{k: _no_nan(v) for k, v in row.items()} for row in rows]
        for name, rows in tables.items()
    }


def _sources(files: Iterable[IndexedFile]) -> tuple[tuple[str, str, int], ...]:
    return tuple(sorted((f.path, f.sha256, f.size) for f in files))


def _reasons(before: Manifest | None, unit: Unit) -> tuple[str, ...]:
    """Say in plain words why a unit is stale; nothing when it is fresh."""
    if before is None:
        return ("no such file yet",)
    if before.key == unit.key:
        return ()
    old = {i.name: i.sha256 for i in before.inputs}
    new = {name: sha256 for name, sha256, _ in unit.sources}
    words = [f"raw file {n}: new" for n in sorted(new.keys() - old.keys())]
    words += [f"raw file {n}: gone" for n in sorted(old.keys() - new.keys())]
    words += [f"raw file {n}: changed" for n in sorted(old.keys() & new.keys()) if old[n] != new[n]]
    words += differences(before.resolved_configuration, plain_data(unit.settings))
    if len(words) > MOST_REASONS:
        rest = len(words) - MOST_REASONS
        words = [*islice(words, MOST_REASONS), f"and {rest} more"]
    return tuple(words) or ("another version of a stage, or of the station's description",)


def _judged(context: RunContext, unit: Unit) -> Unit:
    path = context.product_path(unit.station, unit.product, unit.period, unit.logger)
    before = read_manifest(path) if path.exists() else None
    reasons = _reasons(before, unit)
    return replace(unit, stale=bool(reasons), reasons=reasons)


def voltage_unit(
    context: RunContext, config: StationConfig, logger: str, month: str, index: FileIndex
) -> Unit | None:
    """
    The voltage file of a logger and month of labels.

    Parameters
    ----------
    context : RunContext
        The run.
    config : StationConfig
        The station's files.
    logger : str
        Name of the logger.
    month : str
        Month of the logger's own labels.
    index : FileIndex
        Raw files of the logger.

    Returns
    -------
    unit : Unit or None
        None when no raw file holds a label of the month.
    """
    start, end = month_bounds(month)
    files = files_for(index, start, end)
    if not files:
        return None
    resolved = resolve_period(config, context.processing, start, end)
    settings = {
        "logger": ingest_settings(config.station.loggers[logger]),
        "history": history_settings(config, resolved, start, end),
    }
    sources = _sources(files)
    metadata = metadata_digest(context, config)
    key = unit_key("voltage", settings, sources, metadata)
    return Unit(
        "voltage", config.station.id, "voltage", month, key, settings, sources, logger=logger
    )


def unit_end(context: RunContext, month: str) -> int:
    """
    End of a month's minutes: its own, or the last complete day of an open month.

    Parameters
    ----------
    context : RunContext
        With the run's "now".
    month : str
        The month.

    Returns
    -------
    end : int
        [s]
    """
    return min(month_bounds(month)[1], context.as_of // DAY * DAY)


def minute_unit(
    context: RunContext,
    config: StationConfig,
    month: str,
    indexes: Mapping[str, FileIndex],
    voltages: Mapping[tuple[str, str], Unit],
) -> Unit | None:
    """
    The minute file of a month.

    Parameters
    ----------
    context : RunContext
        The run.
    config : StationConfig
        The station's files.
    month : str
        Month of UTC.
    indexes : dict of FileIndex
        Logger → raw files.
    voltages : dict of Unit
        Logger and month of labels → voltage unit.

    Returns
    -------
    unit : Unit or None
        None when no raw file bears on the month itself.
    """
    start, end = month_bounds(month)[0], unit_end(context, month)
    if end <= start:
        return None
    resolved = resolve_period(config, context.processing, start - HALO, end + HALO)
    files: list[IndexedFile] = []
    after: list[str] = []
    any_inside = False
    for logger in resolved.loggers:
        index = indexes[logger.name]
        any_inside |= bool(files_for(index, *label_window(logger, start, end)))
        window = label_window(logger, start - HALO, end + HALO)
        files += files_for(index, *window)
        touched = [voltages.get((logger.name, m)) for m in months_touched(*window)]
        after += [u.name for u in touched if u is not None]
    if not any_inside:
        return None
    settings = minute_settings(resolved)
    settings["history"] = history_settings(config, resolved, start, end)
    sources = _sources(files)
    key = unit_key("minute", settings, sources, metadata_digest(context, config))
    return Unit(
        "minute", config.station.id, "minute", month, key, settings, sources, after=tuple(after)
    )


def aggregate_unit(
    context: RunContext, config: StationConfig, product: str, year: str, minutes: list[Unit]
) -> Unit:
    """
    The hourly, daily or monthly file of a year.

    Parameters
    ----------
    context : RunContext
        The run.
    config : StationConfig
        The station's files.
    product : str
        ``hourly``, ``daily`` or ``monthly``.
    year : str
        Such as ``2031``.
    minutes : list of Unit
        Closed months of that year, in order.

    Returns
    -------
    unit : Unit
        Keyed by the keys of its months.
    """
    settings = {"aggregate": plain_data(context.processing.aggregate)}
    settings["months"] = {u.period: u.key for u in minutes}
    key = unit_key("aggregate", settings, product, metadata_digest(context, config))
    return Unit(
        "aggregate", config.station.id, product, year, key, settings,
        tuple(sorted({s for u in minutes for s in u.sources})),
        months=tuple(u.period for u in minutes), after=tuple(u.name for u in minutes),
    )


def _known_months(
    context: RunContext, config: StationConfig, indexes: Mapping[str, FileIndex]
) -> list[str]:
    """Months of UTC that the labels of the raw files can touch."""
    months: set[str] = set()
    for name, index in indexes.items():
        offset = config.station.loggers[name].utc_offset
        for file in index.files:
            if file.first_label is not None and file.last_label is not None:
                touched = months_touched(file.first_label - offset, file.last_label - offset)
                months.update(touched)
    return sorted(m for m in months if unit_end(context, m) > month_bounds(m)[0])


def _neighbourhood(month: str) -> list[str]:
    start, end = month_bounds(month)
    return months_touched(start - 31 * DAY, end + 31 * DAY)


def station_plan(
    context: RunContext,
    config: StationConfig,
    indexes: Mapping[str, FileIndex],
    months: list[str] | None,
) -> Plan:
    """
    Plan of one station.

    Parameters
    ----------
    context : RunContext
        The run.
    config : StationConfig
        The station's files.
    indexes : dict of FileIndex
        Logger → raw files.
    months : list of str or None
        Months of UTC asked for; None for all with raw data.

    Returns
    -------
    plan : Plan
        Voltage, minute and aggregate units, as far as the workflow's stages go.
    """
    known = _known_months(context, config, indexes)
    wanted = known if months is None else months
    station = config.station.id
    label_months = sorted({m for month in wanted for m in _neighbourhood(month)})
    voltages = {
        (logger, month): unit
        for logger in config.station.loggers
        for month in label_months
        if (unit := voltage_unit(context, config, logger, month, indexes[logger])) is not None
    }
    units: list[Unit] = list(voltages.values())
    closed: dict[str, list[Unit]] = {}
    made = {m: minute_unit(context, config, m, indexes, voltages) for m in sorted({*known, *wanted})}
    # Stages run in order, so a workflow that stops before the flags makes no minutes.
    if "qc_flag" in context.stages:
        units += [u for m, u in made.items() if u is not None and m in wanted]
        for month, unit in made.items():
            if unit is not None and unit_end(context, month) == month_bounds(month)[1]:
                closed.setdefault(month[:4], []).append(unit)
    if "aggregate" in context.stages:
        years = sorted({m[:4] for m in wanted} & closed.keys())
        units += [
            aggregate_unit(context, config, product, year, _available(context, closed[year], wanted))
            for year in years
            for product in AGGREGATES
        ]
    units = [u for u in units if u.kind != "aggregate" or u.months]
    empty = tuple(f"{station} {m}" for m in wanted if made.get(m) is None)
    return Plan(tuple(_judged(context, unit) for unit in units), empty)


def _available(context: RunContext, units: list[Unit], wanted: list[str]) -> list[Unit]:
    """Months of a year file: those of this run, and those that the archive already has."""
    return [
        u
        for u in units
        if u.period in wanted or context.product_path(u.station, "minute", u.period).exists()
    ]
