"""What changed at an instant of the month: closure by direction of the sun, and the dull ratio.

Four numbers: the change of global against direct, the leans toward east and north (from clear
minutes), and the change of the ratio of global to diffuse under a dull sky, which no lean and no
clock touches.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.changes import candidates
from sunledger.diagnosis.closure_fit import (
    CONFIDENCE,
    LEAST_OF_DAY,
    RESPONSIVITY,
    Moments,
    equations,
    estimated,
    moments_with,
)
from sunledger.diagnosis.grouped import counted
from sunledger.diagnosis.mean_of_days import DayMean, mean_of_days
from sunledger.diagnosis.ratios import DayValues
from sunledger.diagnosis.selection import ClearMinutes, Days
from sunledger.diagnosis.separation import FULL_DULL, LEAST_DULL
from sunledger.physics.special import special

Array = npt.NDArray[np.float64]

DULL = 3
FLOORS = (0.0015, np.radians(0.03), np.radians(0.05), 0.0025)
"""Standard deviation that no number of days takes away, of each number: temperature and level of
the season. Own values. [1, rad, rad, 1]"""
OFFSET, OFFSET_STEP, DIRECTIONAL = 3.0, 1.0, 0.01
"""Standard deviations of what closure holds beside the three coefficients: a constant offset and
its change within the month [W m-2], and the directional response of the global at a zenith angle of
80 degrees [1]. Where the sun's path parts leans badly, these pass for leans. About what a class A
pyranometer may have (ISO 9060); the change is an own value."""
OF_OFFSET, OF_DIRECTION = 3, 4
"""Their places among the regressors."""
PRIOR = np.array([0.0] * 6 + [OFFSET**-2.0, OFFSET_STEP**-2.0, DIRECTIONAL**-2.0])
"""The same as precisions, in the order of :func:`step_design`."""
FAR = 0.975
"""Quantile at which few days are made good for: variances grow until the normal law has there
what Student's has."""


@dataclass(frozen=True)
class StepEvidence:
    """
    What changed at an instant.

    Parameters
    ----------
    piece : int
        First piece of the moments behind it.
    value : numpy.ndarray, shape (4,)
        Change of responsivity [1], lean to east and north [rad], logarithm of the dull ratio [1];
        the last is NaN where it is not known.
    variance : numpy.ndarray, shape (4, 4)
        Their covariance.
    diffuse : numpy.ndarray, shape (3,)
        What as much of the diffuse again would look like in the first three.
    share : float
        Of the diffuse in the component sum of the dull hours; NaN without them. [1]
    """

    piece: int
    value: Array
    variance: Array
    diffuse: Array
    share: float

    @property
    def known(self) -> npt.NDArray[np.bool_]:
        """
        Which of the numbers are known.

        Returns
        -------
        known : numpy.ndarray of bool, shape (4,)
            The first three always are.
        """
        return np.isfinite(self.value)

    @property
    def strength(self) -> float:
        """
        Squared standard deviations between these numbers and no change.

        Returns
        -------
        strength : float
            Chi-squared with as many degrees of freedom as numbers are known.
        """
        at = self.known
        precision = np.linalg.inv(self.variance[np.ix_(at, at)])
        return float(self.value[at] @ precision @ self.value[at])


@dataclass(frozen=True)
class StepData:
    """
    What the evidence of every instant is made of.

    Parameters
    ----------
    moments, diffuse : Moments
        Of closure and of the diffuse itself, regressed on the sun's direction, an offset of
        1 W m-2 and the directional response.
    days : numpy.ndarray of int64, shape (day,)
        Local solar day of each day of the moments.
    dull : DayValues
        Dull ratio of each day.
    """

    moments: Moments
    diffuse: Moments
    days: Days
    dull: DayValues


def step_data(clear: ClearMinutes, dull: DayValues) -> StepData:
    """
    Gather what the evidence is made of.

    Parameters
    ----------
    clear : ClearMinutes
        Of the month.
    dull : DayValues
        Of its dull hours.

    Returns
    -------
    data : StepData
        For :func:`evidence_at`.
    """
    days, minutes = counted(clear.day)
    beam = clear.columns[:, RESPONSIVITY] * (clear.zenith / 80.0) ** 2
    more = np.stack([np.ones_like(beam), beam], axis=1)
    moments, diffuse = moments_with(clear, more, [clear.residual, clear.dhi])
    return StepData(moments, diffuse, days[minutes >= LEAST_OF_DAY], dull)


def step_design(course: Array) -> Array:
    """
    Design of a change of all three coefficients, with what closure holds beside them.

    Parameters
    ----------
    course : numpy.ndarray, shape (piece,)
        0 before the change, 1 behind it.

    Returns
    -------
    design : numpy.ndarray, shape (piece, 5, 9)
        Three constants, their changes, an offset and its change, the directional response.
    """
    design = np.zeros((course.size, 5, 9))
    at = np.arange(3)
    design[:, at, at] = design[:, OF_OFFSET, 6] = design[:, OF_DIRECTION, 8] = 1.0
    design[:, at, 3 + at] = course[:, None]
    design[:, OF_OFFSET, 7] = course
    return design


def evidence_at(data: StepData, piece: int) -> StepEvidence:
    """
    What changed before a piece.

    Parameters
    ----------
    data : StepData
        Of the month.
    piece : int
        The first behind the change.

    Returns
    -------
    evidence : StepEvidence
        With the floors and the few days allowed for.
    """
    course = (np.arange(data.moments.day.size) >= piece).astype(float)
    design = step_design(course)
    together = equations(data.moments, design, PRIOR)
    changed = slice(3, 6)
    found = estimated(together, range(3, 6))
    freedom = np.maximum(found.freedom[changed], 1.0)
    quantile = special.stdtrit(freedom, 0.5 + CONFIDENCE / 2)
    spread = found.half_width[changed] / quantile * _widening(freedom)
    variance = np.full((4, 4), 0.0)
    variance[:3, :3] = found.correlation[changed, changed] * np.outer(spread, spread)
    dull, share = _dull_change(data, piece)
    variance[DULL, DULL] = dull.variance * float(_widening(dull.freedom)) ** 2
    value = np.append(found.value[changed], dull.value)
    looks = together.value_of(data.diffuse.vector * course[:, None])[changed]
    return StepEvidence(piece, value, variance + np.diag(np.square(FLOORS)), looks, share)


def _widening(freedom: npt.ArrayLike) -> Array:
    return np.asarray(special.stdtrit(np.maximum(freedom, 1.0), FAR) / special.ndtri(FAR))


def _dull_change(data: StepData, piece: int) -> tuple[DayMean, float]:
    """Unknown where either side has too few hours or days; days between count to neither."""
    dull, days, number = data.dull, data.days, data.moments.day
    before = dull.day <= days[number[piece - 1]]
    later = dull.day >= days[number[piece]]
    sides = [mean_of_days(dull.value[m], dull.minutes[m], FULL_DULL) for m in (before, later)]
    if any(s.minutes < LEAST_DULL[0] or s.days < LEAST_DULL[1] for s in sides):
        return DayMean(float("nan"), float("inf"), 0, 0, 1.0), float("nan")
    variance = sum(s.variance for s in sides)
    freedom = variance**2 / max(sum(s.variance**2 / s.freedom for s in sides), 1e-300)
    value = sides[1].value - sides[0].value
    return DayMean(value, variance, 0, min(s.days for s in sides), freedom), dull.share


def mornings(moments: Moments) -> list[int]:
    """
    First pieces of days before which a step could be told.

    Parameters
    ----------
    moments : Moments
        Of the month.

    Returns
    -------
    pieces : list of int
        Empty where no morning has enough clear minutes on both sides.
    """
    day = moments.day
    return [k for k in candidates(moments) if day[k] != day[k - 1]]


def strongest(data: StepData, pieces: Sequence[int] | None = None) -> StepEvidence | None:
    """
    Evidence at the morning before which most changed.

    Parameters
    ----------
    data : StepData
        Of the month.
    pieces : sequence of int, optional
        Where to look; at all mornings by default.

    Returns
    -------
    evidence : StepEvidence or None
        None where there is nothing to look at.
    """
    at = mornings(data.moments) if pieces is None else pieces
    return max((evidence_at(data, k) for k in at), key=lambda e: e.strength, default=None)
