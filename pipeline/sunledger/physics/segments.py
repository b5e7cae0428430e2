"""Sums, counts and extremes over consecutive segments of a regular series."""

from __future__ import annotations

from collections.abc import Callable
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
_FEW = 4
"""Width up to which rows are added column by column."""
_NARROW = 32
"""Width up to which samples are counted a row each; ``reduceat`` takes long for each segment."""
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
    wherever the series was cut. A segment is a row of a table, and ``einsum`` goes along rows one
    by one in an order that hangs on their length only; a matrix product does not. Rows of a few
    samples, as the quarters of hours, are added column by column, which takes half the time.
    """

    edges: Counts

    def __post_init__(self) -> None:
        if self.edges.size < 2 or self.edges[0] != 0 or self.widths.min() <= 0:
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
        return np.asarray(self.edges[1:] - self.edges[:-1])

    @cached_property
    def _widest(self) -> int:
        return int(self.widths.max())

    @cached_property
    def _even(self) -> bool:
        return bool((self.widths == self._widest).all())

    @cached_property
    def _uneven(self) -> list[tuple[npt.NDArray[np.intp], Counts]]:
        """Segments of each width that occurs, and their samples, a segment a row."""
        found = []
        for width in np.unique(self.widths):
            number = np.flatnonzero(self.widths == width)
            found.append((number, self.edges[number, None] + np.arange(width)))
        return found

    def groups(self, longer: Segments) -> Segments | None:
        """
        Which of these segments make up each longer one.

        Parameters
        ----------
        longer : Segments
            Of the same series.

        Returns
        -------
        groups : Segments or None
            Segments of these segments; None where a longer one ends within one of these.
        """
        place = np.searchsorted(self.edges, longer.edges)
        if place[-1] == self.edges.size or np.any(self.edges[place] != longer.edges):
            return None
        return Segments(place)

    def _by_rows(
        self, how: Callable[..., npt.NDArray[Any]], *series: npt.NDArray[Any]
    ) -> npt.NDArray[Any]:
        """What is made of each segment as a row."""
        if self._even:
            width, size = self._widest, self.edges[-1]
            rows = [v[..., :size].reshape(*v.shape[:-1], -1, width) for v in series]
            return how(*rows)
        first = series[0]
        out = np.empty((*first.shape[:-1], self.widths.size), first.dtype)
        for number, samples in self._uneven:
            out[..., number] = how(*(v.take(samples, axis=-1) for v in series))
        return out

    def sums(self, values: npt.NDArray[Any]) -> npt.NDArray[Any]:
        """
        Sum of each segment, in the type of the values.

        Parameters
        ----------
        values : numpy.ndarray, shape (..., sample)
            Numbers.

        Returns
        -------
        sums : numpy.ndarray, shape (..., segment)
            Of the same type.
        """
        return self._by_rows(_row_sums, values)

    def products(
        self, values: npt.NDArray[np.floating], others: npt.NDArray[np.floating]
    ) -> npt.NDArray[np.floating]:
        """
        Sum of the products of two series over each segment, which are not kept.

        Parameters
        ----------
        values, others : numpy.ndarray, shape (..., sample)
            Numbers of one type.

        Returns
        -------
        sums : numpy.ndarray, shape (..., segment)
            Of the same type.
        """
        return self._by_rows(_row_products, values, others)

    def counts(self, mask: Mask) -> Counts:
        """
        True samples of each segment.

        Parameters
        ----------
        mask : numpy.ndarray of bool, shape (..., sample)
            Condition.

        Returns
        -------
        counts : numpy.ndarray of int64, shape (..., segment)
            0 to the width.
        """
        found = int(np.count_nonzero(mask))
        if found == 0:
            return np.zeros((*mask.shape[:-1], self.widths.size), np.int64)
        if found == mask.size and mask.ndim == 1:
            return self.widths
        # a byte holds the count of a short segment, and bytes are added twice as fast
        short = self._widest < _BYTE
        ones = mask.view(np.uint8) if short else mask.astype(np.int32)
        if self._even and self._widest < _NARROW:
            return self._by_rows(_row_sums, ones).astype(np.int64)
        first, ones = self.edges[:-1], ones[..., : self.edges[-1]]
        return np.add.reduceat(ones, first, axis=-1, dtype=ones.dtype).astype(np.int64)

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


def _row_sums(rows: npt.NDArray[Any]) -> npt.NDArray[Any]:
    if rows.shape[-1] <= _FEW:
        total = rows[..., 0].copy()
        for column in range(1, rows.shape[-1]):
            total += rows[..., column]
        return np.asarray(total)
    return np.asarray(np.einsum("...ij->...i", rows))


def _row_products(rows: npt.NDArray[Any], others: npt.NDArray[Any]) -> npt.NDArray[Any]:
    return np.asarray(np.einsum("...ij,...ij->...i", rows, others))


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

    @cached_property
    def weights(self) -> npt.NDArray[np.float32]:
        """
        What makes sums of products out of sums over the samples that count.

        Returns
        -------
        weights : numpy.ndarray of float32, shape (sample,)
            1 where a sample counts, else 0.
        """
        return self.valid.astype(np.float32)

    def _bits(self, size: int) -> npt.NDArray[Any]:
        if size not in self._kept:
            # -1 has all bits set, and a narrow one is widened with its sign
            self._kept[size] = (-self.valid.view(np.int8)).astype(_INTEGER[size])
        return self._kept[size]

    def blanked(self, values: Array) -> Array:
        """
        Values with 0 where they do not count.

        Parameters
        ----------
        values : numpy.ndarray of four or eight bytes each, shape (..., sample)
            Numbers; NaN stays where it counts.

        Returns
        -------
        blanked : numpy.ndarray, shape (..., sample)
            Of the type of the values.
        """
        kind, bits = _INTEGER[values.itemsize], self._bits(values.itemsize)
        kept: Array = (values.view(kind) & bits).view(values.dtype)
        return kept

    def zeroed(self, values: Array) -> Sums:
        """
        Values with 0 where they do not count, in double precision.

        Parameters
        ----------
        values : numpy.ndarray of float32 or float64, shape (sample,)
            Numbers; NaN stays where it counts.

        Returns
        -------
        zeroed : numpy.ndarray of float64, shape (sample,)
            In the unit of the values.
        """
        return np.asarray(self.blanked(values), np.float64)

    def either(self, values: Array, others: Array) -> Array:
        """
        Values where they count, and others where they do not.

        Parameters
        ----------
        values, others : numpy.ndarray of float32 or float64, shape (sample,)
            Numbers, both of one type.

        Returns
        -------
        either : numpy.ndarray, shape (sample,)
            Of the same type.
        """
        kind = _INTEGER[values.itemsize]
        kept = np.bitwise_xor(values.view(kind), others.view(kind))
        kept &= self._bits(values.itemsize)
        kept ^= others.view(kind)
        return np.asarray(kept.view(values.dtype))

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
        return self.either(values, np.asarray(fill, values.dtype))
