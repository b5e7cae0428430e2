"""What changed at an instant of the month: closure by direction of the sun, and the dull ratio.

Four numbers: the change of global against direct, the leans toward east and north (from clear
minutes), and the change of the ratio of global to diffuse under a dull sky, which no lean and no
clock touches.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy import special

from sunledger.diagnosis.changes import candidates
from sunledger.diagnosis.closure_fit import (
    CONFIDENCE,
    EAST,
    LEAST_OF_DAY,
    NORTH,
    RESPONSIVITY,
    Moments,
    changing_design,
    fitted,
    moments_of_responses,
    solution,
)
from sunledger.diagnosis.mean_of_days import DayMean, mean_of_days
from sunledger.diagnosis.ratios import DayValues
from sunledger.diagnosis.selection import ClearMinutes, Days
from sunledger.diagnosis.separation import FULL_DULL, LEAST_DULL

Array = npt.NDArray[np.float64]

EVERY = (RESPONSIVITY, EAST, NORTH)
DULL = 3
FLOORS = (0.0015, np.radians(0.03), np.radians(0.05), 0.0025)
"""Standard deviation that no number of days takes away, of each number: temperature and level of
the season. Own values. [1, rad, rad, 1]"""
OFFSET, OFFSET_STEP, DIRECTIONAL = 3.0, 1.0, 0.01
"""Standard deviations of what closure holds beside the three coefficients: a constant offset and
its change within the month [W m-2], and the directional response of the global at a zenith angle of
80 degrees [1]. Where the sun's path parts leans badly, these pass for leans. About what a class A
pyranometer may have (ISO 9060); the change is an own value."""
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
    moments : Moments
        Of closure, regressed on the sun's direction.
    diffuse, offset, directional : Moments
        What the diffuse itself, an offset of 1 W m-2 and the directional response would look like.
    days : numpy.ndarray of int64, shape (day,)
        Local solar day of each day of the moments.
    dull : DayValues
        Dull ratio of each day.
    """

    moments: Moments
    diffuse: Moments
    offset: Moments
    directional: Moments
    days: Days
    dull: DayValues


def step_data(clear: ClearMinutes, moments: Moments, dull: DayValues) -> StepData:
    """
    Gather what the evidence is made of.

    Parameters
    ----------
    clear : ClearMinutes
        Of the month.
    moments : Moments
        Of its closure.
    dull : DayValues
        Of its dull hours.

    Returns
    -------
    data : StepData
        For :func:`evidence_at`.
    """
    days, minutes = np.unique(clear.day, return_counts=True)
    beam = clear.columns[:, RESPONSIVITY] * (clear.zenith / 80.0) ** 2
    diffuse, offset, directional = moments_of_responses(
        clear, [clear.dhi, np.ones_like(beam), beam]
    )
    return StepData(moments, diffuse, offset, directional, days[minutes >= LEAST_OF_DAY], dull)


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
    moments = data.moments
    course = (np.arange(moments.day.size) >= piece).astype(float)
    design = changing_design(moments, course, EVERY)
    found = fitted(moments, design)
    changed = slice(3, 6)
    freedom = np.maximum(found.freedom[changed], 1.0)
    quantile = special.stdtrit(freedom, 0.5 + CONFIDENCE / 2)
    spread = found.half_width[changed] / quantile * _widening(freedom)
    variance = np.full((4, 4), 0.0)
    variance[:3, :3] = found.correlation[changed, changed] * np.outer(spread, spread)
    dull, share = _dull_change(data, piece)
    variance[DULL, DULL] = dull.variance * float(_widening(dull.freedom)) ** 2
    value = np.append(found.value[changed], dull.value)
    variance += np.diag(np.square(FLOORS)) + _imperfections(data, design, course)
    return StepEvidence(piece, value, variance, _looks(data.diffuse, design, course), share)


def _looks(moments: Moments, design: Array, course: Array) -> Array:
    """What a response looks like in the changes of the coefficients where it has some course."""
    partly = replace(moments, vector=moments.vector * course[:, None])
    return solution(partly, design)[3:6]


def _imperfections(data: StepData, design: Array, course: Array) -> Array:
    """Covariance of what passes for a change without being one."""
    always = np.ones_like(course)
    looks = (
        OFFSET * _looks(data.offset, design, always),
        OFFSET_STEP * _looks(data.offset, design, course),
        DIRECTIONAL * _looks(data.directional, design, always),
    )
    out = np.zeros((4, 4))
    out[:3, :3] = sum(np.outer(look, look) for look in looks)
    return out


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


def strongest(data: StepData) -> StepEvidence | None:
    """
    Evidence at the morning before which most changed.

    Parameters
    ----------
    data : StepData
        Of the month.

    Returns
    -------
    evidence : StepEvidence or None
        None where no morning has enough clear minutes on both sides.
    """
    return max(_every(data), key=lambda e: e.strength, default=None)


def _every(data: StepData) -> Iterator[StepEvidence]:
    day = data.moments.day
    for piece in candidates(data.moments):
        if day[piece] != day[piece - 1]:
            yield evidence_at(data, piece)
