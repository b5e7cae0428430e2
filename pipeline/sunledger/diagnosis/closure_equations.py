"""Normal equations of closure, in which each day has a responsivity and a lean of its own.

What all designs of the same minutes share is formed once; the days' own terms are eliminated.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Days = npt.NDArray[np.int64]

OF_DAYS = np.array([0.003, np.radians(0.07), np.radians(0.3)])
"""How much responsivity, east and north term are expected to differ from day to day, as standard
deviations. Measured on the published month; they set weights, not widths. [1, rad, rad]"""
NOISE = 300.0
"""Closure errors within a day, as of a long mean: 1.2 W m-2 that last for 100 minutes on either
side. Sets weights, not widths. [W2 m-4 min]"""
TOO_LITTLE = 1e-6
"""Share below which a day tells nothing of a coefficient, or leaves nothing to the others."""


@dataclass(frozen=True)
class DayTerms:
    """
    What the equations of every design are made of.

    Parameters
    ----------
    day : numpy.ndarray of int64, shape (piece,)
        Which day, counted from 0, each piece belongs to; rising.
    matrix : numpy.ndarray, shape (piece, regressor, regressor)
        Products of the regressors over ``NOISE``, the three of closure first.
    """

    day: Days
    matrix: Array

    @cached_property
    def start(self) -> Days:
        """
        First piece of each day.

        Returns
        -------
        start : numpy.ndarray of int64, shape (day,)
            Rising.
        """
        return np.flatnonzero(np.diff(self.day, prepend=-1))

    @cached_property
    def own(self) -> Array:
        """
        Covariance of each day's own terms as far as its minutes tell them.

        Returns
        -------
        own : numpy.ndarray, shape (day, 3, 3)
            Only the three of closure differ from day to day.
        """
        of_day = self.by_day(self.matrix[:, :3, :3])
        return np.asarray(np.linalg.inv(np.diag(OF_DAYS**-2.0) + of_day))

    def by_day(self, values: Array) -> Array:
        """
        Sums over the pieces of each day.

        Parameters
        ----------
        values : numpy.ndarray, shape (piece, ...)
            In order of the pieces.

        Returns
        -------
        sums : numpy.ndarray, shape (day, ...)
            Of the days.
        """
        if self.start.size == self.day.size:  # one piece a day
            return values
        return np.asarray(np.add.reduceat(values, self.start, axis=0))


@dataclass(frozen=True)
class Equations:
    """
    Each day's share of the generalised normal equations of a design.

    Parameters
    ----------
    terms : DayTerms
        Of the minutes.
    design : numpy.ndarray, shape (piece, regressor, coefficient)
        Maps the coefficients to each piece's regressors.
    products : numpy.ndarray, shape (piece, regressor)
        Of regressors and response. [W2 m-4]
    prior : numpy.ndarray or None, shape (coefficient,)
        Precision of each coefficient before any day; None where nothing is known.
    """

    terms: DayTerms
    design: Array
    products: Array
    prior: Array | None = None

    @cached_property
    def _turned(self) -> tuple[Array, Array, Array]:
        turned = self.terms.matrix @ self.design
        told = self.terms.by_day(turned[:, :3])
        return turned, told, told.transpose(0, 2, 1) @ self.terms.own

    @cached_property
    def matrix(self) -> Array:
        """
        Left sides.

        Returns
        -------
        matrix : numpy.ndarray, shape (day, coefficient, coefficient)
            Of the days.
        """
        turned, told, own = self._turned
        across = self.design.transpose(0, 2, 1)
        return np.asarray(self.terms.by_day(across @ turned) - own @ told)

    @cached_property
    def vector(self) -> Array:
        """
        Right sides.

        Returns
        -------
        vector : numpy.ndarray, shape (day, coefficient)
            Of the days.
        """
        return self._right(self.products)

    def _right(self, products: Array) -> Array:
        column = products[:, :, None] / NOISE
        missed = self.terms.by_day(column[:, :3])
        across = self.design.transpose(0, 2, 1)
        right = self.terms.by_day(across @ column) - self._turned[2] @ missed
        return np.asarray(right[:, :, 0])

    @cached_property
    def known(self) -> Array:
        """
        What is known beforehand.

        Returns
        -------
        known : numpy.ndarray, shape (coefficient,)
            Precisions; 0 without any.
        """
        return np.zeros(self.design.shape[2]) if self.prior is None else self.prior

    @cached_property
    def inverse(self) -> Array:
        """
        Inverse of the sum of the left sides.

        Returns
        -------
        inverse : numpy.ndarray, shape (coefficient, coefficient)
            The pseudoinverse, with what is known beforehand.
        """
        whole = self.matrix.sum(axis=0) + np.diag(self.known)
        return np.asarray(np.linalg.pinv(whole, hermitian=True))

    @cached_property
    def value(self) -> Array:
        """
        Coefficients.

        Returns
        -------
        value : numpy.ndarray, shape (coefficient,)
            That solve the equations.
        """
        return np.asarray(self.inverse @ self.vector.sum(axis=0))

    def value_of(self, products: Array) -> Array:
        """
        Coefficients of another response, with the same weights.

        Parameters
        ----------
        products : numpy.ndarray, shape (piece, regressor)
            Of regressors and that response. [W2 m-4]

        Returns
        -------
        value : numpy.ndarray, shape (coefficient,)
            That solve its equations.
        """
        return np.asarray(self.inverse @ self._right(products).sum(axis=0))

    @property
    def misfit(self) -> float:
        """
        Minus the explained sum of squares.

        Returns
        -------
        misfit : float
            Less is better.
        """
        return -float(self.value @ self.vector.sum(axis=0))

    def spreads(self, which: Iterable[int]) -> tuple[Array, Array]:
        """
        How sure some coefficients are.

        Parameters
        ----------
        which : iterable of int
            Coefficients.

        Returns
        -------
        spread, freedom : numpy.ndarray, shape (coefficient,)
            Standard deviation and degrees of freedom; NaN for all that are not asked for.
        """
        spread, freedom = np.full((2, self.known.size), np.nan)
        score = self.vector - self.matrix @ self.value
        for at in which:
            c = self.inverse[at]
            spread[at], freedom[at] = self._spread(score @ c, c)
        return spread, freedom

    def _spread(self, pull: Array, c: Array) -> tuple[float, float]:
        """Standard deviation of one coefficient, and its degrees of freedom."""
        turned = self.matrix @ c
        alone = np.maximum(turned @ c, 0.0)
        joint = np.diag(alone) - turned @ self.inverse @ turned.T
        of_day = np.diag(joint)
        told = alone > TOO_LITTLE * alone.max(initial=0.0)
        if not told.any() or np.any(of_day[told] < TOO_LITTLE * alone[told]):
            return np.inf, 0.0
        up = np.where(told, np.sqrt(alone / np.where(told, of_day, 1.0)), 0.0)
        joint = joint * up[:, None] * up
        freedom = np.trace(joint) ** 2 / np.sum(joint**2)
        of_days = float(np.sum((up * pull) ** 2))
        variance = of_days + float(self.known @ c**2)
        # what is known beforehand takes no degree of freedom (Welch-Satterthwaite)
        freedom *= (variance / of_days) ** 2 if of_days > TOO_LITTLE * variance else 1.0
        return float(np.sqrt(variance)), float(freedom)
