"""Faults of one channel's signal, in volts or in W m-2, whichever it is given in."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from faults.readings import Floats, Statistics, Values

V = TypeVar("V", Floats, Statistics)
Times = NDArray[Any]


def _inside(time: Times, start: float, end: float) -> NDArray[np.bool_]:
    return np.asarray((time >= start) & (time < end))


def stuck(values: V, time: Times, start: float, end: float) -> V:
    """
    Channel frozen at its first reading of the period, with all its statistics.

    Parameters
    ----------
    values : ndarray or Statistics, shape (time,)
        Signal without the fault.
    time : ndarray, shape (time,)
        Rising times. [s]
    start, end : float
        When. [s]

    Returns
    -------
    values : same type
        Frozen in the period.
    """
    inside = _inside(time, start, end)
    if not inside.any():
        return values
    index = np.where(inside, int(np.argmax(inside)), np.arange(time.size))
    return values.rows(index) if isinstance(values, Statistics) else values[index]


def polarity_reversed(values: V, time: Times, start: float, end: float) -> V:
    """
    Wires of a channel exchanged.

    Parameters
    ----------
    values : ndarray or Statistics, shape (time,)
        Signal without the fault.
    time : ndarray, shape (time,)
        Times. [s]
    start, end : float
        When. [s]

    Returns
    -------
    values : same type
        Of opposite sign in the period.
    """
    return values * np.where(_inside(time, start, end), -1.0, 1.0)


def sensitivity_wrong(values: V, time: Times, start: float, end: float, error: float = 0.03) -> V:
    """
    True sensitivity differing from the certificate's.

    Parameters
    ----------
    values : ndarray or Statistics, shape (time,)
        Signal without the fault.
    time : ndarray, shape (time,)
        Times. [s]
    start, end : float
        When. [s]
    error : float
        Relative error, positive where the signal is too large. Two sensitivities swapped in the
        inventory are two such errors: `ratio - 1` and `1 / ratio - 1`.

    Returns
    -------
    values : same type
        Scaled in the period.
    """
    return values * np.where(_inside(time, start, end), 1.0 + error, 1.0)


def sensitivities_swapped(
    first: V, second: V, time: Times, start: float, end: float, ratio: float = 1.05
) -> tuple[V, V]:
    """
    Certificates of two instruments exchanged: each is divided by the other's sensitivity.

    Parameters
    ----------
    first, second : ndarray or Statistics, shape (time,)
        Both signals without the fault.
    time : ndarray, shape (time,)
        Times. [s]
    start, end : float
        When. [s]
    ratio : float
        Sensitivity of the first over that of the second.

    Returns
    -------
    first, second : same types
        The first too large by `ratio`, the second too small by it.
    """
    return (
        sensitivity_wrong(first, time, start, end, ratio - 1.0),
        sensitivity_wrong(second, time, start, end, 1.0 / ratio - 1.0),
    )


def spike(values: V, time: Times, start: float, end: float, height: float = 50.0) -> V:
    """
    Short disturbance of constant height.

    Parameters
    ----------
    values : ndarray or Statistics, shape (time,)
        Signal without the fault.
    time : ndarray, shape (time,)
        Times. [s]
    start, end : float
        When; one to three minutes make a spike. [s]
    height : float
        In the unit of the values, with sign.

    Returns
    -------
    values : same type
        Raised in the period.
    """
    return values + np.where(_inside(time, start, end), height, 0.0)


def cable_off(values: V, time: Times, start: float, end: float, left: float = 0.0) -> V:
    """
    Cable off: only the input's own offset remains.

    Parameters
    ----------
    values : ndarray or Statistics, shape (time,)
        Signal without the fault.
    time : ndarray, shape (time,)
        Times. [s]
    start, end : float
        When. [s]
    left : float
        What an open, shorted input reads, in the unit of the values.

    Returns
    -------
    values : same type
        Constant in the period.
    """
    inside = _inside(time, start, end)
    return values * np.where(inside, 0.0, 1.0) + np.where(inside, left, 0.0)


def over_range(values: V, time: Times, start: float, end: float) -> V:
    """
    Signal beyond the logger's range, which the logger reports by a word and not by a number.

    Parameters
    ----------
    values : ndarray or Statistics, shape (time,)
        Signal without the fault.
    time : ndarray, shape (time,)
        Times. [s]
    start, end : float
        When. [s]

    Returns
    -------
    values : same type
        Positive infinity in the period.
    """
    return values + np.where(_inside(time, start, end), np.inf, 0.0)


__all__ = [
    "Values",
    "cable_off",
    "over_range",
    "polarity_reversed",
    "sensitivities_swapped",
    "sensitivity_wrong",
    "spike",
    "stuck",
]
