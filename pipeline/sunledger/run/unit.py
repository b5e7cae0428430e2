"""One file to be made: what it reads, by which its key says whether it is stale."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from sunledger.archive.digest import plain_data
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import resolve_period
from sunledger.run.context import RunContext
from sunledger.run.described import history_of_month, history_settings, metadata_digest
from sunledger.run.file_index import FileIndex, IndexedFile, files_for
from sunledger.run.grids import grid_intervals, grid_product
from sunledger.run.keys import (
    ingest_settings,
    inside_window,
    label_window,
    minute_settings,
    period_with_halo,
    unit_key,
)
from sunledger.run.months import month_bounds, months_touched
from sunledger.run.status import final_status, unit_end
from sunledger.run.stored import Stored

Kind = Literal["voltage", "minute", "aggregate"]


@dataclass(frozen=True)
class FileShare:
    """
    What of a raw file belongs to a voltage unit.

    Parameters
    ----------
    name : str
        Path below the raw folder.
    lines : int
        Data lines accounted to the unit's month.
    opening : int
        Label of the file's first good line. [s]
    months : int
        Months that the file touches.
    """

    name: str
    lines: int
    opening: int
    months: int


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
        Of a voltage product; interval of a series [s]; clock of an aggregate, but for UTC.
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
    shares : tuple of FileShare
        What of each raw file belongs to a voltage unit, by path.
    around : tuple of str
        Months of minutes that an aggregate reads beside its own.
    days : tuple of str
        Digests of what each day of an open month of minutes reads.
    stored : Stored or None
        Of a fresh unit.
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
    shares: tuple[FileShare, ...] = field(default=(), repr=False)
    around: tuple[str, ...] = ()
    days: tuple[str, ...] = field(default=(), repr=False)
    stored: Stored | None = field(default=None, repr=False)

    @property
    def name(self) -> str:
        """
        Name by which a person knows the unit.

        Returns
        -------
        name : str
            Such as ``osr minute 2031-03``.
        """
        return unit_name(self.station, self.product, self.logger, self.period)


def unit_name(station: str, product: str, logger: str, period: str) -> str:
    """
    Name by which a person knows a unit.

    Parameters
    ----------
    station, product, logger, period : str
        As in :class:`Unit`.

    Returns
    -------
    name : str
        Such as ``osr voltage main 2031-03``.
    """
    return " ".join(filter(None, (station, product, logger, period)))


def _sources(files: Iterable[IndexedFile]) -> tuple[tuple[str, str, int], ...]:
    return tuple(sorted((f.path, f.sha256, f.size) for f in files))


def bearing_files(index: FileIndex, window: tuple[int, int]) -> list[IndexedFile]:
    """
    Raw files with a label in a window, not merely in one of its months.

    Parameters
    ----------
    index : FileIndex
        Raw files of a logger.
    window : tuple of int
        First label and the one past the last. [s]

    Returns
    -------
    files : list of IndexedFile
        By the earliest and latest label of each month of each.
    """
    first, past = window
    return [
        file
        for file in files_for(index, first, past)
        if any(earliest < past and latest >= first for earliest, latest in file.spans.values())
    ]


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
    settings = {
        "logger": ingest_settings(config.station.loggers[logger]),
        "history": history_of_month(config, context.processing, month),
        "status": final_status(context, config, month),
    }
    sources = _sources(files)
    metadata = metadata_digest(context, config)
    key = unit_key("voltage", settings, sources, metadata)
    shares = tuple(
        FileShare(f.path, f.months[month], f.opening_label or 0, len(f.months))
        for f in sorted(files, key=lambda f: f.path)
    )
    return Unit(
        *("voltage", config.station.id, "voltage", month, key, settings, sources),
        logger=logger,
        shares=shares,
    )


def minute_unit(
    context: RunContext,
    config: StationConfig,
    month: str,
    indexes: Mapping[str, FileIndex],
    voltages: Mapping[tuple[str, str], Unit],
) -> Unit | None:
    """
    The minute file, or the series file of a longer interval, of a month.

    Parameters
    ----------
    context : RunContext
        The run.
    config : StationConfig
        The station's files, with the loggers of one grid.
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
    resolved, halo = period_with_halo(config, context.processing, start, end)
    files: list[IndexedFile] = []
    after: list[str] = []
    any_inside = False
    for logger in resolved.loggers:
        index = indexes[logger.name]
        any_inside |= bool(bearing_files(index, inside_window(logger, start, end)))
        window = label_window(logger, start - halo, end + halo)
        files += bearing_files(index, window)
        touched = [voltages.get((logger.name, m)) for m in months_touched(*window)]
        after += [u.name for u in touched if u is not None]
    if not any_inside:
        return None
    settings = minute_settings(resolved, config.station)
    settings["history"] = history_settings(config, resolved, start, end)
    settings["status"] = final_status(context, config, month)
    sources = _sources(files)
    key = unit_key("minute", settings, sources, metadata_digest(context, config))
    product, part = grid_product(max(grid_intervals(config.station)))
    return Unit(
        *("minute", config.station.id, product, month, key, settings, sources),
        logger=part,
        after=tuple(after),
    )


def aggregate_settings(
    context: RunContext, config: StationConfig, minutes: list[Unit], held: Sequence[str]
) -> dict[str, Any]:
    """
    What the aggregates of a year read of the configuration.

    Parameters
    ----------
    context : RunContext
        The run.
    config : StationConfig
        The station's files.
    minutes : list of Unit
        Closed months that are read, in order; at least one.
    held : sequence of str
        Months that the file holds, in order; at least one.

    Returns
    -------
    settings : dict
        Of the whole time from the first month to the last, since their files speak of all of it.
    """
    start, end = month_bounds(held[0])[0], month_bounds(held[-1])[1]
    resolved = resolve_period(config, context.processing, start, end)
    settings = minute_settings(resolved, config.station)
    # which periods are made bears on the plan, not on what a file holds
    plain = plain_data(context.processing.aggregate)
    settings["aggregate"] = {k: v for k, v in plain.items() if k != "periods"}
    settings["history"] = history_settings(config, resolved, start, end)
    return settings | {"months": {_month_of(u): u.key for u in minutes}, "holds": list(held)}


def _month_of(unit: Unit) -> str:
    return unit.period if not unit.logger else f"{unit.period} every {unit.logger} s"


def aggregate_unit(
    name: tuple[str, str],
    year: str,
    minutes: list[Unit],
    settings: Mapping[str, Any],
    metadata: str,
) -> Unit:
    """
    The file of a year that holds hours, days, or other periods.

    Parameters
    ----------
    name : (str, str)
        Such as ``hourly``, and the part of the file's name that tells the clock.
    year : str
        Such as ``2031``.
    minutes : list of Unit
        Closed months that are read, in order; at least one.
    settings : dict
        From :func:`aggregate_settings`.
    metadata : str
        From :func:`metadata_digest`.

    Returns
    -------
    unit : Unit
        Keyed by the keys of its months and by what its file says of the whole time between.
    """
    return Unit(
        "aggregate",
        minutes[0].station,
        name[0],
        year,
        unit_key("aggregate", settings, "_".join(filter(None, name)), metadata),
        settings,
        tuple(sorted({s for u in minutes for s in u.sources})),
        logger=name[1],
        months=tuple(settings["holds"]),
        around=tuple(sorted({u.period for u in minutes} - set(settings["holds"]))),
        after=tuple(u.name for u in minutes),
    )
