"""Closure regressed on the sun's direction, with intervals from whole days.

Minutes of one day err together (haze, thermal offset, dew), so the day is what counts as one draw.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.closure_equations import NOISE, DayTerms, Equations
from sunledger.diagnosis.grouped import counted, distinct
from sunledger.diagnosis.robust import robust_weights
from sunledger.diagnosis.selection import ClearMinutes, Days
from sunledger.physics.special import special

Array = npt.NDArray[np.float64]

RESPONSIVITY, EAST, NORTH = 0, 1, 2
"""Order of the coefficients: see `ClearMinutes.columns`."""
LEAST_OF_DAY = 30
"""A day with fewer clear minutes says nothing. [minutes]"""
PIECE = 3 * 3600
"""Pieces of a day between which a step can lie. [s]"""
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
    matrix : numpy.ndarray, shape (piece, regressor, regressor)
        Weighted products of the regressors, the three of closure first. [W2 m-4]
    vector : numpy.ndarray, shape (piece, regressor)
        Weighted products of regressors and residual. [W2 m-4]
    breaks : tuple of float
        Instants from which on all coefficients may be others, as the record says; they are fitted
        anew there. [s since 1970-01-01]
    """

    day: Days
    middle: Array
    first: Array
    last: Array
    minutes: Days
    matrix: Array
    vector: Array
    breaks: tuple[float, ...] = ()

    @property
    def days(self) -> int:
        """
        Number of days.

        Returns
        -------
        days : int
            With at least ``LEAST_OF_DAY`` minutes.
        """
        return int(self.day.max(initial=-1)) + 1

    @cached_property
    def terms(self) -> DayTerms:
        """
        What the equations of every design share.

        Returns
        -------
        terms : DayTerms
            Formed once.
        """
        return DayTerms(self.day, self.matrix / NOISE)


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
    freedom : numpy.ndarray, shape (coefficient,)
        Degrees of freedom of each width; 0 where it is infinite.
    """

    value: Array
    half_width: Array
    correlation: Array
    freedom: Array

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
            Two-sided; 1 without an interval.
        """
        if not np.isfinite(self.half_width[at]):
            return 1.0
        spread = self.half_width[at] / special.stdtrit(self.freedom[at], 0.5 + CONFIDENCE / 2)
        return float(2.0 * special.stdtr(self.freedom[at], -abs(self.value[at]) / spread))


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
    return moments_with(clear, np.zeros((clear.middle.size, 0)), [clear.residual])[0]


def moments_with(clear: ClearMinutes, more: Array, responses: Sequence[Array]) -> list[Moments]:
    """
    Moments with regressors beside the three, and of other responses than closure.

    Parameters
    ----------
    clear : ClearMinutes
        Of a month; its closure gives the weights.
    more : numpy.ndarray, shape (sample, other)
        Regressors behind the three. [W m-2]
    responses : sequence of numpy.ndarray, each of shape (sample,)
        What is regressed. [W m-2]

    Returns
    -------
    moments : list of Moments
        One a response.
    """
    kept = []
    for at in _days(clear.day):
        if at.size >= LEAST_OF_DAY:
            kept.append((at, robust_weights(clear.columns[at], clear.residual[at])))
    wide = 3 + more.shape[1]
    if not kept:
        none, whole = np.zeros(0), np.zeros(0, np.int64)
        shapes = np.zeros((0, wide, wide)), np.zeros((0, wide))
        return [Moments(whole, none, none, none, whole, *shapes) for _ in responses]
    at = np.concatenate([a for a, _ in kept])
    weight = np.concatenate([w for _, w in kept])
    number = np.repeat(np.arange(len(kept)), [a.size for a, _ in kept])
    columns = np.concatenate([clear.columns, more], axis=1)[at]
    first = _pieces(clear.middle[at], columns, weight, number)
    return [_with_response(first, columns * weight[:, None], r[at]) for r in responses]


def _days(day: Days) -> list[Days]:
    """Places of the samples of each day, in order."""
    _, place, count = distinct(day)
    return np.split(np.argsort(place, kind="stable"), np.cumsum(count)[:-1])


def _pieces(time: Array, columns: Array, weight: Array, number: Days) -> Moments:
    part = np.floor_divide(time, PIECE).astype(np.int64)
    size = counted(number * 10**9 + part)[1]
    start = np.cumsum(size) - size
    weighted = columns * weight[:, None]
    products = weighted[:, :, None] * columns[:, None, :]
    return Moments(
        number[start],
        np.add.reduceat(time, start) / size,
        np.minimum.reduceat(time, start),
        np.maximum.reduceat(time, start),
        size.astype(np.int64),
        np.add.reduceat(products, start, axis=0),
        np.zeros((start.size, columns.shape[1])),
    )


def _with_response(moments: Moments, weighted: Array, response: Array) -> Moments:
    start = np.cumsum(moments.minutes) - moments.minutes
    return replace(moments, vector=np.add.reduceat(weighted * response[:, None], start, axis=0))


def constant_design(moments: Moments) -> Array:
    """
    Design of one responsivity and one lean, but for the breaks on record.

    Parameters
    ----------
    moments : Moments
        Of the month.

    Returns
    -------
    design : numpy.ndarray, shape (piece, 3, 3 + 3 breaks)
        Maps the parameters to each piece's coefficients: the constants, then what is added to all
        three from each break on.
    """
    whole = np.tile(np.eye(3), (moments.day.size, 1, 1))
    later = [whole * (moments.middle >= t)[:, None, None] for t in moments.breaks]
    return np.concatenate([whole, *later], axis=2)


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
    design : numpy.ndarray, shape (piece, 3, 3 + len(which) + 3 breaks)
        The constants, the changes in the order given, then what the breaks add.
    """
    change = np.zeros((moments.day.size, 3, len(which)))
    for place, coefficient in enumerate(which):
        change[:, coefficient, place] = course
    constant = constant_design(moments)
    return np.concatenate([constant[:, :, :3], change, constant[:, :, 3:]], axis=2)


def equations(moments: Moments, design: Array, prior: Array | None = None) -> Equations:
    """
    Normal equations with the covariance of a day; the days' own terms are eliminated.

    Parameters
    ----------
    moments : Moments
        Of the month.
    design : numpy.ndarray, shape (piece, regressor, coefficient)
        See :func:`changing_design`.
    prior : numpy.ndarray or None, shape (coefficient,)
        As :func:`fitted` has it.

    Returns
    -------
    equations : Equations
        Not solved yet.
    """
    return Equations(moments.terms, design, moments.vector, prior)


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
        Less is better; comparable between designs of the same moments, in variances.
    """
    return equations(moments, design).misfit


def fitted(moments: Moments, design: Array, prior: Array | None = None) -> Estimate:
    r"""
    Fit a design and tell how sure it is, from the scatter of whole days.

    Parameters
    ----------
    moments : Moments
        Of the month.
    design : numpy.ndarray, shape (piece, regressor, coefficient)
        See :func:`changing_design`.
    prior : numpy.ndarray or None, shape (coefficient,)
        One over the variance about 0 that each coefficient is known to have beforehand; 0, and
        without it, where nothing is known.

    Returns
    -------
    estimate : Estimate
        Intervals by Student's t, infinite for what nothing or one day alone tells.

    Notes
    -----
    Generalised least squares with a working covariance: a day's minutes share the day's own
    responsivity and lean, of scatter ``OF_DAYS``, and err by ``NOISE`` besides. It only sets how
    days are weighted. The variance of a coefficient c comes from what each whole day d, of design
    :math:`Z_d` and working covariance :math:`V_d`, pulls at it,

    .. math:: g_d = c^T A^{-1} Z_d^T V_d^{-1} r_d, \quad
              v = \sum_d g_d^2 \frac{E_0\,c^T A^{-1} A_d A^{-1} c}{E_0\,g_d^2}

    which is free of bias where the working covariance holds up to a factor, and consistent where
    it does not; the degrees of freedom are Satterthwaite's for that sum [1]_. For two groups of
    equal days this is Welch's interval. What is known beforehand adds its share
    :math:`c^T A^{-1} P A^{-1} c`. It takes the place of drawing days at random: no random
    number is needed, and the interval is the same on every machine.

    References
    ----------
    .. [1] R. M. Bell and D. F. McCaffrey, "Bias reduction in standard errors for linear regression
       with multi-stage samples," Surv. Methodol., vol. 28, pp. 169-181, 2002; reduced here to
       single coefficients.
    """
    return estimated(equations(moments, design, prior))


def estimated(found: Equations, which: Iterable[int] | None = None) -> Estimate:
    """
    Solve equations and tell how sure the coefficients are.

    Parameters
    ----------
    found : Equations
        From :func:`equations`.
    which : iterable of int or None
        Coefficients whose interval is wanted; all by default.

    Returns
    -------
    estimate : Estimate
        As :func:`fitted`; half-width and freedom are NaN where they are not wanted.
    """
    value, inverse = found.value, found.inverse
    spread, freedom = found.spreads(range(value.size) if which is None else which)
    width = spread * special.stdtrit(np.maximum(freedom, 1.0), 0.5 + CONFIDENCE / 2)
    scale = np.sqrt(np.maximum(np.diag(inverse), 1e-300))
    return Estimate(value, width, inverse / np.outer(scale, scale), freedom)
