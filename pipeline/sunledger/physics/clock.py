"""Logger clocks: from the time a logger wrote to the time it was, and onto the regular grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]

MISSING_TIME = int(np.iinfo(np.int64).min)
"""Grid time of a reading whose true time is not known."""


@dataclass(frozen=True)
class ClockSegments:
    """
    Stretches of time over which the error of a logger clock is a straight line.

    Parameters
    ----------
    start_true, end_true : numpy.ndarray, shape (segment,)
        True times, half-open, ascending and not overlapping. The first start may be -inf and the
        last end +inf: there the error is held. [s since 1970-01-01, UTC]
    error_start, error_end : numpy.ndarray, shape (segment,)
        Logger less reference at the ends; positive when the logger is ahead. [s]

    Raises
    ------
    ValueError
        If there is no segment, shapes differ, a segment is empty, segments overlap or are out of
        order, an unbounded segment's error changes, or the clock would stand still.
    """

    start_true: Array
    end_true: Array
    error_start: Array
    error_end: Array

    def __post_init__(self) -> None:
        for name in ("start_true", "end_true", "error_start", "error_end"):
            object.__setattr__(self, name, np.atleast_1d(np.asarray(getattr(self, name), float)))
        fault = _segment_fault(self)
        if fault:
            raise ValueError(f"clock segments: {fault}")

    @property
    def rate(self) -> Array:
        """Change of the error per second of true time, shape (segment,) [s s-1]."""
        length = np.where(self._bounded, self.end_true - self.start_true, 1.0)
        return np.where(self._bounded, (self.error_end - self.error_start) / length, 0.0)

    @property
    def logger_start(self) -> Array:
        """What the logger shows at the start of each segment, shape (segment,) [s]."""
        return self.start_true + self.error_start

    @property
    def logger_end(self) -> Array:
        """What the logger shows just before the end of each segment, shape (segment,) [s]."""
        return self.end_true + self.error_end

    @property
    def _bounded(self) -> Mask:
        return np.asarray(np.isfinite(self.start_true) & np.isfinite(self.end_true))


def _segment_fault(segments: ClockSegments) -> str:
    """Say what is wrong with the segments, or return an empty text."""
    start, end = segments.start_true, segments.end_true
    shapes = {a.shape for a in (start, end, segments.error_start, segments.error_end)}
    if start.size == 0:
        return "at least one is needed"
    if len(shapes) != 1 or start.ndim != 1:
        return f"all four arrays need the same single dimension (got {sorted(shapes)})"
    if not np.all(start < end):
        return f"start must lie before end (got segment {int(np.argmin(start < end))})"
    overlap = start[1:] < end[:-1]
    if np.any(overlap):
        return f"must ascend without overlap (got segment {int(np.argmax(overlap)) + 1})"
    if not (np.isfinite(segments.error_start).all() and np.isfinite(segments.error_end).all()):
        return "errors must be finite"
    endless = ~(np.isfinite(start) & np.isfinite(end))
    if np.any(endless & (segments.error_start != segments.error_end)):
        return "the error of an unbounded segment must be constant"
    if np.any(segments.rate <= -1.0):
        return f"the clock would stand still or run backwards (rate {segments.rate.min():g})"
    return ""


@dataclass(frozen=True)
class TrueTimes:
    """
    True times of logger labels.

    Parameters
    ----------
    true_time : numpy.ndarray, shape (reading,)
        NaN for a NaN label. [s since 1970-01-01, UTC]
    segment : numpy.ndarray of int64, shape (reading,)
        Index of the clock segment used; -1 for a NaN label.
    ambiguous : numpy.ndarray of bool, shape (reading,)
        More than one segment shows this label: the clock was set back over it.
    outside : numpy.ndarray of bool, shape (reading,)
        No segment shows this label: the clock was set forward over it, or the segments end.
    """

    true_time: Array
    segment: Indices
    ambiguous: Mask
    outside: Mask


def true_from_logger(
    label_time: npt.ArrayLike, occurrence: npt.ArrayLike, segments: ClockSegments
) -> TrueTimes:
    r"""
    Return the true time of each logger label.

    Parameters
    ----------
    label_time : array-like, shape (reading,)
        Label in the logger's clock, moved to the start of its interval and freed of the fixed
        offset from UTC. [s since 1970-01-01]
    occurrence : int or array-like of int, shape (reading,)
        0 for the first reading with this label in file order, 1 for the second, and so on. It
        decides only where the clock was set back over the label; a number beyond the last
        segment that shows the label takes that last one.
    segments : ClockSegments
        Error of the clock.

    Returns
    -------
    TrueTimes
        One entry for each reading.

    Notes
    -----
    With error :math:`e(t) = e_0 + r (t - t_0)` a label is :math:`L = t + e(t)`, so
    :math:`t = t_0 + (L - t_0 - e_0) / (1 + r)`. A label in no segment takes the nearest one in
    logger time, the earlier of two equally near, and its line is carried on. Each label is
    treated alone, so cutting the series changes nothing.
    """
    labels = np.atleast_1d(np.asarray(label_time, dtype=float))
    turn = np.broadcast_to(np.asarray(occurrence, dtype=np.int64), labels.shape)
    chosen, covering = _covering_segment(labels, turn, segments)
    outside = (covering == 0) & np.isfinite(labels)
    chosen[outside] = _nearest_segment(labels[outside], segments)
    times = _line_inverse(labels, np.maximum(chosen, 0), segments)
    return TrueTimes(np.where(chosen < 0, np.nan, times), chosen, covering > 1, outside)


def _covering_segment(
    labels: Array, turn: Indices, segments: ClockSegments
) -> tuple[Indices, Indices]:
    """Return the ``turn``-th segment that shows each label (-1: none), and how many do."""
    covering = np.zeros(labels.shape, dtype=np.int64)
    chosen = np.full(labels.shape, -1, dtype=np.int64)
    if not np.isfinite(labels).any():
        return chosen, covering
    first, last = np.nanmin(labels), np.nanmax(labels)
    near = (segments.logger_start <= last) & (segments.logger_end > first)
    for index in np.flatnonzero(near):
        shown = (labels >= segments.logger_start[index]) & (labels < segments.logger_end[index])
        chosen[shown & (covering <= turn)] = index
        covering += shown
    return chosen, covering


def _nearest_segment(labels: Array, segments: ClockSegments) -> Indices:
    """Return the segment whose logger times come nearest to labels that no segment shows."""
    before = segments.logger_start[None, :] - labels[:, None]
    after = labels[:, None] - segments.logger_end[None, :]
    return np.asarray(np.argmin(np.maximum(before, after), axis=1), dtype=np.int64)


def _line_inverse(labels: Array, index: Indices, segments: ClockSegments) -> Array:
    """True time on the line of the given segment."""
    anchored = np.isfinite(segments.start_true)
    pivot = np.where(anchored, segments.start_true, segments.end_true)
    pivot = np.where(np.isfinite(pivot), pivot, 0.0)  # one error for all time
    error = np.where(anchored, segments.error_start, segments.error_end)
    elapsed = labels - pivot[index] - error[index]
    return np.asarray(pivot[index] + elapsed / (1.0 + segments.rate[index]))


def logger_error(true_time: npt.ArrayLike, segments: ClockSegments) -> Array:
    """
    Return the error of the clock at true times.

    Parameters
    ----------
    true_time : float or array-like
        True times. [s since 1970-01-01, UTC]
    segments : ClockSegments
        Error of the clock.

    Returns
    -------
    numpy.ndarray
        Logger less reference; NaN where no segment reaches. [s]
    """
    times = np.asarray(true_time, dtype=float)
    known = np.where(np.isnan(times), -np.inf, times)
    index = np.searchsorted(segments.start_true, known, side="right") - 1
    safe = np.maximum(index, 0)
    inside = (index >= 0) & (times < segments.end_true[safe])
    start = np.where(np.isfinite(segments.start_true), segments.start_true, 0.0)[safe]
    line = segments.error_start[safe] + segments.rate[safe] * (times - start)
    return np.asarray(np.where(inside, line, np.nan))


def whole_interval_move(true_start: npt.ArrayLike, interval: int) -> tuple[Indices, Array]:
    """
    Return the grid interval each reading belongs to, and what is left over.

    Parameters
    ----------
    true_start : float or array-like
        True starts of the readings' intervals. [s since 1970-01-01, UTC]
    interval : int
        Length of the grid intervals, which start at whole multiples of it. [s]

    Returns
    -------
    grid_time : numpy.ndarray of int64
        Start of the grid interval; ``MISSING_TIME`` for NaN. [s since 1970-01-01, UTC]
    residual : numpy.ndarray
        True start less grid time, -interval/2 <= residual < interval/2. [s]

    Raises
    ------
    ValueError
        If ``interval`` is not a positive whole number.

    Notes
    -----
    The nearest interval wins; a reading exactly half way belongs to the *later* one, with a
    residual of minus half an interval.
    """
    if interval != int(interval) or interval <= 0:
        raise ValueError(f"interval must be a positive whole number of seconds (got {interval!r})")
    starts = np.asarray(true_start, dtype=float)
    known = np.isfinite(starts)
    safe = np.where(known, starts, 0.0)
    grid = np.floor(safe / interval + 0.5) * interval
    # the quotient may round across a half: let the exact difference decide
    grid = np.where(safe - grid >= interval / 2, grid + interval, grid)
    grid = np.where(safe - grid < -interval / 2, grid - interval, grid)
    times = np.where(known, grid.astype(np.int64), MISSING_TIME)
    return times, np.where(known, safe - grid, np.nan)


def choose_one_per_interval(
    grid_time: npt.ArrayLike, residual: npt.ArrayLike, order: npt.ArrayLike
) -> Mask:
    """
    Return which reading each grid interval keeps when several fall into it.

    Parameters
    ----------
    grid_time : array-like of int, shape (reading,)
        Start of the grid interval. [s since 1970-01-01, UTC]
    residual : array-like, shape (reading,)
        True start less grid time; NaN never wins. [s]
    order : array-like of int, shape (reading,)
        Position in the raw files.

    Returns
    -------
    numpy.ndarray of bool
        True for the winner: the smaller size of the residual, the earlier in file order when
        equal. The false ones are for the caller to count.
    """
    grid = np.asarray(grid_time, dtype=np.int64)
    size = np.abs(np.asarray(residual, dtype=float))
    if np.all(grid[1:] > grid[:-1]):
        return np.asarray(~np.isnan(size))  # the usual case: no two to choose between
    ranked = np.lexsort((np.asarray(order), size, grid))  # NaN sorts last
    first = np.ones(grid.size, dtype=bool)
    first[1:] = grid[ranked[1:]] != grid[ranked[:-1]]
    winners = np.zeros(grid.size, dtype=bool)
    winners[ranked[first]] = True
    return np.asarray(winners & ~np.isnan(size))
