"""Counts and sums over part of the samples, next to those of whole segments."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from sunledger.physics.segments import Array, Counts, Mask, Segments, Selection, Sums


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
    def _whole(self) -> Selection:
        return Selection(np.asarray(self.possible == self.segments.widths))

    @cached_property
    def _cut(self) -> _Cut | None:
        number = np.flatnonzero((self.possible > 0) & ~self._whole.valid)
        if number.size == 0:
            return None
        widths = self.segments.widths[number]
        edges = np.concatenate([[0], np.cumsum(widths)])
        ahead = np.repeat(self.segments.edges[number] - edges[:-1], widths)
        samples = np.arange(edges[-1]) + ahead
        return _Cut(number, samples, Segments(edges), Selection(self.inside[samples]))

    def cut(self, values: npt.NDArray[Any]) -> npt.NDArray[Any]:
        """
        What lies in segments that the stratum cuts.

        Parameters
        ----------
        values : numpy.ndarray, shape (..., sample)
            Numbers, 0 where they do not count, or which of them count.

        Returns
        -------
        cut : numpy.ndarray, shape (..., cut sample)
            A small part, of which alone sums are taken again.
        """
        cut = self._cut
        return values[..., :0] if cut is None else values.take(cut.samples, axis=-1)

    def counts(self, cut: Mask, whole: Counts) -> Counts:
        """
        Samples of the stratum that count.

        Parameters
        ----------
        cut : numpy.ndarray of bool, shape (..., cut sample)
            From :meth:`cut`, samples that count.
        whole : numpy.ndarray of int64, shape (..., segment)
            Their number in each segment.

        Returns
        -------
        counts : numpy.ndarray of int64, shape (..., segment)
            In each segment.
        """
        if self._cut is None:
            return self._with_cut(whole)
        return self._with_cut(whole, self._cut.segments.counts(cut & self._cut.inside.valid))

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
        if self._cut is None:
            return self._with_cut(whole)
        return self._with_cut(whole, self._cut.segments.sums(self._cut.inside.blanked(cut)))

    def products(self, cut: Array, others: Array, whole: Sums) -> Sums:
        """
        Sums of products over the samples of the stratum.

        Parameters
        ----------
        cut, others : numpy.ndarray of one type, shape (..., cut sample)
            From :meth:`cut`, of two series.
        whole : numpy.ndarray of float64, shape (..., segment)
            Sums of products over all of each segment.

        Returns
        -------
        sums : numpy.ndarray of float64, shape (..., segment)
            Of each segment.
        """
        if self._cut is None:
            return self._with_cut(whole)
        inside = self._cut.inside.blanked(others)
        return self._with_cut(whole, self._cut.segments.products(cut, inside))

    def _with_cut(
        self, whole: npt.NDArray[Any], cut: npt.NDArray[Any] | None = None
    ) -> npt.NDArray[Any]:
        out = self._whole.blanked(whole)
        if cut is not None and self._cut is not None:
            out[..., self._cut.number] = cut
        return out
