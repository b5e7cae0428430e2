"""Sums, counts and extremes over consecutive segments of a regular series."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.floating]
Sums = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]

_BYTE = 256
_NARROW = 16
"""Width up to which samples are turned to be counted."""
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

    @cached_property
    def _even(self) -> bool:
        return bool((self.widths == self._widest).all())

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
        return np.asarray(np.add.reduceat(values[..., : self.edges[-1]], self.edges[:-1], axis=-1))

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
        if self._even and self._widest <= _NARROW:  # turned, since a short row is mostly overhead
            columns = np.ascontiguousarray(ones[:size].reshape(-1, self._widest).T)
            return np.asarray(columns.sum(axis=0, dtype=ones.dtype), np.int64)
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
            # -1 has all bits set, and a narrow one is widened with its sign
            self._kept[size] = (-self.valid.view(np.int8)).astype(_INTEGER[size])
        return self._kept[size]

    def blanked(self, values: Array, out: Array | None = None) -> Array:
        """
        Values with 0 where they do not count.

        Parameters
        ----------
        values : numpy.ndarray of float32 or float64, shape (..., sample)
            Numbers; NaN stays where it counts.
        out : numpy.ndarray or None, shape (..., sample)
            Where to put them; of the type of the values.

        Returns
        -------
        blanked : numpy.ndarray, shape (..., sample)
            Of the type of the values.
        """
        kind, bits = _INTEGER[values.itemsize], self._bits(values.itemsize)
        if out is not None:
            np.bitwise_and(values.view(kind), bits, out=out.view(kind))
            return out
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


class _Cut(NamedTuple):
    """Segments that a stratum cuts: their numbers and samples, and which of these are inside."""

    number: npt.NDArray[np.intp]
    samples: npt.NDArray[np.int64]
    segments: Segments
    inside: Selection


@dataclass(frozen=True)
class Stratum:
    """
    Samples of which sums are taken apart, next to those of whole segments.

    Parameters
    ----------
    segments : Segments
        The segments.
    inside : numpy.ndarray of bool, shape (sample,)
        The samples.

    Notes
    -----
    What of the day is light cuts two hours of it. All other segments lie inside or outside as a
    whole, and only those that are cut are added up again.
    """

    segments: Segments
    inside: Mask

    @cached_property
    def possible(self) -> Counts:
        """
        Samples of the stratum in each segment.

        Returns
        -------
        possible : numpy.ndarray of int64, shape (segment,)
            0 to the width.
        """
        return self.segments.counts(self.inside)

    @cached_property
    def _whole(self) -> Mask:
        return np.asarray(self.possible == self.segments.widths)

    @cached_property
    def _cut(self) -> _Cut | None:
        number = np.flatnonzero((self.possible > 0) & ~self._whole)
        if number.size == 0:
            return None
        widths = self.segments.widths[number]
        edges = np.concatenate([[0], np.cumsum(widths)])
        ahead = np.repeat(self.segments.edges[number] - edges[:-1], widths)
        samples = np.arange(edges[-1]) + ahead
        return _Cut(number, samples, Segments(edges), Selection(self.inside[samples]))

    def counts(self, valid: Mask, whole: Counts) -> Counts:
        """
        Samples of the stratum that count.

        Parameters
        ----------
        valid : numpy.ndarray of bool, shape (sample,)
            Samples that count.
        whole : numpy.ndarray of int64, shape (segment,)
            Their number in each segment.

        Returns
        -------
        counts : numpy.ndarray of int64, shape (segment,)
            In each segment.
        """
        out, cut = np.where(self._whole, whole, 0), self._cut
        if cut is not None:
            out[cut.number] = cut.segments.counts(valid[cut.samples] & cut.inside.valid)
        return out

    def cut(self, values: Array) -> Array:
        """
        What lies in segments that the stratum cuts.

        Parameters
        ----------
        values : numpy.ndarray of float32 or float64, shape (..., sample)
            Numbers, 0 where they do not count.

        Returns
        -------
        cut : numpy.ndarray, shape (..., cut sample)
            A small part, of which alone sums are taken again.
        """
        none = self._cut is None
        return values[..., :0] if none else values.take(self._cut.samples, axis=-1)

    def sums(self, cut: Array, whole: Sums) -> Sums:
        """
        Sums over the samples of the stratum.

        Parameters
        ----------
        cut : numpy.ndarray of float32 or float64, shape (..., cut sample)
            From :meth:`cut`.
        whole : numpy.ndarray of float64, shape (..., segment)
            Sums over all of each segment.

        Returns
        -------
        sums : numpy.ndarray of float64, shape (..., segment)
            Of each segment.
        """
        out = np.where(self._whole, whole, 0.0)
        if self._cut is not None:
            inside = self._cut.inside.blanked(cut)
            out[..., self._cut.number] = self._cut.segments.sums(inside)
        return out
