"""Files that hold many months: read once, each month given away as soon as it is complete."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from sunledger.config.models.station import Logger, Station
from sunledger.errors import RawFileError
from sunledger.stages.ingest import month_bounds, readings_of
from sunledger.stages.rawfiles import FileReadings, Part, chosen_rows, file_parts, months_of_labels
from sunledger.stages.streams import RawFile
from sunledger.stages.tables import Rejection, Table

Expected = Mapping[str, Mapping[str, int]]


class _Held:
    """
    What one file holds of one month so far, in arrays as long as all that is expected of it.

    Pieces that wait to be joined would be held twice while they are: the parser's memory of a
    month of seconds is not given back before the joined arrays have taken as much again.
    """

    def __init__(self, expected: int) -> None:
        self.expected, self.rows = expected, 0
        self.label, self.run = np.zeros(0, np.int64), np.zeros(0, np.int64)
        self.line = np.zeros(0, np.int32)
        self.values: dict[str, NDArray[np.float64]] = {}
        self.rejected: list[tuple[int, Rejection]] = []

    def add(self, table: Table, run: NDArray[np.int64]) -> None:
        """Take some rows; of a file that is one piece they are taken as they are."""
        begin, self.rows = self.rows, self.rows + len(run)
        if begin == 0 and self.rows + len(self.rejected) >= self.expected:
            self.label, self.line, self.run = table.label_time, table.line, run
            self.values = dict(table.values)
            return
        # the first of several, which may have rejected lines alone, or a file that has grown since
        if not self.values or self.rows > len(self.label):
            self._reach(max(self.rows, self.expected), table, run)
        for mine, new in self._pairs(table, run):
            mine[begin : self.rows] = new

    def _pairs(self, table: Table, run: NDArray[np.int64]) -> list[tuple[Any, Any]]:
        columns = [(self.values[name], new) for name, new in table.values.items()]
        return [(self.label, table.label_time), (self.line, table.line), (self.run, run), *columns]

    def _reach(self, size: int, table: Table, run: NDArray[np.int64]) -> None:
        def longer(array: NDArray[Any], like: NDArray[Any]) -> NDArray[Any]:
            out = np.empty(size, like.dtype)
            out[: len(array)] = array
            return out

        self.label, self.line = longer(self.label, table.label_time), longer(self.line, table.line)
        self.run = longer(self.run, run)
        none = np.zeros(0)
        self.values = {n: longer(self.values.get(n, none), v) for n, v in table.values.items()}

    def of_file(self, found: FileReadings, sha256: str) -> FileReadings:
        """The file as if it had been read for this month alone."""
        rows = slice(0, self.rows)
        return replace(
            found,
            sha256=sha256,
            label=self.label[rows],
            line=self.line[rows],
            run=self.run[rows],
            values={name: column[rows] for name, column in self.values.items()},
            rejected=self.rejected,
        )


def ingest_growing(
    files: Sequence[RawFile], station: Station, logger_id: str, expected: Expected
) -> Iterator[tuple[str, xr.Dataset]]:
    """
    Readings of one logger month by month, each file opened once, little held in memory.

    Parameters
    ----------
    files : sequence of RawFile
        In the order of their first good line, then of their digest and name, each with the
        digest it is known by.
    station : Station
        Holds the logger.
    logger_id : str
        Its name in the station's configuration.
    expected : dict of dict of int
        Month → file, in the order for ``source_files`` → data lines accounted to the month. A
        month is complete when all of them have been read.

    Yields
    ------
    month : str
        In the order in which they are complete.
    readings : xr.Dataset
        As `ingest` gives it for that month of the logger's own labels.

    Raises
    ------
    RawFileError
        If a file has changed since its lines were counted; what was given before is sound.

    Notes
    -----
    Labels that run backwards far, or a file that repeats another, keep months open and therefore
    in memory: at most everything that lies between the first and the last line of a month.
    """
    left = {month: dict(counts) for month, counts in expected.items()}
    store = _Store(station.loggers[logger_id], logger_id, expected)
    for raw in files:
        known, found = raw.sha256, FileReadings(raw.name, raw.sha256)
        store.found[raw.name] = found
        for part in file_parts(raw, store.logger, found):
            for month, lines in store.take(raw.name, part).items():
                left[month][raw.name] = left[month].get(raw.name, 0) - lines
            done = [m for m, counts in left.items() if not any(n > 0 for n in counts.values())]
            for month in sorted(done):
                del left[month]
                yield month, store.give(month, {raw.name: known})
        if found.fault or found.sha256 != known:
            raise RawFileError(raw.path, 0, found.fault or "has changed since it was indexed")
    for month in sorted(left):
        raise RawFileError(files[-1].path, 0, f"fewer lines of {month} than were indexed")


class _Store:
    """Readings of the months that are not complete yet."""

    def __init__(self, logger: Logger, logger_id: str, expected: Expected) -> None:
        self.logger, self.logger_id, self.expected = logger, logger_id, expected
        self.bounds = {month: month_bounds(month) for month in expected}
        self.held: dict[str, dict[str, _Held]] = {month: {} for month in expected}
        self.found: dict[str, FileReadings] = {}

    def take(self, name: str, part: Part) -> dict[str, int]:
        """Put a part's lines into their months; return how many went into each."""
        taken: dict[str, int] = {}
        touched = months_of_labels(part.table.label_time)
        touched |= {str(np.datetime64(label, "s").astype("M8[M]")) for label, _ in part.rejected}
        for month in touched & self.held.keys():
            start, end = self.bounds[month]
            label = part.table.label_time
            asked = (label >= start) & (label < end)
            mine = [p for p in part.rejected if start <= p[0] < end]
            held = self.held[month].setdefault(name, _Held(self.expected[month].get(name, 0)))
            held.rejected += mine
            held.add(chosen_rows(part.table, asked), part.run[asked])
            taken[month] = int(asked.sum()) + len(mine)
        return taken

    def give(self, month: str, reading: Mapping[str, str]) -> xr.Dataset:
        """Readings of a complete month, which is then forgotten."""
        held = self.held.pop(month)
        names = [name for name in self.expected[month] if name in held]
        read = [held[n].of_file(self.found[n], reading.get(n, self.found[n].sha256)) for n in names]
        return readings_of(read, self.logger, self.logger_id, *self.bounds[month])
