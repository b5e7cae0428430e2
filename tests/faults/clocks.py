"""Faults of time: clocks that drift, are set, or are wrong."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from faults.readings import Floats, Statistics

V = TypeVar("V", Floats, Statistics)
Knot = tuple[float, float]


def clock_error(time: NDArray[np.generic], runs: tuple[tuple[Knot, ...], ...]) -> Floats:
    """
    Error of a clock that drifts and is set.

    Parameters
    ----------
    time : ndarray, shape (time,)
        True time. [s]
    runs : tuple of tuple of (float, float)
        Each run between two settings: pairs of true time and clock minus true time. [s] Linear
        between the pairs, held outside; a run begins at its first pair, the first one before
        everything.

    Returns
    -------
    error : ndarray of float, shape (time,)
        Clock minus true time. [s]
    """
    true_time = np.asarray(time, dtype=float)
    which = run_number(time, runs)
    error = np.zeros_like(true_time)
    for number, run in enumerate(runs):
        knots = np.asarray(run, dtype=float)
        here = which == number
        error[here] = np.interp(true_time[here], knots[:, 0], knots[:, 1])
    return error


def run_number(time: NDArray[np.generic], runs: tuple[tuple[Knot, ...], ...]) -> NDArray[np.intp]:
    """
    In which run between two settings of the clock a time lies.

    Parameters
    ----------
    time : ndarray, shape (time,)
        True time. [s]
    runs : tuple of tuple of (float, float)
        As in `clock_error`.

    Returns
    -------
    number : ndarray of int, shape (time,)
        Counted from 0.
    """
    settings = np.array([run[0][0] for run in runs[1:]], dtype=float)
    return np.searchsorted(settings, np.asarray(time, dtype=float), side="right")


def clock_out(values: V, minutes: int) -> V:
    """
    A whole series labelled late by a clock that is ahead.

    Parameters
    ----------
    values : ndarray or Statistics, shape (time,)
        One value a minute, no gaps.
    minutes : int
        Clock minus true time. [min]

    Returns
    -------
    values : same type
        Each value now stands `minutes` later; the edge repeats its nearest value.
    """
    size = values.mean.size if isinstance(values, Statistics) else values.size
    index = np.clip(np.arange(size) - minutes, 0, size - 1)
    return values.rows(index) if isinstance(values, Statistics) else values[index]
