"""Sums, counts and extremes over consecutive segments of a regular series."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.floating]
Sums = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]

_BYTE = 256
_INTEGER: dict[int, np.dtype[Any]] = {4: np.dtype(np.int32), 8: np.dtype(np.int64)}


@dataclass(frozen=True)
class Segments:
    """
    Consecutive stretches of a series.

    Parameters
    ----------
    edges : numpy.ndarray of int64, shape (segment + 1,)
        First sample of each segment, and the one past the last; strictly rising, from 0.

    Notes
    -----
    A sum rests on the samples of its segment alone, in their order, so that it is the same bits
    wherever the series was cut.
    """

    edges: Counts

    def __post_init__(self) -> None:
        if self.edges.size < 2 or self.edges[0] != 0 or np.any(np.diff(self.edges) <= 0):
            raise ValueError(f"edges must rise strictly from 0 (got {self.edges!r})")

    @cached_property
    def widths(self) -> Counts:
        """
        Samples of each segment.

        Returns
        -------
        widths : numpy.ndarray of int64, shape (segment,)
            At least 1.
        """
        return np.diff(self.edges)

    @cached_property
    def _widest(self) -> int:
        return int(self.widths.max())

    def sums(self, values: npt.NDArray[Any]) -> npt.NDArray[Any]:
        """
        Sum of each segment, in the type of the values.

        Parameters
        ----------
        values : numpy.ndarray, shape (sample,)
            Numbers.

        Returns
        -------
        sums : numpy.ndarray, shape (segment,)
            Of the same type.
        """
        return np.asarray(np.add.reduceat(values[: self.edges[-1]], self.edges[:-1]))

    def counts(self, mask: Mask) -> Counts:
        """
        True samples of each segment.

        Parameters
        ----------
        mask : numpy.ndarray of bool, shape (sample,)
            Condition.

        Returns
        -------
        counts : numpy.ndarray of int64, shape (segment,)
            0 to the width.
        """
        found = int(np.count_nonzero(mask))
        if found == 0:
            return np.zeros(self.edges.size - 1, np.int64)
        if found == mask.size:
            return self.widths
        # a byte holds the count of a short segment, and bytes are added twice as fast
        short = self._widest < _BYTE
        ones = mask.view(np.uint8) if short else mask.astype(np.int32)
        first, size = self.edges[:-1], self.edges[-1]
        return np.add.reduceat(ones[:size], first, dtype=ones.dtype).astype(np.int64)

    def lowest(self, values: Array) -> Sums:
        """
        Smallest value of each segment.

        Parameters
        ----------
        values : numpy.ndarray, shape (sample,)
            Numbers; NaN makes the segment NaN.

        Returns
        -------
        lowest : numpy.ndarray of float64, shape (segment,)
            In the unit of the values.
        """
        found = np.minimum.reduceat(values[: self.edges[-1]], self.edges[:-1])
        return np.asarray(found, np.float64)

    def highest(self, values: Array) -> Sums:
        """
        Largest value of each segment.

        Parameters
        ----------
        values : numpy.ndarray, shape (sample,)
            Numbers; NaN makes the segment NaN.

        Returns
        -------
        highest : numpy.ndarray of float64, shape (segment,)
            In the unit of the values.
        """
        found = np.maximum.reduceat(values[: self.edges[-1]], self.edges[:-1])
        return np.asarray(found, np.float64)


class Selection:
    """
    The samples that count, applied to several arrays.

    Parameters
    ----------
    valid : numpy.ndarray of bool, shape (sample,)
        Which samples count.

    Notes
    -----
    Values that do not count are blanked by their bits: ten times as fast as choosing between two
    arrays, and unlike a product with 0 it also blanks NaN.
    """

    def __init__(self, valid: Mask) -> None:
        self.valid = valid
        self._kept: dict[int, npt.NDArray[Any]] = {}

    def _bits(self, size: int) -> npt.NDArray[Any]:
        if size not in self._kept:
            self._kept[size] = -self.valid.astype(_INTEGER[size])
        return self._kept[size]

    def zeroed(self, values: Array) -> Sums:
        """
        Values with 0 where they do not count.

        Parameters
        ----------
        values : numpy.ndarray of float32 or float64, shape (sample,)
            Numbers; NaN stays where it counts.

        Returns
        -------
        zeroed : numpy.ndarray of float64, shape (sample,)
            In the unit of the values.
        """
        kind = _INTEGER[values.itemsize]
        kept = np.bitwise_and(values.view(kind), self._bits(values.itemsize))
        return np.asarray(kept.view(values.dtype), np.float64)

    def filled(self, values: Array, fill: float) -> Array:
        """
        Values with another number where they do not count.

        Parameters
        ----------
        values : numpy.ndarray of float32 or float64, shape (sample,)
            Numbers; NaN stays where it counts.
        fill : float
            What stands where they do not.

        Returns
        -------
        filled : numpy.ndarray, shape (sample,)
            Of the type of the values.
        """
        kind, bits = _INTEGER[values.itemsize], self._bits(values.itemsize)
        other = np.asarray(fill, values.dtype).view(kind)
        kept = np.bitwise_and(values.view(kind), bits)
        kept |= np.bitwise_and(np.invert(bits), other)
        return np.asarray(kept.view(values.dtype))
