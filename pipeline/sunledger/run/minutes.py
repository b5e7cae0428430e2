"""From archived voltages to flagged minutes, of any interval, however it is cut."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.archive.netcdf import read_tables
from sunledger.archive.readings_file import empty_readings, read_readings
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.datasets import as_variables, taken
from sunledger.run.context import RunContext, product_path
from sunledger.run.keys import label_window, period_with_halo
from sunledger.run.memory import give_back
from sunledger.run.months import months_touched
from sunledger.run.unit import unit_name
from sunledger.stages.calibrate import calibrate
from sunledger.stages.qc_flag import qc_flag
from sunledger.stages.time_correct import time_correct
from sunledger.stages.true_time import with_true_times
from sunledger.vocabulary import CONDITIONS, TESTS

DAY = 86400
TOGETHER = 500_000
"""Readings of a logger that are made minutes of at a time, on whole days: nearly a year of minutes,
or five days of seconds. They take about 250 byte each at the peak."""
FILES_A_MONTH = 100_000
"""Sets the source files of different label months apart where months are joined."""

Minutes = tuple[dict[str, npt.NDArray[Any]], Any]
"""Columns along ``time``, and attributes."""


def load_readings(
    archive: Path, period: Period, voltages: Collection[str] | None = None
) -> xr.Dataset:
    """
    Readings that can belong to a period, from the voltage products.

    Parameters
    ----------
    archive : Path
        Folder of the archive.
    period : Period
        Resolved configuration, halo included.
    voltages : collection of str or None
        Names of the voltage units that may be read. A file whose raw data have vanished stays in
        the archive, but nothing new may rest on it. None for all.

    Returns
    -------
    readings : xarray.Dataset
        All loggers, each in file order; the line numbers of different months are set apart.
    """
    parts: list[xr.Dataset] = []
    for logger in period.loggers:
        window = label_window(logger, period.start, period.end)
        pieces = []
        for number, month in enumerate(months_touched(*window)):
            path = product_path(archive, period.station_id, "voltage", month, logger.name)
            name = unit_name(period.station_id, "voltage", logger.name, month)
            if path.exists() and (voltages is None or name in voltages):
                piece = read_readings(path, logger.channels, logger.name, window)
                pieces.append(_set_apart(piece, logger.name, number * FILES_A_MONTH))
        parts.append(_joined(pieces) if pieces else empty_readings(logger.channels, logger.name))
    return xr.merge(parts, join="exact", compat="identical")


def _set_apart(piece: xr.Dataset, logger: str, by: int) -> xr.Dataset:
    names = (f"source_file_{logger}", f"quarantine_file_{logger}")
    moved = {name: (piece[name].dims, piece[name].values + by) for name in names}
    return piece.assign(as_variables(moved))


def source_of(archive: Path, period: Period, logger: ResolvedLogger, file: int) -> tuple[str, str]:
    """
    The raw file behind a reading that was loaded.

    Parameters
    ----------
    archive : Path
        Folder of the archive.
    period : Period
        For which the readings were loaded.
    logger : ResolvedLogger
        The logger.
    file : int
        ``source_file_<logger>`` of the reading.

    Returns
    -------
    name, sha256 : str
        Of the raw file, as the voltage file tells.
    """
    months = months_touched(*label_window(logger, period.start, period.end))
    number, row = divmod(file, FILES_A_MONTH)
    path = product_path(archive, period.station_id, "voltage", months[number], logger.name)
    sources = read_tables(path)["metadata/provenance"]
    return str(sources["source_file_name"][row]), str(sources["source_file_sha256"][row])


def _joined(pieces: list[xr.Dataset]) -> xr.Dataset:
    """Pieces one after the other along whatever dimension each variable has."""
    first = pieces[0]
    if len(pieces) == 1:
        return first
    joined = {
        str(name): (
            first.variables[name].dims,
            np.concatenate([p.variables[name].values for p in pieces]),
        )
        for name in first.data_vars
    }
    return xr.Dataset(as_variables(joined))


def minutes_of(
    context: RunContext,
    config: StationConfig,
    start: int,
    end: int,
    voltages: Collection[str] | None = None,
) -> tuple[xr.Dataset, Period]:
    """
    Flagged minutes of any interval, however it is cut.

    Parameters
    ----------
    context : RunContext
        The run.
    config : StationConfig
        The station's files.
    start, end : int
        Half-open, on whole minutes. [s]
    voltages : collection of str or None
        Names of the voltage units that may be read; None for all.

    Returns
    -------
    minutes : xarray.Dataset
        Out of the calibrate, time-correct and qc-flag stages, without the halo.
    period : Period
        What they were made with, halo included.
    """
    cuts = _cuts(config, start, end)
    if len(cuts) > 2:
        pieces = []
        for ends in pairwise(cuts):
            give_back()  # what a month of seconds has left behind is as large as what is made now
            pieces.append(arrays_of(_at_once(context, config, *ends, voltages)[0]))
        if alike(pieces):
            return one_after_the_other(pieces), _with_halo(context, config, start, end)
    return _at_once(context, config, start, end, voltages)


def _cuts(config: StationConfig, start: int, end: int) -> list[int]:
    """Where a time is cut so that readings by the second do not fill the memory."""
    fastest = min(logger.interval for logger in config.station.loggers.values())
    days = max(1, TOGETHER * fastest // DAY)
    return [*range(start, end, days * DAY), end]


def _with_halo(context: RunContext, config: StationConfig, start: int, end: int) -> Period:
    return period_with_halo(config, context.processing, start, end)[0]


def _at_once(
    context: RunContext,
    config: StationConfig,
    start: int,
    end: int,
    voltages: Collection[str] | None,
) -> tuple[xr.Dataset, Period]:
    period = _with_halo(context, config, start, end)
    ds = flagged(load_readings(context.archive, period, voltages), period)
    inside = np.flatnonzero((ds["time"].values >= start) & (ds["time"].values < end))
    return taken(ds, {"time": slice(int(inside[0]), int(inside[-1]) + 1)}), period


def arrays_of(ds: xr.Dataset, start: int | None = None, end: int | None = None) -> Minutes:
    """
    Minutes as plain arrays.

    Parameters
    ----------
    ds : xarray.Dataset
        Along ``time``.
    start, end : int or None
        Half-open; None for all. [s]

    Returns
    -------
    arrays : dict of numpy.ndarray, shape (time,)
        Views, ``time`` included.
    attributes : dict
        Of the dataset.
    """
    time = ds["time"].values
    ends = (time[0], time[-1] + 1) if start is None or end is None else (start, end)
    first, past = np.searchsorted(time, ends)
    return {str(n): v.values[first:past] for n, v in ds.variables.items()}, ds.attrs


def alike(pieces: Sequence[Minutes]) -> bool:
    """
    Whether pieces have the same columns.

    Parameters
    ----------
    pieces : sequence
        From :func:`arrays_of`.

    Returns
    -------
    same : bool
        False where what begins or ends within them has columns that the others do not know.
    """
    kinds = {frozenset((n, a.dtype.str) for n, a in arrays.items()) for arrays, _ in pieces}
    return len(kinds) == 1


def one_after_the_other(pieces: Sequence[Minutes]) -> xr.Dataset:
    """
    Minutes of pieces that lie one after the other.

    Parameters
    ----------
    pieces : sequence
        From :func:`arrays_of`; alike.

    Returns
    -------
    minutes : xarray.Dataset
        The same as made at once.
    """
    arrays, attributes = pieces[0]
    joined = {name: ("time", np.concatenate([one[name] for one, _ in pieces])) for name in arrays}
    time = {"time": joined.pop("time")}
    return xr.Dataset(as_variables(joined), as_variables(time), attributes)


def flagged(readings: xr.Dataset, period: Period) -> xr.Dataset:
    """
    Readings through all stages that make minutes.

    Parameters
    ----------
    readings : xarray.Dataset
        From :func:`load_readings`.
    period : Period
        Resolved configuration, halo included.

    Returns
    -------
    minutes : xarray.Dataset
        Of the whole period; only within the halo from its ends as in the archive.
    """
    ds = with_true_times(readings, period)
    for stage in (calibrate, time_correct, qc_flag):
        ds = stage(ds, period)
    return ds


def bit_counts(ds: xr.Dataset, quantities: tuple[str, ...], word: str) -> dict[str, dict[str, int]]:
    """
    Number of minutes with each bit of a word.

    Parameters
    ----------
    ds : xarray.Dataset
        Flagged minutes.
    quantities : tuple of str
        Quantities.
    word : str
        ``flags`` or ``conditions``.

    Returns
    -------
    counts : dict
        Quantity → bit → minutes; bits that never occur are left out.
    """
    bits = TESTS if word == "flags" else CONDITIONS
    counts: dict[str, dict[str, int]] = {}
    for quantity in quantities:
        words = ds.variables[f"{quantity}_{word}"].values
        set_ever = int(np.bitwise_or.reduce(words))
        counts[quantity] = {
            name: int(np.count_nonzero(words & bit.mask))
            for name, bit in bits.items()
            if set_ever & bit.mask
        }
    return counts
