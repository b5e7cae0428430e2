"""A logger's text table as arrays: fast where all is well, by the rule where it is not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sunledger.config.models.station import Layout, Logger
from sunledger.errors import RawFileError
from sunledger.stages.blocks import NO_LABEL, Block, Judged, State
from sunledger.stages.layouts import LayoutReader
from sunledger.stages.places import places
from sunledger.stages.streams import CUT, PIECE_BYTES, RawText

TEXT_LENGTH = 200


@dataclass(frozen=True)
class Rejection:
    """
    A data line that could not be read.

    Parameters
    ----------
    line : int
        Line number, counted from 1.
    reason : str
        What is wrong with it.
    text : str
        The beginning of the line.
    label : int or None
        Its label, where that much could be read. [s]
    """

    line: int
    reason: str
    text: str
    label: int | None = None


@dataclass
class Table:
    """
    Readings of one table, in file order.

    Parameters
    ----------
    path : str
        The file.
    label_time : ndarray of int64, shape (row,)
        Label in the logger's own clock and zone, nothing applied. [s]
    line : ndarray of int32, shape (row,)
        Line number, counted from 1.
    values : dict of ndarray of float64, shape (row,)
        Channel → values in the unit logged; NaN missing, +inf over-range.
    rejected : list of Rejection
        Data lines that could not be read.
    data_lines : int
        Lines that are no header, comment, blank line or other record type.
    columns : tuple of str
        Names of the columns, of the last header.
    other_records : dict of int
        Lines of other record types by their code.
    fault : str
        Why no line at all could be read, or empty.
    """

    path: str
    label_time: NDArray[np.int64]
    line: NDArray[np.int32]
    values: dict[str, NDArray[np.float64]]
    rejected: list[Rejection] = field(default_factory=list)
    data_lines: int = 0
    columns: tuple[str, ...] = ()
    other_records: dict[str, int] = field(default_factory=dict)
    fault: str = ""


def read_table(
    data: bytes | RawText, layouts: Sequence[Layout], logger: Logger, path: str | Path
) -> Table:
    """
    Read a whole table.

    Parameters
    ----------
    data : bytes or RawText
        Contents of the file, decompressed.
    layouts : sequence of Layout
        In rising order of their ``from``; the label of a line says which one applies.
    logger : Logger
        Its channels and zone.
    path : str or Path
        Name for messages.

    Returns
    -------
    table : Table
        Every data line is in it, read or rejected.

    Raises
    ------
    RawFileError
        If no line can be read because a column that the configuration names is not there.
    """
    reader = TableReader(layouts, logger, path)
    text = data if isinstance(data, RawText) else RawText(data)
    table = join_tables([reader.read(piece) for piece in _pieces(text)])
    table.fault = reader.fault
    if table.fault:
        raise RawFileError(path, 0, table.fault)
    return table


def _pieces(text: RawText) -> Iterator[RawText]:
    start, data = 0, text.data
    while len(data) - start > PIECE_BYTES:
        stop = data.rfind(b"\n", start, start + PIECE_BYTES) + 1
        stop = stop or data.find(b"\n", start + PIECE_BYTES) + 1
        if not stop:
            break
        yield RawText(data[start:stop])
        start = stop
    yield RawText(data[start:], text.cut)


def join_tables(parts: Sequence[Table]) -> Table:
    """
    Join consecutive parts of one table.

    Parameters
    ----------
    parts : sequence of Table
        At least one, in file order. Their values are taken from them, so that they are not held
        twice.

    Returns
    -------
    table : Table
        All rows and rejections.
    """
    if len(parts) == 1:
        return parts[0]
    others: Counter[str] = Counter()
    names = tuple(parts[0].values)
    for part in parts:
        others.update(part.other_records)
    return Table(
        parts[0].path,
        np.concatenate([part.label_time for part in parts]),
        np.concatenate([part.line for part in parts]),
        {n: np.concatenate([part.values.pop(n) for part in parts]) for n in names},
        [rejection for part in parts for rejection in part.rejected],
        sum(part.data_lines for part in parts),
        parts[-1].columns,
        dict(others),
        parts[-1].fault,
    )


class TableReader:
    """
    Reads a table piece by piece, so that a file of any size fits in memory.

    Parameters
    ----------
    layouts : sequence of Layout
        In rising order of their ``from``.
    logger : Logger
        Its channels and zone.
    path : str or Path
        Name for messages.
    """

    def __init__(self, layouts: Sequence[Layout], logger: Logger, path: str | Path) -> None:
        self.path = str(path)
        self.channels = tuple(channel.name for channel in logger.channels)
        uppers = [*(layout.valid_from for layout in layouts[1:]), None]
        self.readers = [
            LayoutReader(layout, logger, upper)
            for layout, upper in zip(layouts, uppers, strict=True)
        ]
        self.lines_before = 0
        self.any_bytes = False

    @property
    def fault(self) -> str:
        """
        Why not a single line could be read, as far as that is the whole file's fault.

        Returns
        -------
        fault : str
            Empty when all is well, or when lines were judged one by one.
        """
        if not self.any_bytes:
            return "the file is empty"
        if any(reader.mapped for reader in self.readers):
            return ""
        return next((r.fault for r in self.readers if r.names), self.readers[0].fault)

    def read(self, piece: RawText) -> Table:
        """
        Read the next piece.

        Parameters
        ----------
        piece : RawText
            Ends at a line end, unless it is the last.

        Returns
        -------
        table : Table
            The piece's rows and rejections, with line numbers of the whole file.
        """
        block = Block.of(piece.data)
        self.any_bytes = self.any_bytes or _any_bytes(piece.data)
        judged = self._judge(block)
        if piece.cut:
            _reject_last(judged, complete=piece.data.endswith((b"\n", b"\r")) or not piece.data)
        table = self._table(block, judged)
        if piece.cut and len(judged.state) == len(block.ends) and not _ends_bad(judged):
            line = self.lines_before + len(block.ends) + 1
            table.rejected.append(Rejection(line, CUT, ""))
            table.data_lines += 1
        self.lines_before += len(block.ends)
        return table

    def _judge(self, block: Block) -> Judged:
        """Verdicts on all lines, each by the layout whose period holds its label."""
        if len(self.readers) == 1:
            return self.readers[0].read(block, None)
        readers = sorted(self.readers, key=lambda r: -r.promise(block))
        judged = readers[0].read(block, None)
        for reader in readers[1:]:
            open_rows = (judged.state == State.BAD) | (judged.state == State.OTHER)
            judged.improve(reader.read(block, open_rows), open_rows)
        return judged

    def _table(self, block: Block, judged: Judged) -> Table:
        good = np.flatnonzero(judged.state == State.GOOD)
        bad = np.flatnonzero(judged.state == State.BAD).tolist()
        rows = places(judged.state == State.GOOD)
        values = {
            name: column[rows] for name, column in zip(self.channels, judged.values, strict=True)
        }
        rejected = [self._rejection(block, judged, row) for row in bad]
        others = Counter(
            judged.reasons[r] for r in np.flatnonzero(judged.state == State.OTHER).tolist()
        )
        line = (good + self.lines_before + 1).astype(np.int32)
        count = len(good) + len(bad)
        names = next((r.names for r in self.readers if r.mapped), ())
        return Table(
            self.path,
            judged.labels[rows],
            line,
            values,
            rejected,
            count,
            names,
            dict(others),
        )

    def _rejection(self, block: Block, judged: Judged, row: int) -> Rejection:
        encoding = self.readers[0].layout.encoding
        text = block.line(row)[: 4 * TEXT_LENGTH].decode(encoding, errors="replace")
        label = int(judged.labels[row])
        number = self.lines_before + row + 1
        return Rejection(
            number, judged.reasons[row], text[:TEXT_LENGTH], None if label == NO_LABEL else label
        )


def written_row(label: int, values: Mapping[str, float]) -> str:
    """
    A reading written out anew, where its line is no longer at hand.

    Parameters
    ----------
    label : int
        Its label. [s]
    values : dict of float
        Column → value.

    Returns
    -------
    text : str
        Such as ``2031-03-08T00:01:00 a=1.0 b=3.0``, not longer than other quoted lines.
    """
    words = (f"{column}={value!r}" for column, value in values.items())
    return f"{np.datetime64(label, 's')} {' '.join(words)}"[:TEXT_LENGTH]


def _any_bytes(data: bytes) -> bool:
    """Whether there is anything but blanks; most often the first line tells, without a copy."""
    blank = b" \t\r\n\0"
    return bool(data[:TEXT_LENGTH].strip(blank) or data.strip(blank))


def _reject_last(judged: Judged, complete: bool) -> None:
    """The line that the cut went through is not to be trusted, even where it can be read."""
    if not complete and len(judged.state):
        row = len(judged.state) - 1
        judged.state[row], judged.reasons[row] = State.BAD, CUT


def _ends_bad(judged: Judged) -> bool:
    """Whether the last line already stands for the cut."""
    return bool(len(judged.state)) and judged.reasons.get(len(judged.state) - 1) == CUT
