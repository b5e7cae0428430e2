"""A block of lines and the verdicts on them, as arrays."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

_MISLED = 1000  # by so many lines: then a telltale is none
NO_LABEL = int(np.iinfo(np.int64).min)


class State(IntEnum):
    """What a line turned out to be."""

    NO_DATA = 0
    GOOD = 1
    BAD = 2
    OTHER = 3


@dataclass(frozen=True)
class Block:
    """
    Consecutive lines of a file.

    Parameters
    ----------
    data : bytes
        The lines, each closed by one LF.
    starts, ends : ndarray of int64, shape (line,)
        Position of the first byte and of the line end of every line.
    """

    data: bytes
    starts: NDArray[np.int64]
    ends: NDArray[np.int64]

    @classmethod
    def of(cls, data: bytes) -> Block:
        """
        Find the lines of some bytes.

        Parameters
        ----------
        data : bytes
            Lines closed by LF, CR LF or CR in any mixture; the last may be unclosed.

        Returns
        -------
        block : Block
            The same lines, closed by LF.
        """
        if b"\r" in data:
            data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        if data and not data.endswith(b"\n"):
            data += b"\n"
        ends = np.flatnonzero(np.frombuffer(data, np.uint8) == 10)
        starts = np.zeros_like(ends)
        starts[1:] = ends[:-1] + 1
        return cls(data, starts, ends)

    def line(self, row: int) -> bytes:
        """
        One line without its end.

        Parameters
        ----------
        row : int
            Which, from 0.

        Returns
        -------
        line : bytes
            Its bytes.
        """
        return self.data[int(self.starts[row]) : int(self.ends[row])]

    def rows_with(self, mark: bytes, telltale: bytes = b"") -> list[int]:
        """
        Lines that hold a sequence of bytes.

        Parameters
        ----------
        mark : bytes
            What to look for.
        telltale : bytes
            One byte of it. Where few lines hold that, they are found ten times as fast.

        Returns
        -------
        rows : list of int
            Rising, each once.
        """
        rows: list[int] = []
        sought, misled = telltale or mark, 0
        at = self.data.find(sought)
        while at >= 0:
            row = int(np.searchsorted(self.ends, at))
            if sought == mark or mark in self.line(row):
                rows.append(row)
            else:
                misled += 1
                sought = sought if misled < _MISLED else mark
            at = self.data.find(sought, int(self.ends[row]) + 1)
        return rows

    def rows_starting(self, mark: bytes) -> NDArray[np.bool_]:
        """
        Which lines start with a sequence of bytes.

        Parameters
        ----------
        mark : bytes
            What to look for.

        Returns
        -------
        starting : ndarray of bool, shape (line,)
            One truth value a line.
        """
        buffer = np.frombuffer(self.data + b"\n" * len(mark), np.uint8)
        starting = np.ones(len(self.starts), bool)
        for place, byte in enumerate(mark):
            starting &= buffer[self.starts + place] == byte
        return starting


@dataclass
class Judged:
    """
    Verdicts on the lines of a block.

    Parameters
    ----------
    state : ndarray of int8, shape (line,)
        One of `State`.
    labels : ndarray of int64, shape (line,)
        Labels; `NO_LABEL` where none could be read. [s]
    values : list of ndarray of float64, shape (line,)
        Values of every channel.
    reasons : dict of str
        Row → why a line is bad, or the code of its record type.
    """

    state: NDArray[np.int8]
    labels: NDArray[np.int64]
    values: list[NDArray[np.float64]]
    reasons: dict[int, str] = field(default_factory=dict)

    @classmethod
    def empty(cls, lines: int, channels: int) -> Judged:
        """
        No verdict yet.

        Parameters
        ----------
        lines, channels : int
            Sizes.

        Returns
        -------
        judged : Judged
            All lines without data.
        """
        return cls(
            np.zeros(lines, np.int8),
            np.full(lines, NO_LABEL, np.int64),
            # Never read before they are written, so left unset.
            [np.empty(lines) for _ in range(channels)],
        )

    def own_values(self) -> None:
        """Make sure that the values can be written to."""
        self.values = [c if c.flags.writeable else c.copy() for c in self.values]

    def improve(self, other: Judged, where: NDArray[np.bool_]) -> None:
        """
        Take over the verdicts of another layout where they say more.

        Parameters
        ----------
        other : Judged
            Verdicts on the same lines.
        where : ndarray of bool, shape (line,)
            The lines that ``other`` has judged.
        """
        self.own_values()
        more = where & (other.state != State.BAD)
        more &= ~((other.state == State.NO_DATA) & (self.state == State.OTHER))
        told = where & (other.state == State.BAD) & (self.labels == NO_LABEL)
        more |= told & (self.state == State.BAD) & (other.labels != NO_LABEL)
        self.state[more], self.labels[more] = other.state[more], other.labels[more]
        for mine, theirs in zip(self.values, other.values, strict=True):
            mine[more] = theirs[more]
        for row in np.flatnonzero(more).tolist():
            if row in other.reasons:
                self.reasons[row] = other.reasons[row]
