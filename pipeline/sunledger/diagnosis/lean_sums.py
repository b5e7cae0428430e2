"""What a lean that changes with time does to a month's mean, from a few sums over its minutes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class LeanSums:
    """
    Sums of a regressor of closure over the minutes between knots.

    Parameters
    ----------
    plain : numpy.ndarray, shape (knot + 1,)
        Of the minutes up to each knot from the one before, and behind the last. [W m-2]
    rising : numpy.ndarray, shape (knot + 1,)
        The same, each minute times its distance to the next knot, which is negative; 0 behind the
        last. [W m-2 s]
    minutes : int
        All of the month, also those without a value.
    """

    plain: Array
    rising: Array
    minutes: int


def lean_sums(column: Array, middle: Array, knots: Array) -> LeanSums:
    """
    Sums over the minutes of a month.

    Parameters
    ----------
    column : numpy.ndarray, shape (time,)
        Regressor; NaN where it is unknown. [W m-2]
    middle : numpy.ndarray, shape (time,)
        Middles of the minutes. [s since 1970-01-01]
    knots : numpy.ndarray, shape (knot,)
        Instants, rising. [s since 1970-01-01]

    Returns
    -------
    sums : LeanSums
        For :func:`mean_effect`.
    """
    place = np.searchsorted(knots, middle)
    known = np.nan_to_num(column)
    until = np.append(knots, 0.0)[place]
    distance = np.where(place < knots.size, middle - until, 0.0)
    plain, rising = (
        np.bincount(place, weights, minlength=knots.size + 1).astype(np.float64)
        for weights in (known, known * distance)
    )
    return LeanSums(plain, rising, int(column.size))


def mean_effect(sums: LeanSums, knots: Array, course: Array) -> float:
    """
    Mean over the month of the regressor times a course in time.

    Parameters
    ----------
    sums : LeanSums
        Of the month.
    knots : numpy.ndarray, shape (all,)
        Instants at which the course is known: the month's own are the last ones, those before are
        of earlier months. [s since 1970-01-01]
    course : numpy.ndarray, shape (all,)
        There; straight between them, and held beyond the first and the last. Without a knot, 0.

    Returns
    -------
    effect : float
        In units of the regressor times those of the course.
    """
    own = sums.plain.size - 1
    if not knots.size:
        return 0.0
    # from the last knot before the month on; without one, the course is held before the first
    at, value = knots[-own - 1 :], course[-own - 1 :]
    if knots.size == own:
        at, value = np.append(knots[0] - 1.0, knots), np.append(course[0], course)
    slope = np.diff(value) / np.diff(at)
    held = np.append(value[1:], value[-1])
    rising = sums.rising[:-1] @ slope
    return float((sums.plain @ held + rising) / max(sums.minutes, 1))
