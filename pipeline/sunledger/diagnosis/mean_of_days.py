"""A mean over days and how well it is known: minutes of one day share their weather."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.robust import huber_weights, median_of, spread

Array = npt.NDArray[np.float64]

FULL_DAY = 200
"""Samples from which on a day counts fully, where they are minutes."""
_ROUNDS = 10


@dataclass(frozen=True)
class DayMean:
    """
    Mean over days.

    Parameters
    ----------
    value : float
        NaN without days.
    variance : float
        Of the mean; infinite with fewer than two days.
    minutes, days : int
        What it rests on.
    freedom : float
        Degrees of freedom of the variance, days by their weight less one.
    """

    value: float
    variance: float
    minutes: int
    days: int
    freedom: float


def mean_of_days(values: Array, minutes: npt.NDArray[np.int64], full: int = FULL_DAY) -> DayMean:
    """
    Robust mean over days with its variance from the scatter between them.

    Parameters
    ----------
    values : numpy.ndarray, shape (day,)
        One number a day.
    minutes : numpy.ndarray of int64, shape (day,)
        Minutes that each rests on.
    full : int
        So many make a day count fully.

    Returns
    -------
    mean : DayMean
        Huber's mean, days with few minutes weighing less.
    """
    count, days = int(minutes.sum()), values.size
    if days == 0:
        return DayMean(float("nan"), float("inf"), 0, 0, 0.0)
    base = np.minimum(minutes, full) / full
    mean, weights = median_of(values), base
    sigma = spread(values - mean)
    for _ in range(_ROUNDS if days > 2 else 0):
        weights = base * huber_weights(values - mean, sigma)
        before, mean = mean, _weighed(values, weights)
        if mean == before:  # and so it will stay
            break
    mean = _weighed(values, weights)
    if days == 1:
        return DayMean(mean, float("inf"), count, days, 0.0)
    share = base / base.sum()
    effective = 1.0 / float(share @ share)
    # of an M-estimate: what is cut pulls no further, so that only the days within count below
    within = float(base[weights > 0.999 * base].sum())
    scatter = float(weights**2 @ (values - mean) ** 2) / max(within, base.max()) ** 2
    scatter *= effective / max(effective - 1.0, 0.5)
    return DayMean(mean, scatter, count, days, max(effective - 1.0, 1.0))


def _weighed(values: Array, weights: Array) -> float:
    return float((values * weights).sum() / weights.sum())
