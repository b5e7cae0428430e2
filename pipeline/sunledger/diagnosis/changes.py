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
    fitted,
    misfit,
)

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
        Three constants, then the changes.
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


def enough(moments: Moments, later: npt.NDArray[np.bool_]) -> bool:
    """
    Say whether both sides of a step hold enough.

    Parameters
    ----------
    moments : Moments
        Of the month.
    later : numpy.ndarray of bool, shape (piece,)
        Pieces behind the step.

    Returns
    -------
    enough : bool
        ``LEAST_MINUTES`` from ``LEAST_DAYS`` days on each side; a day counts where it has at least
        ``LEAST_OF_DAY`` minutes there.
    """
    for side in (later, ~later):
        of_day = np.bincount(moments.day, moments.minutes * side, moments.days)
        if of_day.sum() < LEAST_MINUTES or np.sum(of_day >= LEAST_OF_DAY) < LEAST_DAYS:
            return False
    return True


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
        Empty where there is not enough evidence. None where a break on record parts the same
        pieces: nothing tells the two apart.
    """
    every = np.arange(moments.day.size)
    known = set(np.searchsorted(moments.middle, moments.breaks).tolist())
    return [k for k in range(1, every.size) if k not in known and enough(moments, every >= k)]


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
        for k in candidates(moments)
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
    design = changing_design(moments, course, which)
    found = fitted(moments, design)
    return Change(course, *between, which, found, misfit(moments, design))
