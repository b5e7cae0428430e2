"""Instants at which a sundial shows a given time."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sunledger.physics.ephemeris import check_site, sun_ephemeris

Array = npt.NDArray[np.float64]

_STEPS = 4  # the equation of time moves by 30 s a day at most, so each step gains 3.5 digits


def solar_label(unix_time: npt.ArrayLike, longitude: float) -> Array:
    """
    Return the date and time that a sundial shows.

    Parameters
    ----------
    unix_time : float or array-like
        Instants, UTC. [s since 1970-01-01]
    longitude : float
        Of the site, east positive. [degree]

    Returns
    -------
    label : numpy.ndarray
        True solar time, counted like UTC. [s since 1970-01-01 00:00 true solar time]

    Raises
    ------
    ValueError
        If the longitude is out of range.
    """
    check_site(0.0, longitude)
    times = np.asarray(unix_time, dtype=float)
    ahead = sun_ephemeris(times).equation_of_time * 240.0
    return np.asarray(times + _signed(longitude) * 240.0 + ahead)


def solar_instant(label: npt.ArrayLike, longitude: float) -> Array:
    """
    Return the instants at which a sundial shows given dates and times.

    Parameters
    ----------
    label : float or array-like
        True solar time. [s since 1970-01-01 00:00 true solar time]
    longitude : float
        Of the site, east positive. [degree]

    Returns
    -------
    instant : numpy.ndarray
        UTC. [s since 1970-01-01]

    Raises
    ------
    ValueError
        If the longitude is out of range.

    Notes
    -----
    The inverse of :func:`solar_label`, by fixed-point steps.
    """
    check_site(0.0, longitude)
    mean = np.asarray(label, dtype=float) - _signed(longitude) * 240.0
    instant = mean
    for _ in range(_STEPS):
        instant = mean - sun_ephemeris(instant).equation_of_time * 240.0
    return np.asarray(instant)


def _signed(longitude: float) -> float:
    """Longitude from -180 to 180, so that the date is that of the calendar there."""
    return (longitude + 180.0) % 360.0 - 180.0
