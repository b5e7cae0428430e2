"""Files that hold many months: read once, each month given away as soon as it is complete."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from sunledger.config.models.station import Logger, Station
from sunledger.errors import RawFileError
from sunledger.stages.ingest import month_bounds, readings_of
from sunledger.stages.rawfiles import FileReadings, Part, chosen_rows, file_parts, months_of_labels
from sunledger.stages.streams import RawFile
from sunledger.stages.tables import Rejection, Table, join_tables

Expected = Mapping[str, Mapping[str, int]]


@dataclass
class _Held:
    """What one file holds of one month so far."""

    tables: list[Table] = field(default_factory=list)
    runs: list[NDArray[np.int64]] = field(default_factory=list)
    rejected: list[tuple[int, Rejection]] = field(default_factory=list)
    lines: int = 0


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
            held = self.held[month].setdefault(name, _Held())
            # A part of it is a copy, so that the whole piece is not kept in memory.
            held.tables.append(chosen_rows(part.table, asked))
            held.runs.append(part.run[asked])
            held.rejected += mine
            taken[month] = int(asked.sum()) + len(mine)
        return taken

    def give(self, month: str, reading: Mapping[str, str]) -> xr.Dataset:
        """Readings of a complete month, which is then forgotten."""
        held = self.held.pop(month)
        names = [name for name in self.expected[month] if name in held]
        read = [self._file(name, held[name], reading) for name in names]
        return readings_of(read, self.logger, self.logger_id, *self.bounds[month])

    def _file(self, name: str, held: _Held, reading: Mapping[str, str]) -> FileReadings:
        """One file as if it had been read for this month alone."""
        found = self.found[name]
        table = join_tables(held.tables)
        return replace(
            found,
            sha256=reading.get(name, found.sha256),
            label=table.label_time,
            line=table.line,
            run=np.concatenate(held.runs),
            values=table.values,
            rejected=held.rejected,
        )
