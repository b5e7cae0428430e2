"""Sums over the finest periods, from which every longer period follows without the minutes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

Parts = dict[str, npt.NDArray[Any]]
Times = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Cells:
    """
    Sums, lowest and highest values over consecutive periods.

    Parameters
    ----------
    starts, ends : numpy.ndarray of int64, shape (cell,)
        UTC. [s]
    labels : numpy.ndarray of int64, shape (cell,)
        What the clock of the periods shows at each start. [s]
    sums, lows, highs : dict of numpy.ndarray, shape (cell,)
        ``<quantity>.<part>`` → values: what adds up, and what has a least and a greatest.
    intervals : dict of int
        Quantity → interval of the series it comes from. [s]
    """

    starts: Times
    ends: Times
    labels: Times
    sums: Parts = field(default_factory=dict)
    lows: Parts = field(default_factory=dict)
    highs: Parts = field(default_factory=dict)
    intervals: Mapping[str, int] = field(default_factory=dict)

    @property
    def seconds(self) -> Times:
        """
        Length of each cell.

        Returns
        -------
        seconds : numpy.ndarray of int64, shape (cell,)
            [s]
        """
        return self.ends - self.starts

    @cached_property
    def sums_of(self) -> dict[str, Parts]:
        """
        Sums by quantity.

        Returns
        -------
        sums_of : dict of dict of numpy.ndarray, shape (cell,)
            Quantity → part → sums.
        """
        out: dict[str, Parts] = {}
        for name, values in self.sums.items():
            quantity, _, part = name.partition(".")
            out.setdefault(quantity, {})[part] = values
        return out

    def possible(self, quantity: str) -> Times:
        """
        Intervals of a quantity that each cell could hold.

        Parameters
        ----------
        quantity : str
            The quantity.

        Returns
        -------
        possible : numpy.ndarray of int64, shape (cell,)
            Whole ones.
        """
        return self.seconds // self.intervals[quantity]


def _together(pieces: Sequence[Parts], sizes: Sequence[int], empty: float) -> Parts:
    """Arrays of the pieces one after the other; what a piece lacks has no sample there."""
    names = dict.fromkeys(name for piece in pieces for name in piece)
    out: Parts = {}
    for name in names:
        kind = next(piece[name].dtype for piece in pieces if name in piece)
        parts = [
            piece.pop(name) if name in piece else np.full(size, empty, kind)
            for piece, size in zip(pieces, sizes, strict=True)
        ]
        out[name] = np.concatenate(parts)
    return out


def in_order(pieces: Sequence[dict[str, Cells]]) -> dict[str, Cells]:
    """
    Cells of several months, one after the other.

    Parameters
    ----------
    pieces : sequence of dict of Cells
        In order of time. They are emptied.

    Returns
    -------
    cells : dict of Cells
        By the same names.
    """
    names = dict.fromkeys(name for piece in pieces for name in piece)
    return {name: joined([p.pop(name) for p in pieces if name in p]) for name in names}


def joined(pieces: Sequence[Cells]) -> Cells:
    """
    Cells one after the other.

    Parameters
    ----------
    pieces : sequence of Cells
        In order of time; at least one. Their arrays are taken from them, so that a year of them is
        not held twice.

    Returns
    -------
    cells : Cells
        A quantity that a piece lacks has no sample there.
    """
    if len(pieces) == 1:
        return pieces[0]
    sizes = [piece.starts.size for piece in pieces]
    intervals: dict[str, int] = {}
    for piece in pieces:
        intervals = {**piece.intervals, **intervals}
    return Cells(
        np.concatenate([p.starts for p in pieces]),
        np.concatenate([p.ends for p in pieces]),
        np.concatenate([p.labels for p in pieces]),
        _together([p.sums for p in pieces], sizes, 0),
        _together([p.lows for p in pieces], sizes, np.inf),
        _together([p.highs for p in pieces], sizes, -np.inf),
        intervals,
    )


def completed(first: Cells, other: Cells) -> Cells:
    """
    Cells of one grid with the quantities that only another grid has.

    Parameters
    ----------
    first, other : Cells
        Over the same periods.

    Returns
    -------
    cells : Cells
        Of each quantity what the first has, else the other.
    """
    new = set(other.intervals) - set(first.intervals)

    def taken(parts: Parts) -> Parts:
        return {n: v for n, v in parts.items() if n.partition(".")[0] in new}

    return Cells(
        first.starts,
        first.ends,
        first.labels,
        first.sums | taken(other.sums),
        first.lows | taken(other.lows),
        first.highs | taken(other.highs),
        {**first.intervals, **{n: other.intervals[n] for n in new}},
    )


def _reduced(parts: Parts, first: Times, method: Callable[..., Any]) -> Parts:
    return {name: method(values, first) for name, values in parts.items()}


def coarser(cells: Cells, identity: Times) -> Cells:
    """
    Longer periods from shorter ones.

    Parameters
    ----------
    cells : Cells
        Shorter periods, in order; at least one.
    identity : numpy.ndarray of int64, shape (cell,)
        Number of the longer period to which each belongs, rising.

    Returns
    -------
    longer : Cells
        One for each number that occurs, from the start of its first cell to the end of its last.
    """
    first = np.flatnonzero(np.diff(identity, prepend=identity[0] - 1))
    last = np.append(first[1:], identity.size) - 1
    return Cells(
        cells.starts[first],
        cells.ends[last],
        cells.labels[first],
        _reduced(cells.sums, first, np.add.reduceat),
        _reduced(cells.lows, first, np.minimum.reduceat),
        _reduced(cells.highs, first, np.maximum.reduceat),
        cells.intervals,
    )
