r"""Night offset against net longwave and cooling, over the nights of a month.

A night's reading in the dark is :math:`z + a\,N/(-200) + b\,\dot T/5`: the zero of cable and input,
the offset a of ISO 9060 in proportion to the net longwave, and its offset b in proportion to the
rate at which the body's temperature changes. What is left of a night is one draw.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.grouped import distinct, medians
from sunledger.diagnosis.robust import huber_weights, spread
from sunledger.physics.special import special

Array = npt.NDArray[np.float64]
Nights = npt.NDArray[np.int64]

AT_NET, AT_RATE = -200.0, 5.0
"""Net longwave [W m-2] and rate of the body's temperature [K h-1] at which classes state offsets a
and b (ISO 9060)."""
LEAST_MINUTES = 120
"""Dark minutes that a night must have."""
INPUT_ZERO = 0.1
"""Standard deviation of the zero of cable and input, where the nights themselves do not tell it:
1 uV, which the BSRN Operations Manual v2.1 (2005, Annex F) asks of data acquisition, at
10 uV W-1 m2. [W m-2]"""
BY_COOLING = 4.0
"""Standard deviation of offset b, where nights do not tell it: what class B allows (ISO 9060).
[W m-2]"""
_ROUNDS, _LEAST_SPREAD = 8, 1e-4
_LEAST_FREE = 0.1
"""What a night is left at least by the others, where it tells a coefficient alone."""


@dataclass(frozen=True)
class NightFit:
    """
    What the nights tell.

    Parameters
    ----------
    nights : int
        How many.
    value : numpy.ndarray, shape (3,)
        Zero of cable and input, offset a, offset b; the last NaN where the rate is unknown. [W m-2]
    half_width : numpy.ndarray, shape (3,)
        Half their intervals of 95 %, as the scatter of the nights has them. [W m-2]
    """

    nights: int
    value: Array
    half_width: Array


def night_fit(value: Array, night: Nights, net: Array, rate: Array | None) -> NightFit | None:
    """
    Fit zero, offset a and offset b.

    Parameters
    ----------
    value : numpy.ndarray, shape (minute,)
        Measured in the dark, all of it known. [W m-2]
    night : numpy.ndarray of int64, shape (minute,)
        Number of the night, rising.
    net : numpy.ndarray, shape (minute,)
        Net longwave. [W m-2]
    rate : numpy.ndarray or None, shape (minute,)
        Rate of the body's temperature. [K h-1]

    Returns
    -------
    fit : NightFit or None
        None with no more whole nights than there are coefficients.

    Notes
    -----
    The median of a night is taken of what the fit leaves, which is symmetric; net and readings are
    skewed where clouds pass, and the ratio of their medians is off by some percents. Nights err
    alike and independently (their residuals showed no correlation); Huber's weights bound the odd
    one. Zero and offset b have the spread that :data:`INPUT_ZERO` and :data:`BY_COOLING` state as
    a prior, which matters where nights are few or alike. Intervals are the wider ones by the
    scatter common to all nights and by that of each night by itself [1]_.

    References
    ----------
    .. [1] J. G. MacKinnon and H. White, "Some heteroskedasticity-consistent covariance matrix
       estimators with improved finite sample properties," J. Econometrics, vol. 29, pp. 305-325,
       1985: the second of them.
    """
    kept, place = _whole_nights(night)
    columns = [np.ones(kept.sum()), net[kept] / AT_NET]
    columns += [] if rate is None else [rate[kept] / AT_RATE]
    minutes, reading = np.stack(columns, axis=1), value[kept]
    count = int(place[-1]) + 1 if place.size else 0
    if count <= minutes.shape[1]:
        return None
    size = np.bincount(place)
    means = np.stack([np.bincount(place, c) / size for c in minutes.T], axis=1)
    prior = np.diag([INPUT_ZERO**-2.0, 0.0, BY_COOLING**-2.0][: means.shape[1]])
    left, weights = np.zeros(count), np.ones(count)
    found, _ = _solved(means, np.bincount(place, reading) / size, prior, np.zeros(means.shape[1]))
    for _ in range(_ROUNDS):
        level = medians(reading - minutes @ found, size) + means @ found
        found, weights = _solved(means, level, prior, found)
        left = level - means @ found
    return _told(means, left, weights, (prior, found))


def _whole_nights(night: Nights) -> tuple[npt.NDArray[np.bool_], Nights]:
    """Minutes of nights that have enough of them, and the number of the night of each."""
    _, place, count = distinct(night)
    whole = count >= LEAST_MINUTES
    kept = whole[place]
    return kept, (np.cumsum(whole) - 1)[place[kept]]


def _spread(left: Array, coefficients: int) -> float:
    few = left.size / (left.size - coefficients)
    return max(spread(left) * float(np.sqrt(few)), _LEAST_SPREAD)


def _solved(means: Array, level: Array, prior: Array, found: Array) -> tuple[Array, Array]:
    weights = np.ones(level.size)
    for _ in range(_ROUNDS):
        left = level - means @ found
        sigma = _spread(left, means.shape[1])
        weights = huber_weights(left, sigma)
        weighed = means * weights[:, None] / sigma**2
        before = found
        found = np.asarray(np.linalg.solve(means.T @ weighed + prior, weighed.T @ level))
        if (found == before).all():  # and so it will stay
            break
    return found, weights


def _told(means: Array, left: Array, weights: Array, fit: tuple[Array, Array]) -> NightFit:
    prior, found = fit
    nights, coefficients = means.shape
    freedom = nights - coefficients
    # of an M-estimate: what is cut pulls no further, so that only the nights within count
    within = max(np.count_nonzero(weights > 0.999) / nights, 0.5)
    scatter = max(float(np.sum((weights * left) ** 2)) / freedom, _LEAST_SPREAD**2)
    inverse = np.linalg.inv(within * means.T @ means + prior * scatter)
    # the few nights that cooled otherwise than most tell offset b: their own scatter counts where
    # it is larger than that of all
    lever = np.einsum("ni,ij,nj->n", means, np.linalg.pinv(means.T @ means), means)
    own = (weights * left) ** 2 / np.maximum(1.0 - lever, _LEAST_FREE)
    each = inverse @ (means.T @ (means * own[:, None]) + prior * scatter**2) @ inverse
    common = np.linalg.inv(means.T @ means * within**2 / scatter + prior)
    variance = np.maximum(np.diag(each), np.diag(common))
    half = special.stdtrit(freedom, 0.975) * np.sqrt(variance)
    missing = np.full(3 - coefficients, np.nan)
    return NightFit(nights, np.append(found, missing), np.append(half, missing))
