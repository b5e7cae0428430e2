"""Raw files to readings: file order, every line accounted for, the logger's own clock."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from sunledger.config.models.station import Channel, Logger, Station
from sunledger.datasets import as_variables
from sunledger.stages.accounting import CONFLICTING, KEPT, REPEATED, Account, line_status
from sunledger.stages.blocks import NO_LABEL
from sunledger.stages.jumps import hour_jumps
from sunledger.stages.places import Places, places
from sunledger.stages.rawfiles import FileReadings, read_file
from sunledger.stages.streams import RawFile as RawFile  # callers make the list of files
from sunledger.stages.tables import Rejection, written_row

CONFLICT = "same label as an earlier line of the same rising run, other values"


VERSION = 1
"""Raised whenever the same files give other readings."""


@dataclass
class _Stream:
    """The readings of all files, one file after the other."""

    files: list[FileReadings]
    given: list[int]
    label: NDArray[np.int64]
    run: NDArray[np.int64]
    file: NDArray[np.int32]
    line: NDArray[np.int32]
    values: dict[str, NDArray[np.float64]]
    unreadable: list[FileReadings]


def ingest(
    files: Sequence[RawFile], station: Station, logger_id: str, start_label: int, end_label: int
) -> xr.Dataset:
    """
    Readings of one logger with labels in a period.

    Parameters
    ----------
    files : sequence of RawFile
        The logger's raw files that bear on the period, in any order.
    station : Station
        Holds the logger.
    logger_id : str
        Its name in the station's configuration.
    start_label, end_label : int
        Labels in ``[start_label, end_label)``, in the logger's own clock. [s]

    Returns
    -------
    readings : xr.Dataset
        Dimension ``reading_<logger>``: ``logger_time``, ``line_status``, ``source_file`` and
        ``source_line`` (each ending in the logger's name) and one variable a channel, in file
        order. Dimension ``quarantine_<logger>``: rejected and conflicting lines. Attributes
        ``source_files``, ``source_sha256``, ``accounting``, ``file_accounting``,
        ``unreadable_files``, ``hour_jumps`` (jumps of the labels as daylight saving makes them),
        ``other_records`` (file → lines of other record types by code, of the whole file).

    Notes
    -----
    Files are put in the order of their first label, then of their digest; their names and dates
    do not matter. Within a file, lines stay in their order. ``source_files`` lists, in the order
    given, those of the files that bear on the period.
    """
    stream = _read_all(files, station.loggers[logger_id], start_label, end_label)
    return _dataset(stream, station.loggers[logger_id], logger_id, start_label, end_label)


def ingest_months(
    files: Sequence[RawFile], station: Station, logger_id: str, months: Sequence[str]
) -> Iterator[tuple[str, xr.Dataset]]:
    """
    Readings of one logger month by month, each file opened once.

    Parameters
    ----------
    files : sequence of RawFile
        The logger's raw files that bear on the months, in any order.
    station : Station
        Holds the logger.
    logger_id : str
        Its name in the station's configuration.
    months : sequence of str
        Such as ``2031-03``; the readings of all of them are held in memory together.

    Yields
    ------
    month : str
        In rising order.
    readings : xr.Dataset
        As `ingest` gives it for that month of the logger's own labels.
    """
    wanted = sorted(set(months))
    if not wanted:
        return
    bounds = {month: month_bounds(month) for month in wanted}
    first, last = bounds[wanted[0]][0], bounds[wanted[-1]][1]
    stream = _read_all(files, station.loggers[logger_id], first, last)
    for month in wanted:
        yield month, _dataset(stream, station.loggers[logger_id], logger_id, *bounds[month])


def month_bounds(month: str) -> tuple[int, int]:
    """
    First label of a month and of the next.

    Parameters
    ----------
    month : str
        Such as ``2031-03``.

    Returns
    -------
    start, end : int
        Seconds since 1970-01-01 in the clock that the month belongs to. [s]
    """
    start = np.datetime64(month, "M")
    return tuple(int(m.astype("M8[s]").astype(np.int64)) for m in (start, start + 1))  # type: ignore[return-value]


def readings_of(
    read: list[FileReadings], logger: Logger, logger_id: str, start_label: int, end_label: int
) -> xr.Dataset:
    """
    Readings of one logger out of files that have been read.

    Parameters
    ----------
    read : list of FileReadings
        What each file holds for the period; the order decides that of ``source_files``. Their
        values are taken from them, so that they are not held twice.
    logger : Logger
        Its channels.
    logger_id : str
        Its name in the station's configuration.
    start_label, end_label : int
        Labels in ``[start_label, end_label)``. [s]

    Returns
    -------
    readings : xr.Dataset
        As `ingest` gives it.
    """
    return _dataset(_assembled(read, logger), logger, logger_id, start_label, end_label)


def _read_all(
    files: Sequence[RawFile], logger: Logger, start_label: int, end_label: int
) -> _Stream:
    unique = {raw.path: raw for raw in files}.values()
    return _assembled([read_file(raw, logger, start_label, end_label) for raw in unique], logger)


def _assembled(read: list[FileReadings], logger: Logger) -> _Stream:
    good = sorted(
        (f for f in read if f.first is not None), key=lambda f: (f.first, f.sha256, f.name)
    )
    given = [next(i for i, f in enumerate(read) if f is mine) for mine in good]
    names = [channel.name for channel in logger.channels]
    return _Stream(
        good,
        given,
        _joined([f.label for f in good], np.int64),
        _joined(_stream_runs(good), np.int64),
        _joined([np.full(len(f.label), i, np.int32) for i, f in enumerate(good)], np.int32),
        _joined([f.line for f in good], np.int32),
        {n: _joined([f.values.pop(n) for f in good], np.float64) for n in names},
        sorted((f for f in read if f.first is None), key=lambda f: f.name),
    )


def _joined(arrays: Sequence[NDArray[Any]], dtype: type) -> NDArray[Any]:
    if len(arrays) == 1:
        return np.asarray(arrays[0], dtype)
    return np.concatenate([np.zeros(0, dtype), *arrays])


def _stream_runs(files: list[FileReadings]) -> list[NDArray[np.int64]]:
    """Number the rising runs through all files; a file that goes on rising joins the last run."""
    runs, offset, last = [], 0, None
    for found in files:
        if last is not None and found.first is not None and found.first < last:
            offset += 1
        runs.append(found.run + offset)
        offset += found.runs - 1
        last = found.last
    return runs


# --- one period as a Dataset ------------------------------------------------------------------


def _dataset(
    stream: _Stream, logger: Logger, logger_id: str, start_label: int, end_label: int
) -> xr.Dataset:
    inside = (stream.label >= start_label) & (stream.label < end_label)
    rows, near = np.flatnonzero(inside), places(inside)
    values = [column[near] for column in stream.values.values()]
    status = line_status(stream.label[near], stream.run[near], values)
    rejected = [
        (i, label, rejection)
        for i, found in enumerate(stream.files)
        for label, rejection in found.rejected
        if start_label <= label < end_label
    ]
    bearing = sorted(
        {*np.unique(stream.file[near]).tolist(), *(i for i, _, _ in rejected)},
        key=lambda i: stream.given[i],
    )
    renumbered = {old: new for new, old in enumerate(bearing)}
    stay = status != REPEATED
    kept = near if stay.all() else rows[stay]
    readings = _readings(stream, kept, status[stay], renumbered, logger, logger_id)
    quarantine = _quarantine_rows(rejected, renumbered)
    quarantine += _conflict_rows(stream, rows[status == CONFLICTING], renumbered, logger)
    ds = readings.assign(as_variables(_quarantine(sorted(quarantine), logger_id)))
    counts = [_account(stream.file[near], status, rejected, old) for old in bearing]
    ds = ds.assign_attrs(_attributes(stream, bearing, counts))
    return ds.assign_attrs(hour_jumps=_hour_jumps(stream, rows, status, logger))


def _hour_jumps(
    stream: _Stream, rows: NDArray[np.intp], status: NDArray[np.int8], logger: Logger
) -> list[dict[str, object]]:
    """Jumps of the labels by an hour, each with file and line of the reading after it."""
    label = stream.label[rows]
    at, size = hour_jumps(label, status, logger.interval, logger.label)
    return [
        {
            "label": int(label[i]),
            "seconds": seconds,
            "file": stream.files[int(stream.file[rows[i]])].name,
            "line": int(stream.line[rows[i]]),
        }
        for i, seconds in zip(at.tolist(), size.tolist(), strict=True)
    ]


def _readings(
    stream: _Stream,
    rows: Places,
    status: NDArray[np.int8],
    renumbered: dict[int, int],
    logger: Logger,
    logger_id: str,
) -> xr.Dataset:
    dim = f"reading_{logger_id}"
    place = np.array([renumbered.get(i, -1) for i in range(len(stream.files))] or [-1], np.int32)
    file = place[stream.file[rows]]
    variables = {
        f"logger_time_{logger_id}": (dim, stream.label[rows], {"units": "s"}),
        f"line_status_{logger_id}": (dim, status, {}),
        f"source_file_{logger_id}": (dim, file, {}),
        f"source_line_{logger_id}": (dim, stream.line[rows], {}),
    }
    for channel in logger.channels:
        column = stream.values[channel.name][rows]
        variables[channel.name] = (dim, column, {"units": channel.unit})
    return xr.Dataset(as_variables(variables))


Quarantined = tuple[int, int, str, str, int]  # file, line, reason, text, label
Rejected = tuple[int, int, Rejection]  # file, label that it is accounted to, the rejection


def _quarantine_rows(rejected: list[Rejected], renumbered: dict[int, int]) -> list[Quarantined]:
    return [
        (renumbered[i], r.line, r.reason, r.text, NO_LABEL if r.label is None else r.label)
        for i, _, r in rejected
    ]


def _conflict_rows(
    stream: _Stream, rows: NDArray[np.intp], renumbered: dict[int, int], logger: Logger
) -> list[Quarantined]:
    """Conflicting readings, written out anew since their lines are no longer at hand."""
    return [
        (
            renumbered[int(stream.file[row])],
            int(stream.line[row]),
            CONFLICT,
            _written(stream, row, logger.channels),
            int(stream.label[row]),
        )
        for row in rows
    ]


def _written(stream: _Stream, row: int, channels: Sequence[Channel]) -> str:
    values = {c.column: float(stream.values[c.name][row]) for c in channels}
    return written_row(int(stream.label[row]), values)


def _quarantine(rows: list[Quarantined], logger_id: str) -> dict[str, tuple[str, NDArray[Any]]]:
    columns = list(zip(*rows, strict=True)) or [()] * 5
    kinds = {"file": np.int32, "line": np.int32, "reason": str, "text": str, "label": np.int64}
    return {
        f"quarantine_{name}_{logger_id}": (f"quarantine_{logger_id}", np.array(column, dtype))
        for (name, dtype), column in zip(kinds.items(), columns, strict=True)
    }


def _account(
    file: NDArray[np.int32], status: NDArray[np.int8], rejected: list[Rejected], which: int
) -> Account:
    mine = file == which
    kinds = np.bincount(status[mine], minlength=3)
    refused = sum(i == which for i, _, _ in rejected)
    return Account(
        int(mine.sum()) + refused,
        int(kinds[KEPT]),
        int(kinds[REPEATED]),
        int(kinds[CONFLICTING]),
        refused,
    )


def _attributes(stream: _Stream, bearing: list[int], counts: list[Account]) -> dict[str, object]:
    files = [stream.files[i] for i in bearing]
    names = ("data_lines", "kept", "repeated", "conflicting", "rejected")
    total = Account(*(sum(getattr(count, name) for count in counts) for name in names))
    return {
        "source_files": [found.name for found in files],
        "source_sha256": [found.sha256 for found in files],
        "accounting": total.as_dict(),
        "file_accounting": [count.as_dict() for count in counts],
        "other_records": {f.name: dict(f.other_records) for f in files if f.other_records},
        "unreadable_files": [
            {"file": f.name, "sha256": f.sha256, "data_lines": f.data_lines, "why": f.fault}
            for f in stream.unreadable
        ],
    }
