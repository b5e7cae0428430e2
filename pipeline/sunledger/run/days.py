"""
The open month, day by day: what was read and made of its days is kept from one run to the next.

Pieces lie in the archive's bookkeeping, apart from every product: what each raw file holds, and the
flagged minutes of each day, under the digest of all that they were made of. One that is missing or
damaged is made anew, so all of them may be deleted at any time. They go when their month closes,
and a month that has ended is always made whole.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from pathlib import Path
from typing import Any

import xarray as xr

from sunledger.archive.digest import json_digest
from sunledger.archive.listing import BOOKKEEPING
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import Period
from sunledger.run.context import RunContext
from sunledger.run.file_index import FileIndex
from sunledger.run.grids import on_grid
from sunledger.run.keys import (
    STAGE_VERSIONS,
    ingest_settings,
    label_window,
    minute_settings,
    period_with_halo,
    unit_key,
)
from sunledger.run.minutes import DAY, Minutes, alike, arrays_of, minutes_of, one_after_the_other
from sunledger.run.months import month_bounds
from sunledger.run.pieces import Arrays, keep_only, load_piece, save_piece
from sunledger.run.publish import software_versions
from sunledger.run.status import unit_end
from sunledger.run.unit import Unit, bearing_files
from sunledger.stages.ingest import RawFile, readings_of
from sunledger.stages.rawfiles import FileReadings, read_file
from sunledger.stages.tables import Rejection
from sunledger.stages.time_correct import SHORTEST_INTERVAL

_PLAIN = ("name", "sha256", "data_lines", "first", "last", "least", "greatest", "runs", "fault")
_COLUMNS = ("label", "line", "run")


def pieces_folder(context: RunContext, unit: Unit) -> Path:
    """
    Where the pieces of a product are kept.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        Of the product.

    Returns
    -------
    folder : Path
        Within the archive's bookkeeping.
    """
    name = "_".join(filter(None, (unit.station, unit.product, unit.logger)))
    return context.archive / BOOKKEEPING / "pieces" / name


def with_days(
    context: RunContext, config: StationConfig, unit: Unit, indexes: Mapping[str, FileIndex]
) -> Unit:
    """
    A minute unit that knows the keys of its days, by which those made before are found.

    Parameters
    ----------
    context : RunContext
        The run.
    config : StationConfig
        The station's files.
    unit : Unit
        Any unit.
    indexes : dict of FileIndex
        Logger → raw files.

    Returns
    -------
    unit : Unit
        Unchanged unless it is stale and of an open month of minutes.
    """
    if unit.kind != "minute" or not unit.stale or unit.settings["status"] != "open":
        return unit
    start, end = month_bounds(unit.period)[0], unit_end(context, unit.period)
    grid = on_grid(config, int(unit.logger or SHORTEST_INTERVAL))
    days = (_day_key(context, grid, day, indexes) for day in range(start, end, DAY))
    return replace(unit, days=tuple(days))


def _day_key(
    context: RunContext, config: StationConfig, day: int, indexes: Mapping[str, FileIndex]
) -> str:
    """Digest of all that the minutes of a day are made of."""
    resolved, halo = period_with_halo(config, context.processing, day, day + DAY)
    files = [
        file.sha256
        for logger in resolved.loggers
        for file in bearing_files(
            indexes[logger.name], label_window(logger, day - halo, day + DAY + halo)
        )
    ]
    settings = minute_settings(resolved, config.station)
    key = unit_key("minute", settings, files, "")
    return json_digest([key, software_versions()])


def open_minutes(
    context: RunContext, config: StationConfig, unit: Unit
) -> tuple[xr.Dataset, Period]:
    """
    Flagged minutes of an open month; only days whose key is new are made.

    A month whose days do not all have the same columns is made whole.

    Parameters
    ----------
    context : RunContext
        The run.
    config : StationConfig
        The station's files, with the loggers of the unit's grid.
    unit : Unit
        With the keys of its days.

    Returns
    -------
    minutes : xarray.Dataset
        The same as made at once.
    period : Period
        Resolved configuration of the month, halo included.
    """
    start, end = month_bounds(unit.period)[0], unit_end(context, unit.period)
    folder = pieces_folder(context, unit)
    paths = [folder / f"{unit.period}_{key}.piece" for key in unit.days]
    kept = [load_piece(path) for path in paths]
    for first, past in _runs([piece is None for piece in kept]):
        ends = (start + first * DAY, start + past * DAY)
        ds, _ = minutes_of(context, config, *ends, unit.after)
        for number in range(first, past):
            day = start + number * DAY
            kept[number] = _saved(paths[number], ds, day)
    keep_only(folder, unit.period, {path.name for path in paths})
    pieces = [piece for piece in kept if piece is not None]
    if not alike(pieces):
        return minutes_of(context, config, start, end, unit.after)
    period, _ = period_with_halo(config, context.processing, start, end)
    return one_after_the_other(pieces), period


def _runs(wanted: Sequence[bool]) -> Iterator[tuple[int, int]]:
    """First and one past the last of each run of days that are wanted."""
    at = 0
    for value, days in groupby(wanted):
        past = at + len(list(days))
        if value:
            yield at, past
        at = past


def _saved(path: Path, ds: xr.Dataset, day: int) -> Minutes:
    minutes = arrays_of(ds, day, day + DAY)
    save_piece(path, *minutes)
    return minutes


def open_readings(context: RunContext, unit: Unit) -> xr.Dataset:
    """
    Readings of an open month; only raw files whose digest is new are read.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        A voltage unit.

    Returns
    -------
    readings : xarray.Dataset
        The same as of the ingest stage.
    """
    logger = context.station(unit.station).station.loggers[unit.logger]
    bounds = month_bounds(unit.period)
    how = [ingest_settings(logger), *bounds, STAGE_VERSIONS["voltage"], software_versions()]
    folder, names, read = pieces_folder(context, unit), set(), []
    for name, sha256, _ in unit.sources:
        path = folder / f"{unit.period}_{json_digest([name, sha256, how])}.piece"
        piece = load_piece(path)
        if piece is not None:
            found = _restored(*piece)
        else:
            found = read_file(RawFile(context.raw / name, name), logger, *bounds)
            if not found.fault and found.sha256 == sha256:
                save_piece(path, *_plain(found))
        names.add(path.name)
        read.append(found)
    keep_only(folder, unit.period, names)
    return readings_of(read, logger, unit.logger, *bounds)


def _plain(found: FileReadings) -> tuple[Arrays, Any]:
    arrays = {name: getattr(found, name) for name in _COLUMNS}
    told = {name: getattr(found, name) for name in _PLAIN}
    told["rejected"] = [[label, vars(rejection)] for label, rejection in found.rejected]
    told["label_counts"] = list(found.label_counts.items())
    told["spans"], told["other_records"] = found.spans, dict(found.other_records)
    return arrays | {f"value {name}": column for name, column in found.values.items()}, told


def _restored(arrays: Arrays, told: Any) -> FileReadings:
    fields: dict[str, Any] = {name: told[name] for name in _PLAIN}
    fields |= {name: arrays[name] for name in _COLUMNS}
    return FileReadings(
        **fields,
        values={n.removeprefix("value "): a for n, a in arrays.items() if n not in _COLUMNS},
        rejected=[(label, Rejection(**rejection)) for label, rejection in told["rejected"]],
        label_counts=dict(told["label_counts"]),
        spans={month: (first, last) for month, (first, last) in told["spans"].items()},
        other_records=Counter(told["other_records"]),
    )


def forget_days(context: RunContext, unit: Unit) -> None:
    """
    Remove what was kept of a month that has ended.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        Of the month.
    """
    keep_only(pieces_folder(context, unit), unit.period, ())
