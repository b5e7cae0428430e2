"""Steps and drifts of the closure's coefficients within a month."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.closure_fit import (
    EAST,
    LEAST_OF_DAY,
    Estimate,
    Moments,
    changing_design,
    equations,
    estimated,
    misfit,
)
from sunledger.diagnosis.step_screen import worth_a_fit

Array = npt.NDArray[np.float64]

LEAST_MINUTES = 1000
LEAST_DAYS = 3
"""What must lie on each side of a step for a verdict; half of a drift's data as well."""
DAY = 86400.0


@dataclass(frozen=True)
class Change:
    """
    A change of coefficients and how sure it is.

    Parameters
    ----------
    course : numpy.ndarray, shape (piece,)
        Share of the change that each piece has.
    after, before : float
        A step lies between these two instants, a drift runs from the one to the other.
        [s since 1970-01-01]
    which : tuple of int
        Coefficients that change.
    estimate : Estimate
        Three constants, then the changes, of which alone intervals are known.
    misfit : float
        Less is better.
    """

    course: Array
    after: float
    before: float
    which: tuple[int, ...]
    estimate: Estimate
    misfit: float

    def size(self, coefficient: int) -> tuple[float, float, float]:
        """
        Change of a coefficient.

        Parameters
        ----------
        coefficient : int
            One of ``which``.

        Returns
        -------
        value, half_width, chance : float
            Of the change; the chance of so large a one where there is none.
        """
        at = 3 + self.which.index(coefficient)
        found = self.estimate
        return float(found.value[at]), float(found.half_width[at]), found.chance(at)


def candidates(moments: Moments) -> list[int]:
    """
    Pieces before which a step could be told.

    Parameters
    ----------
    moments : Moments
        Of the month.

    Returns
    -------
    pieces : list of int
        ``LEAST_MINUTES`` from ``LEAST_DAYS`` days lie on each side; a day counts where it has at
        least ``LEAST_OF_DAY`` minutes there. None where a break on record parts the same pieces:
        nothing tells the two apart.
    """
    if not moments.day.size:
        return []
    minutes, number = moments.minutes, moments.day
    of_day = np.bincount(number, minutes, moments.days)
    behind = np.cumsum(minutes[::-1])[::-1]
    later = np.append(np.cumsum(of_day[::-1])[::-1], 0.0)[1:]
    whole = of_day >= LEAST_OF_DAY
    after = np.append(np.cumsum(whole[::-1])[::-1], 0)[1:]
    # the day that a piece parts counts on either side with what it has there
    last = behind - later[number]
    days = after[number] + (last >= LEAST_OF_DAY)
    days_before = whole.sum() - whole[number] - after[number]
    days_before += of_day[number] - last >= LEAST_OF_DAY
    fit = (behind >= LEAST_MINUTES) & (minutes.sum() - behind >= LEAST_MINUTES)
    fit &= (days >= LEAST_DAYS) & (days_before >= LEAST_DAYS)
    fit[0] = False
    known = set(np.searchsorted(moments.middle, moments.breaks).tolist())
    return [k for k in np.flatnonzero(fit).tolist() if k not in known]


def best_step(moments: Moments, which: tuple[int, ...] = (EAST,)) -> Change | None:
    """
    The step that explains most.

    Parameters
    ----------
    moments : Moments
        Of the month.
    which : tuple of int
        Coefficients that step.

    Returns
    -------
    change : Change or None
        None where there is not enough evidence on both sides of any instant.
    """
    every = np.arange(moments.day.size)
    tried = [
        (misfit(moments, changing_design(moments, (every >= k).astype(float), which)), k)
        for k in worth_a_fit(moments, candidates(moments), which)
    ]
    return step_before(moments, min(tried)[1], which) if tried else None


def step_before(moments: Moments, piece: int, which: tuple[int, ...]) -> Change:
    """
    The step before a given piece.

    Parameters
    ----------
    moments : Moments
        Of the month.
    piece : int
        The first that has it.
    which : tuple of int
        Coefficients that step.

    Returns
    -------
    change : Change
        With its interval.
    """
    course = (np.arange(moments.day.size) >= piece).astype(float)
    between = float(moments.last[piece - 1]), float(moments.first[piece])
    return _change(moments, course, between, which)


def drift(moments: Moments, which: tuple[int, ...] = (EAST,)) -> Change | None:
    """
    A steady change from the first to the last clear minute.

    Parameters
    ----------
    moments : Moments
        Of the month.
    which : tuple of int
        Coefficients that drift.

    Returns
    -------
    change : Change or None
        Sizes per day. None where no step could be told either.
    """
    if not candidates(moments):
        return None
    between = float(moments.first[0]), float(moments.last[-1])
    course = (moments.middle - between[0]) / DAY
    return _change(moments, course, between, which)


def _change(
    moments: Moments, course: Array, between: tuple[float, float], which: tuple[int, ...]
) -> Change:
    found = equations(moments, changing_design(moments, course, which))
    estimate = estimated(found, range(3, 3 + len(which)))
    return Change(course, *between, which, estimate, found.misfit)
