"""Closure regressed on the sun's direction, with intervals from whole days.

Minutes of one day err together (haze, thermal offset, dew), so the day is what counts as one draw.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

from sunledger.diagnosis.robust import robust_weights
from sunledger.diagnosis.selection import ClearMinutes, Days

Array = npt.NDArray[np.float64]

RESPONSIVITY, EAST, NORTH = 0, 1, 2
"""Order of the coefficients: see `ClearMinutes.columns`."""
LEAST_OF_DAY = 30
"""A day with fewer clear minutes says nothing. [minutes]"""
PIECE = 3 * 3600
"""Pieces of a day between which a step can lie. [s]"""
SATURATION = 1000.0
"""Minutes of a day from which more of them add little, since they err together. [min]"""
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Moments:
    """
    What of the clear minutes a linear fit of closure needs.

    Parameters
    ----------
    day : numpy.ndarray of int64, shape (piece,)
        Which day, counted from 0, each piece of a day belongs to.
    middle : numpy.ndarray, shape (piece,)
        Mean time of its minutes. [s since 1970-01-01]
    first, last : numpy.ndarray, shape (piece,)
        Of its minutes. [s since 1970-01-01]
    minutes : numpy.ndarray of int64, shape (piece,)
        Number of its minutes.
    matrix : numpy.ndarray, shape (piece, 3, 3)
        Weighted products of the regressors. [W2 m-4]
    vector : numpy.ndarray, shape (piece, 3)
        Weighted products of regressors and residual. [W2 m-4]
    weight : numpy.ndarray, shape (day,)
        Effective number of minutes of each day.
    """

    day: Days
    middle: Array
    first: Array
    last: Array
    minutes: Days
    matrix: Array
    vector: Array
    weight: Array

    @property
    def days(self) -> int:
        """
        Number of days.

        Returns
        -------
        days : int
            With at least ``LEAST_OF_DAY`` minutes.
        """
        return int(self.weight.size)


@dataclass(frozen=True)
class Estimate:
    """
    Coefficients with their confidence.

    Parameters
    ----------
    value, half_width : numpy.ndarray, shape (coefficient,)
        Estimates and half the widths of their intervals of 95 %.
    correlation : numpy.ndarray, shape (coefficient, coefficient)
        Of the errors of the estimates.
    freedom : float
        Degrees of freedom: effective number of days less those spent.
    """

    value: Array
    half_width: Array
    correlation: Array
    freedom: float

    def chance(self, at: int) -> float:
        """
        Chance of so large a coefficient where the truth is 0.

        Parameters
        ----------
        at : int
            Which coefficient.

        Returns
        -------
        chance : float
            Two-sided.
        """
        spread = self.half_width[at] / stats.t.ppf(0.5 + CONFIDENCE / 2, self.freedom)
        return float(2.0 * stats.t.sf(abs(self.value[at]) / spread, self.freedom))


def moments_of(clear: ClearMinutes) -> Moments:
    """
    Reduce clear minutes to weighted moments of pieces of days.

    Parameters
    ----------
    clear : ClearMinutes
        Of a month.

    Returns
    -------
    moments : Moments
        Weights are robust within each day, against the day's own coefficients, so that what
        changes from day to day is not taken for an error.
    """
    kept = []
    for day in np.unique(clear.day):
        at = np.flatnonzero(clear.day == day)
        if at.size >= LEAST_OF_DAY:
            kept.append((at, _day_weights(clear, at)))
    if not kept:
        none = np.zeros(0)
        whole = np.zeros(0, np.int64)
        return Moments(whole, none, none, none, whole, np.zeros((0, 3, 3)), np.zeros((0, 3)), none)
    at = np.concatenate([a for a, _ in kept])
    weight = np.concatenate([w for _, w in kept])
    number = np.repeat(np.arange(len(kept)), [a.size for a, _ in kept])
    return _pieces(clear, at, weight, number)


def _day_weights(clear: ClearMinutes, at: Days) -> Array:
    """Robust weights of a day's minutes, damped where there are many."""
    weights = robust_weights(clear.columns[at], clear.residual[at])
    return weights * SATURATION / (SATURATION + float(weights.sum()))


def _pieces(clear: ClearMinutes, at: Days, weight: Array, number: Days) -> Moments:
    part = np.floor_divide(clear.middle[at], PIECE).astype(np.int64)
    _, start, size = np.unique(number * 10**9 + part, return_index=True, return_counts=True)
    columns, residual = clear.columns[at], clear.residual[at]
    weighted = columns * weight[:, None]
    products = weighted[:, :, None] * columns[:, None, :]
    time = clear.middle[at]
    return Moments(
        number[start],
        np.add.reduceat(time, start) / size,
        np.minimum.reduceat(time, start),
        np.maximum.reduceat(time, start),
        size.astype(np.int64),
        np.add.reduceat(products, start, axis=0),
        np.add.reduceat(weighted * residual[:, None], start, axis=0),
        np.bincount(number, weights=weight).astype(np.float64),
    )


def constant_design(moments: Moments) -> Array:
    """
    Design of one responsivity and one lean for the whole month.

    Parameters
    ----------
    moments : Moments
        Of the month.

    Returns
    -------
    design : numpy.ndarray, shape (piece, 3, 3)
        Maps the three parameters to each piece's coefficients.
    """
    return np.tile(np.eye(3), (moments.day.size, 1, 1))


def changing_design(moments: Moments, course: Array, which: tuple[int, ...]) -> Array:
    """
    Design in which some coefficients change by a given course.

    Parameters
    ----------
    moments : Moments
        Of the month.
    course : numpy.ndarray, shape (piece,)
        How much of the change each piece has: 0 and 1 for a step, days for a drift.
    which : tuple of int
        Coefficients that change.

    Returns
    -------
    design : numpy.ndarray, shape (piece, 3, 3 + len(which))
        The constant design, followed by the changes in the order given.
    """
    change = np.zeros((moments.day.size, 3, len(which)))
    for place, coefficient in enumerate(which):
        change[:, coefficient, place] = course
    return np.concatenate([constant_design(moments), change], axis=2)


def misfit(moments: Moments, design: Array) -> float:
    """
    How much of the closure a design explains, as minus its explained sum of squares.

    Parameters
    ----------
    moments : Moments
        Of the month.
    design : numpy.ndarray, shape (piece, 3, coefficient)
        See :func:`changing_design`.

    Returns
    -------
    misfit : float
        Less is better; comparable between designs of the same moments. [W2 m-4]
    """
    normal, right = _normal(moments, design)
    return -float(right @ np.linalg.lstsq(normal, right, rcond=None)[0])


def _normal(moments: Moments, design: Array) -> tuple[Array, Array]:
    turned = np.einsum("ncp,ncd->npd", design, moments.matrix)
    normal = np.einsum("npd,ndq->pq", turned, design)
    return normal, np.einsum("ncp,nc->p", design, moments.vector)


def fitted(moments: Moments, design: Array, spent: int) -> Estimate:
    r"""
    Fit a design and tell how sure it is, from the scatter of whole days.

    Parameters
    ----------
    moments : Moments
        Of the month.
    design : numpy.ndarray, shape (piece, 3, coefficient)
        See :func:`changing_design`.
    spent : int
        Parameters per coefficient: 1 for a constant, 2 with a change.

    Returns
    -------
    estimate : Estimate
        Intervals by Student's t, infinite without a degree of freedom.

    Notes
    -----
    The covariance is the one to which drawing whole days with replacement tends: with the score
    :math:`s_d` of day d and its weight :math:`m_d`,

    .. math:: S = \sum_d s_d s_d^T / \sum_d m_d, \quad
              V = A^{-1} \left(\sum_d m_d Z_d^T S Z_d\right) A^{-1} \frac{n}{n - q}

    with the normal matrix A, the design Z of the day, n the effective number of days and q those
    spent. No random number is needed, so that the interval is the same on every machine.
    """
    normal, right = _normal(moments, design)
    inverse = np.linalg.pinv(normal, hermitian=True)
    value = inverse @ right
    misses = moments.vector - np.einsum("ncd,ndp,p->nc", moments.matrix, design, value)
    score = _by_day(moments, misses)
    share = _by_day(moments, design * moments.minutes[:, None, None].astype(float))
    share /= _by_day(moments, moments.minutes.astype(float))[:, None, None]
    pooled = score.T @ score / moments.weight.sum()
    meat = np.einsum("d,dcp,ce,deq->pq", moments.weight, share, pooled, share)
    effective = moments.weight.sum() ** 2 / np.sum(moments.weight**2)
    freedom = float(effective - spent)
    if freedom <= 0.0:
        endless = np.full(value.shape, np.inf)
        return Estimate(value, endless, np.eye(value.size), 0.0)
    covariance = inverse @ meat @ inverse * effective / freedom
    spread = np.sqrt(np.maximum(np.diag(covariance), 1e-30))
    width = spread * stats.t.ppf(0.5 + CONFIDENCE / 2, freedom)
    return Estimate(value, width, covariance / np.outer(spread, spread), freedom)


def _by_day(moments: Moments, values: Array) -> Array:
    """Sums over the pieces of each day."""
    out = np.zeros((moments.days, *values.shape[1:]))
    np.add.at(out, moments.day, values)
    return out
