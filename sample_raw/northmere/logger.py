"""A logger: which samples fall into which of its intervals, by its own clock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from faults.clocks import clock_error, run_number
from faults.readings import Statistics
from northmere.noise import Floats
from northmere.shapes import Pairs

Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Intervals:
    """
    Intervals of a logger.

    Parameters
    ----------
    first : ndarray of int, shape (rows,)
        Index of the first sample of each.
    count : ndarray of int, shape (rows,)
        Number of samples.
    clock_start : ndarray of int64, shape (rows,)
        Start in the logger's clock, taken as if it showed UTC. [s]
    true_start : ndarray of float, shape (rows,)
        Start in true time. [s]
    """

    first: NDArray[np.intp]
    count: NDArray[np.intp]
    clock_start: Whole
    true_start: Floats

    def rows(self, chosen: NDArray[np.bool_]) -> Intervals:
        """
        Only some of the intervals.

        Parameters
        ----------
        chosen : ndarray of bool, shape (rows,)
            Which.

        Returns
        -------
        intervals : Intervals
            Those.
        """
        return Intervals(
            self.first[chosen],
            self.count[chosen],
            self.clock_start[chosen],
            self.true_start[chosen],
        )


def cut(time: Floats, step: float, interval: int, clock: tuple[Pairs, ...]) -> Intervals:
    """
    Cut samples into the intervals of a logger's clock.

    Parameters
    ----------
    time : ndarray of float, shape (time,)
        Middle of each sample, true time. [s]
    step : float
        Spacing. [s]
    interval : int
        Averaging interval. [s]
    clock : tuple of runs
        As in `faults.clocks.clock_error`.

    Returns
    -------
    intervals : Intervals
        In the order they were written. An interval cut short by setting the clock is written
        when its label is reached afterwards, with fewer samples or with more; what a setting
        jumps over is never written.
    """
    error, run = clock_error(time, clock), run_number(time, clock)
    number = np.floor((time + error) / interval).astype(np.int64)
    change = (np.diff(number) != 0) | (np.diff(run) != 0)
    first = np.concatenate([[0], np.flatnonzero(change) + 1])
    count = np.diff(np.append(first, time.size))
    lost = np.append(np.diff(run[first]) != 0, False)
    clock_start = number[first] * interval
    true_start = clock_start - error[first]
    whole = Intervals(first, count, clock_start, true_start)
    return whole.rows(~lost)


def statistics(samples: Floats, intervals: Intervals) -> Statistics:
    """
    Mean, minimum, maximum and standard deviation in every interval.

    Parameters
    ----------
    samples : ndarray of float, shape (time,)
        Signal.
    intervals : Intervals
        Where each begins and how many samples it holds.

    Returns
    -------
    statistics : Statistics
        One row an interval; the deviation is that of the samples about their mean.
    """
    # A dropped interval's samples must not join the one before it: reduce over pairs of edges.
    edges = np.stack([intervals.first, intervals.first + intervals.count], axis=1).ravel()
    padded = np.append(samples, samples[-1])

    def reduced(operation: np.ufunc, values: Floats) -> Floats:
        return np.asarray(operation.reduceat(values, edges)[::2], dtype=float)

    mean = reduced(np.add, padded) / intervals.count
    square = reduced(np.add, (padded - mean.mean()) ** 2) / intervals.count
    variance = np.maximum(square - (mean - mean.mean()) ** 2, 0.0)
    return Statistics(
        mean, reduced(np.minimum, padded), reduced(np.maximum, padded), np.sqrt(variance)
    )
