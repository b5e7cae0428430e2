"""One raw file read from end to end, keeping only the readings of the months asked for."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sunledger.config.models.station import Logger
from sunledger.errors import RawFileError
from sunledger.stages.accounting import rising_runs
from sunledger.stages.streams import RawFile, read_pieces
from sunledger.stages.tables import Rejection, Table, TableReader

# A rejected line keeps its own label only this near to its neighbour's; else it is garbled.
NEAR = 86400


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
    fault: str = ""


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

    Notes
    -----
    A rejected line is accounted to its own label where that can be read and lies within a day of
    the good line before it; else to the label of the good line before it; before the first good
    line, to the label of that one. The accounts of all months so add up to the file.
    """
    found = FileReadings(raw.name)
    reader = TableReader(logger.layouts, logger, raw.name)
    parts: list[Table] = []
    runs: list[NDArray[np.int64]] = []
    waiting: list[Rejection] = []
    try:
        for piece in read_pieces(raw):
            part = reader.read(piece)
            waiting += part.rejected
            run, waiting = _take_part(found, part, waiting)
            asked = (part.label_time >= start_label) & (part.label_time < end_label)
            parts.append(_chosen(part, asked))
            runs.append(run[asked])
        found.fault = reader.fault
    except RawFileError as error:
        found.fault = error.why
        waiting = []
    found.sha256 = raw.sha256
    if found.first is None:
        found.rejected = []
        found.fault = found.fault or (_no_good_line(waiting) if waiting else "")
    _fill(found, parts, runs, start_label, end_label)
    return found


def _no_good_line(waiting: list[Rejection]) -> str:
    first = waiting[0]
    return f"no line can be read; line {first.line}: {first.reason}"


def _take_part(
    found: FileReadings, part: Table, waiting: list[Rejection]
) -> tuple[NDArray[np.int64], list[Rejection]]:
    """Carry the file's labels, runs and rejections on by one part."""
    labels = part.label_time
    found.data_lines += part.data_lines
    run = rising_runs(labels, found.last) + (found.runs - 1)
    before = found.last
    if len(labels):
        found.first = int(labels[0]) if found.first is None else found.first
        found.last, found.runs = int(labels[-1]), int(run[-1]) + 1
        _widen(found, int(labels.min()), int(labels.max()))
        _count_days(found, labels // 86400)
    if found.first is None:
        return run, waiting
    placed = _place(waiting, part, found.first if before is None else before)
    _count_days(found, np.array([label // 86400 for label, _ in placed], np.int64))
    found.rejected += placed
    return run, []


def _widen(found: FileReadings, least: int, greatest: int) -> None:
    found.least = least if found.least is None else min(found.least, least)
    found.greatest = greatest if found.greatest is None else max(found.greatest, greatest)


def _place(rejected: list[Rejection], part: Table, before: int) -> list[tuple[int, Rejection]]:
    """Give every rejected line the label that it is accounted to."""
    lines = np.array([r.line for r in rejected], np.int64)
    at = np.searchsorted(part.line, lines)
    neighbours = np.concatenate([[before], part.label_time])[at].tolist()
    return [
        (r.label if r.label is not None and abs(r.label - near) < NEAR else near, r)
        for near, r in zip(neighbours, rejected, strict=True)
    ]


def _count_days(found: FileReadings, days: NDArray[np.int64]) -> None:
    for day, count in zip(*(a.tolist() for a in np.unique(days, return_counts=True)), strict=True):
        found.label_counts[day] = found.label_counts.get(day, 0) + count


def _chosen(part: Table, asked: NDArray[np.bool_]) -> Table:
    if asked.all():
        return part
    values = {name: column[asked] for name, column in part.values.items()}
    return Table(part.path, part.label_time[asked], part.line[asked], values)


def _fill(
    found: FileReadings,
    parts: list[Table],
    runs: list[NDArray[np.int64]],
    start_label: int,
    end_label: int,
) -> None:
    """Join the parts, and drop the rejected lines that were not asked for."""
    found.rejected = [p for p in found.rejected if start_label <= p[0] < end_label]
    if parts and found.first is not None:
        found.label = np.concatenate([p.label_time for p in parts])
        found.line = np.concatenate([p.line for p in parts])
        found.run = np.concatenate(runs)
        found.values = {
            name: np.concatenate([p.values[name] for p in parts]) for name in parts[0].values
        }
