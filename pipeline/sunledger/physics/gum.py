"""Combination of uncertainties after the GUM (JCGM 100:2008)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from sunledger.physics.special import special

Array = npt.NDArray[np.float64]


def rectangular(half_width: npt.ArrayLike) -> Array:
    """
    Return the standard uncertainty of a value known to lie evenly within limits.

    Parameters
    ----------
    half_width : float or array-like
        Half the distance of the limits.

    Returns
    -------
    numpy.ndarray
        Half-width over the square root of 3, same unit (JCGM 100:2008, 4.3.7).
    """
    return np.asarray(np.asarray(half_width, dtype=float) / np.sqrt(3.0))


def combined_standard_uncertainty(contributions: Sequence[npt.ArrayLike]) -> Array:
    """
    Return the combined standard uncertainty of uncorrelated contributions.

    Parameters
    ----------
    contributions : sequence of float or array-like
        Products c u of sensitivity coefficient and standard uncertainty, same unit.

    Returns
    -------
    numpy.ndarray
        Root of the sum of squares; NaN wherever one is NaN (JCGM 100:2008, eq. 10).

    Raises
    ------
    ValueError
        If there is no contribution.
    """
    if len(contributions) == 0:
        raise ValueError("contributions must hold at least one (got none)")
    total: Array = np.zeros(())
    for contribution in contributions:
        square = np.asarray(np.square(np.asarray(contribution, dtype=float)))
        if total.shape == square.shape:
            total += square  # an array of its own by now
        else:
            total = np.asarray(total + square)
    return np.asarray(np.sqrt(total))


def effective_degrees_of_freedom(
    contributions: Sequence[npt.ArrayLike], degrees: Sequence[float]
) -> Array:
    """
    Return the effective degrees of freedom by Welch and Satterthwaite.

    Parameters
    ----------
    contributions : sequence of float or array-like
        Products c u, same unit.
    degrees : sequence of float
        Degrees of freedom of each; infinity for limits taken as certain.

    Returns
    -------
    numpy.ndarray
        Not rounded down; infinity when all are (JCGM 100:2008, eq. G.2b). [-]

    Raises
    ------
    ValueError
        If the lengths differ or degrees are not positive.
    """
    if len(contributions) != len(degrees):
        raise ValueError(
            f"degrees must be as many as contributions, {len(contributions)} (got {len(degrees)})"
        )
    if not all(nu > 0 for nu in degrees):
        raise ValueError(f"degrees of freedom must be positive (got {min(degrees)!r})")
    combined = combined_standard_uncertainty(contributions)
    total: Array = np.zeros(())
    for contribution, nu in zip(contributions, degrees, strict=True):
        total = total + np.asarray(contribution, dtype=float) ** 4 / nu
    safe = np.where(total == 0.0, 1.0, total)
    return np.asarray(np.where(total == 0.0, np.inf, combined**4 / safe))


def coverage_factor(degrees: npt.ArrayLike, level: float = 0.95) -> Array:
    """
    Return the factor k of an interval with a stated level of confidence.

    Parameters
    ----------
    degrees : float or array-like
        Effective degrees of freedom; cut to a whole number first, as in JCGM 100:2008 G.4.1.
    level : float
        Level of confidence, between 0 and 1. [-]

    Returns
    -------
    numpy.ndarray
        Quantile of Student's t; of the normal distribution for infinity. [-]

    Raises
    ------
    ValueError
        If ``level`` is not between 0 and 1.
    """
    if not 0.0 < level < 1.0:
        raise ValueError(f"level must lie between 0 and 1 (got {level!r})")
    nu = np.floor(np.asarray(degrees, dtype=float))
    upper = 0.5 + level / 2.0
    student = special.stdtrit(np.where(np.isinf(nu), 1.0, nu), upper)
    return np.asarray(np.where(np.isinf(nu), special.ndtri(upper), student))


def expanded_uncertainty(standard: npt.ArrayLike, factor: npt.ArrayLike = 2.0) -> Array:
    """
    Return the expanded uncertainty.

    Parameters
    ----------
    standard : float or array-like
        Combined standard uncertainty.
    factor : float or array-like
        Coverage factor k. [-]

    Returns
    -------
    numpy.ndarray
        Their product, in the unit of ``standard``.
    """
    return np.asarray(np.asarray(standard, dtype=float) * np.asarray(factor, dtype=float))
