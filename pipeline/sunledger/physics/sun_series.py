"""Height of the sun for a regular series, from the algorithm at every twentieth minute."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from sunledger.physics.sun import cosine_zenith, extraterrestrial_normal, mean_cosine_zenith

Array = npt.NDArray[np.float64]

KNOT = 1200
"""Distance of the instants at which the algorithm runs, on absolute multiples. [s]"""
LONGEST_MIDDLE = 600
"""Longest interval for which the sun at its middle stands for the interval. [s]"""
_NODES = np.arange(-3.0, 5.0)
_GRAZING = -0.001
"""Cosine at both knots beyond which the sun cannot be up between them: it falls off by the square
of half the angle that the Earth turns from one to the next, halved. [-]"""


class Site(NamedTuple):
    """
    Where the sun is seen from.

    Parameters
    ----------
    latitude, longitude : float
        North and east positive. [degree]
    altitude : float
        Above sea level. [m]
    """

    latitude: float
    longitude: float
    altitude: float


class SunSeries(NamedTuple):
    """
    The sun over a series.

    Parameters
    ----------
    cosine : numpy.ndarray, shape (time,)
        Of the true zenith angle, 0 where the sun is below the horizon. [-]
    horizontal : numpy.ndarray, shape (time,)
        Irradiance on the horizontal above the atmosphere. [W m-2]
    """

    cosine: Array
    horizontal: Array


def sun_series(start: int, interval: int, residual: Array, site: Site) -> SunSeries:
    r"""
    Return the sun at the true middles of regular intervals.

    Parameters
    ----------
    start : int
        Start of the first interval, UTC. [s since 1970-01-01]
    interval : int
        Length of the intervals. [s]
    residual : numpy.ndarray, shape (time,)
        True start less nominal start of each interval, at most half an interval. [s]
    site : Site
        Where.

    Returns
    -------
    SunSeries
        For intervals above `LONGEST_MIDDLE` the mean of :math:`\max(\cos z, 0)` over each.

    Notes
    -----
    Where the intervals fit into `KNOT`, the cosine is a polynomial of seventh degree through the
    eight nearest knots, which is within 1e-11 of the algorithm itself. Knots are absolute
    instants, so that a value does not depend on where the series was cut.
    """
    if interval > LONGEST_MIDDLE or KNOT % interval:
        return _by_the_algorithm(start, interval, residual, site)
    per_knot = KNOT // interval
    ahead = (start % KNOT) // interval
    base, phase = start - start % KNOT, start % interval
    rows = -(-(ahead + residual.size) // per_knot)
    shift = np.zeros(rows * per_knot)
    shift[ahead : ahead + residual.size] = residual
    cosine, distance = cosine_zenith(base + KNOT * np.arange(-3, rows + 4), *site)
    lit = np.flatnonzero(np.maximum.reduce([cosine[k : k + rows] for k in range(2, 6)]) > _GRAZING)
    # by columns: all first intervals after a knot, all second ones, and so on
    middles = phase + interval * np.arange(per_knot) + interval / 2
    x = np.ascontiguousarray(shift.reshape(rows, per_knot).take(lit, axis=0).T)
    x += middles[:, None]
    x /= KNOT
    height = _horner(_coefficients(cosine, lit), x)
    np.maximum(height, 0.0, out=height)
    normal = extraterrestrial_normal(distance)[3:-3]
    strength = x  # no longer needed for itself
    strength *= (normal[1:] - normal[:-1])[lit]
    strength += normal[lit]
    strength *= height
    inside = slice(ahead, ahead + residual.size)
    return SunSeries(*(_in_order(found, lit, rows)[inside] for found in (height, strength)))


def _in_order(columns: Array, lit: npt.NDArray[np.intp], rows: int) -> Array:
    """Along time, 0 between the knots that are dark."""
    out = np.zeros((rows, columns.shape[0]))
    out[lit] = columns.T
    return out.reshape(-1)


def _by_the_algorithm(start: int, interval: int, residual: Array, site: Site) -> SunSeries:
    starts = start + interval * np.arange(residual.size) + residual
    cosine, distance = cosine_zenith(starts + interval / 2, *site)
    if interval > LONGEST_MIDDLE:
        cosine = mean_cosine_zenith(starts, interval, *site)
    height = np.maximum(cosine, 0.0)
    return SunSeries(height, extraterrestrial_normal(distance) * height)


@lru_cache(maxsize=1)
def _inverse() -> Array:
    """From values at the nodes to the coefficients of the polynomial through them."""
    return np.linalg.inv(np.vander(_NODES, increasing=True))


def _coefficients(values: Array, wanted: npt.NDArray[np.intp]) -> Array:
    """Rising powers, a row each; summed in a fixed order, which a matrix product has not."""
    inverse = _inverse()
    total: Array = inverse[:, :1] * values[wanted]
    for node in range(1, _NODES.size):
        total += inverse[:, node : node + 1] * values[wanted + node]
    return total


def _horner(coefficients: Array, x: Array) -> Array:
    total: Array = coefficients[-1] * x
    for coefficient in coefficients[-2:0:-1]:
        total += coefficient
        total *= x
    total += coefficients[0]
    return total
