"""One raw file read from end to end, keeping only the readings of the months asked for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sunledger.config.models.station import Logger
from sunledger.errors import RawFileError
from sunledger.stages.accounting import rising_runs
from sunledger.stages.strays import STEADY, ends_in_doubt, without_strays
from sunledger.stages.streams import RawFile, read_pieces
from sunledger.stages.tables import Rejection, Table, TableReader, join_tables

# A rejected line keeps its own label only this near to its neighbour's; else it is garbled.
NEAR = 86400
_LONGEST_WAIT = 100


@dataclass
class FileReadings:
    """
    What one raw file holds for the months asked for.

    Parameters
    ----------
    name : str
        Path below the raw folder.
    sha256 : str
        Digest of the file.
    data_lines : int
        Data lines of the whole file.
    first, last : int or None
        Label of the first and of the last good line of the whole file. [s]
    least, greatest : int or None
        Earliest and latest label of a good line of the whole file. [s]
    runs : int
        Rising runs in the whole file.
    label, line, run : ndarray, shape (row,)
        Label, line number and rising run of the readings asked for.
    values : dict of ndarray of float64, shape (row,)
        Channel → values.
    rejected : list of (int, Rejection)
        Rejected lines, each with the label it is accounted to.
    label_counts : dict of int
        Day (days since 1970-01-01) → data lines accounted to it, of the whole file.
    spans : dict of (int, int)
        Month of labels → its earliest and latest label of a good line, of the whole file. [s]
    other_records : dict of int
        Lines of other record types by their code, of the whole file.
    fault : str
        Why the file could not be read, or empty.
    """

    name: str
    sha256: str = ""
    data_lines: int = 0
    first: int | None = None
    last: int | None = None
    least: int | None = None
    greatest: int | None = None
    runs: int = 1
    label: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))
    line: NDArray[np.int32] = field(default_factory=lambda: np.zeros(0, np.int32))
    run: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))
    values: dict[str, NDArray[np.float64]] = field(default_factory=dict)
    rejected: list[tuple[int, Rejection]] = field(default_factory=list)
    label_counts: dict[int, int] = field(default_factory=dict)
    spans: dict[str, tuple[int, int]] = field(default_factory=dict)
    other_records: Counter[str] = field(default_factory=Counter)
    fault: str = ""


@dataclass(frozen=True)
class Part:
    """
    Consecutive lines of a raw file.

    Parameters
    ----------
    table : Table
        The good lines.
    run : ndarray of int64, shape (row,)
        Rising run of each, counted from the file's beginning.
    rejected : list of (int, Rejection)
        Rejected lines, each with the label it is accounted to.
    """

    table: Table
    run: NDArray[np.int64]
    rejected: list[tuple[int, Rejection]]


def read_file(raw: RawFile, logger: Logger, start_label: int, end_label: int) -> FileReadings:
    """
    Read one raw file.

    Parameters
    ----------
    raw : RawFile
        The file.
    logger : Logger
        Layouts and channels.
    start_label, end_label : int
        Readings with labels in ``[start_label, end_label)`` are kept. [s]

    Returns
    -------
    readings : FileReadings
        A file that cannot be read at all comes back with its ``fault`` and no readings.
    """
    found = FileReadings(raw.name)
    parts: list[Table] = []
    runs: list[NDArray[np.int64]] = []
    for part in file_parts(raw, logger, found):
        label = part.table.label_time
        asked = (label >= start_label) & (label < end_label)
        parts.append(chosen_rows(part.table, asked))
        runs.append(part.run[asked])
        found.rejected += [p for p in part.rejected if start_label <= p[0] < end_label]
    _fill(found, parts, runs)
    return found


def file_parts(raw: RawFile, logger: Logger, found: FileReadings) -> Iterator[Part]:
    """
    Read one raw file part by part, so that a file of any size fits in memory.

    Parameters
    ----------
    raw : RawFile
        The file.
    logger : Logger
        Layouts and channels.
    found : FileReadings
        What is said of the file as a whole; grows with every part, complete after the last.

    Yields
    ------
    part : Part
        In file order.

    Notes
    -----
    A rejected line is accounted to its own label where that can be read and lies within a day of
    the good line before it; else to the label of the good line before it; before the first good
    line, to the label of that one. The accounts of all months so add up to the file.
    """
    waiting: list[Rejection] = []
    try:
        for table in _settled_tables(raw, logger, found):
            waiting += table.rejected
            part, waiting = _take_part(found, table, waiting)
            yield part
    except RawFileError as error:
        found.fault = error.why
        waiting = []
    found.sha256 = raw.sha256
    if found.first is None:
        found.fault = found.fault or (_no_good_line(waiting) if waiting else "")


def _settled_tables(raw: RawFile, logger: Logger, found: FileReadings) -> Iterator[Table]:
    """Parts of the table without stray labels; one that ends in doubt waits for the next."""
    reader = TableReader(logger.layouts, logger, raw.name)
    columns = {channel.name: channel.column for channel in logger.channels}
    held: Table | None = None
    before = np.zeros(0, np.int64)
    for piece in read_pieces(raw):
        table = reader.read(piece)
        waited, held = held, None
        if waited is not None:
            table = join_tables([waited, table])
        # Not for ever: files of two years interleaved line by line are in doubt everywhere.
        waits = waited is None or len(waited.label_time) < _LONGEST_WAIT
        if waits and ends_in_doubt(np.concatenate([before, table.label_time])):
            held = table
            continue
        table = without_strays(table, before, columns)
        before = np.concatenate([before, table.label_time[-STEADY:]])[-STEADY:]
        yield table
    if held is not None:
        yield without_strays(held, before, columns)
    found.fault = reader.fault


def _no_good_line(waiting: list[Rejection]) -> str:
    first = waiting[0]
    return f"no line can be read; line {first.line}: {first.reason}"


def _take_part(
    found: FileReadings, table: Table, waiting: list[Rejection]
) -> tuple[Part, list[Rejection]]:
    """Carry the file's labels, runs and rejections on by one part."""
    labels = table.label_time
    found.data_lines += table.data_lines
    found.other_records.update(table.other_records)
    run = rising_runs(labels, found.last) + (found.runs - 1)
    before = found.last
    if len(labels):
        found.first = int(labels[0]) if found.first is None else found.first
        found.last, found.runs = int(labels[-1]), int(run[-1]) + 1
        _widen(found, labels)
        _count_days(found, labels // 86400)
    if found.first is None:
        return Part(table, run, []), waiting
    placed = _place(waiting, table, found.first if before is None else before)
    _count_days(found, np.array([label // 86400 for label, _ in placed], np.int64))
    return Part(table, run, placed), []


def _widen(found: FileReadings, labels: NDArray[np.int64]) -> None:
    least, greatest = int(labels.min()), int(labels.max())
    found.least = least if found.least is None else min(found.least, least)
    found.greatest = greatest if found.greatest is None else max(found.greatest, greatest)
    if least // 86400 == greatest // 86400:
        _widen_month(found, str(np.datetime64(least, "s").astype("M8[M]")), least, greatest)
        return
    begins = _runs_of_days(labels)
    runs = (np.minimum.reduceat(labels, begins), np.maximum.reduceat(labels, begins))
    months = _months(labels[begins])
    for month, low, high in zip(months, *(run.tolist() for run in runs), strict=True):
        _widen_month(found, month, low, high)


def _runs_of_days(labels: NDArray[np.int64]) -> NDArray[np.intp]:
    """Rows with which another day begins; days are few, where labels are many."""
    days = labels // 86400
    return np.flatnonzero(np.concatenate([[len(days) > 0], days[1:] != days[:-1]]))


def _months(labels: NDArray[np.int64]) -> list[str]:
    months: list[str] = (labels // 86400).astype("M8[D]").astype("M8[M]").astype(str).tolist()
    return months


def months_of_labels(labels: NDArray[np.int64]) -> set[str]:
    """
    Calendar months that labels lie in.

    Parameters
    ----------
    labels : numpy.ndarray of int64, shape (row,)
        [s]

    Returns
    -------
    months : set of str
        Such as ``2031-03``.
    """
    return set(_months(labels[_runs_of_days(labels)]))


def _widen_month(found: FileReadings, month: str, least: int, greatest: int) -> None:
    first, last = found.spans.get(month, (least, greatest))
    found.spans[month] = (min(first, least), max(last, greatest))


def _place(rejected: list[Rejection], table: Table, before: int) -> list[tuple[int, Rejection]]:
    """Give every rejected line the label that it is accounted to."""
    lines = np.array([r.line for r in rejected], np.int64)
    at = np.searchsorted(table.line, lines)
    neighbours = np.concatenate([[before], table.label_time])[at].tolist()
    return [
        (r.label if r.label is not None and abs(r.label - near) < NEAR else near, r)
        for near, r in zip(neighbours, rejected, strict=True)
    ]


def _count_days(found: FileReadings, days: NDArray[np.int64]) -> None:
    for day, count in zip(*(a.tolist() for a in np.unique(days, return_counts=True)), strict=True):
        found.label_counts[day] = found.label_counts.get(day, 0) + count


def chosen_rows(table: Table, asked: NDArray[np.bool_]) -> Table:
    """
    Some of the rows of a table, without its rejected lines.

    Parameters
    ----------
    table : Table
        The table.
    asked : ndarray of bool, shape (row,)
        Which rows.

    Returns
    -------
    chosen : Table
        Those rows, in order.
    """
    if asked.all():
        return table
    values = {name: column[asked] for name, column in table.values.items()}
    return Table(table.path, table.label_time[asked], table.line[asked], values)


def _fill(found: FileReadings, parts: list[Table], runs: list[NDArray[np.int64]]) -> None:
    """Join the parts."""
    if parts and found.first is not None:
        table = join_tables(parts)
        found.label, found.line, found.values = table.label_time, table.line, table.values
        found.run = np.concatenate(runs)
