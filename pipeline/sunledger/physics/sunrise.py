"""Sunrise, solar noon and sunset."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.physics.ephemeris import Ephemeris, check_site, hour_angle, sun_ephemeris

Array = npt.NDArray[np.float64]

HORIZON_REFRACTION = 0.5667
"""Refraction at sunrise and sunset used by the solar position algorithm [degree]."""

SUN_SEMIDIAMETER = 0.26667
"""Half the apparent diameter of the sun used by the solar position algorithm [degree]."""


@dataclass(frozen=True)
class SunTimes:
    """
    Sunrise, noon and sunset of solar days.

    Parameters
    ----------
    sunrise, solar_noon, sunset : numpy.ndarray
        Instants, UTC; sunrise and sunset are NaN in polar day and night. [s since 1970-01-01]
    """

    sunrise: Array
    solar_noon: Array
    sunset: Array


def sun_times(
    day_start: npt.ArrayLike, latitude: float, longitude: float, delta_t: float | None = None
) -> SunTimes:
    """
    Return sunrise, solar noon and sunset of the solar day belonging to each given day.

    Parameters
    ----------
    day_start : float or array-like, shape (day,)
        Starts of the days, UTC. [s since 1970-01-01]
    latitude, longitude : float
        Of the site, north and east positive. [degree]
    delta_t : float, optional
        Terrestrial less universal time; a smooth function of time by default. [s]

    Returns
    -------
    SunTimes
        Arrays of the shape of ``day_start``.

    Raises
    ------
    ValueError
        If the site or a time is out of range.

    Notes
    -----
    The solar day is the one whose local *mean* noon lies within 24 h from ``day_start``, so that
    consecutive days give consecutive noons at every longitude; the true noon may lie 17 min
    outside, sunrise before ``day_start`` and sunset after its end. Sunrise and sunset: upper limb
    on a flat horizon, zenith angle 90.8334 degree, seen from the Earth's centre, as in the
    algorithm's paper. When the sun only grazes the horizon the times are soft by minutes.
    """
    check_site(latitude, longitude)
    starts = np.asarray(day_start, dtype=float)
    mean_noon = starts + np.mod(43200.0 - longitude * 240.0 - starts, 86400.0)
    noon = _solve_hour_angle(mean_noon, longitude, lambda e: 0.0 * e.distance, delta_t)

    def half_day(ephemeris: Ephemeris) -> Array:
        return _half_day_angle(ephemeris, latitude)

    width = half_day(sun_ephemeris(noon, delta_t)) * 240.0
    rise = _solve_hour_angle(noon - width, longitude, lambda e: -half_day(e), delta_t)
    down = _solve_hour_angle(noon + width, longitude, half_day, delta_t)
    return SunTimes(
        np.where(_on_horizon(rise, latitude, longitude, delta_t), rise, np.nan),
        np.asarray(noon),
        np.where(_on_horizon(down, latitude, longitude, delta_t), down, np.nan),
    )


def _solve_hour_angle(
    times: Array, longitude: float, target: Callable[[Ephemeris], Array], delta_t: float | None
) -> Array:
    """Move times until the hour angle equals ``target(ephemeris)``; five fixed-point steps."""
    for _ in range(5):
        ephemeris = sun_ephemeris(times, delta_t)
        miss = target(ephemeris) - hour_angle(ephemeris, times, longitude)
        times = times + (np.mod(miss + 180.0, 360.0) - 180.0) * 240.0
    return times


def _half_day_angle(ephemeris: Ephemeris, latitude: float) -> Array:
    """Hour angle of sunset; 0 in polar night and 180 in polar day [degree]."""
    phi = np.radians(latitude)
    horizon = np.sin(np.radians(-(HORIZON_REFRACTION + SUN_SEMIDIAMETER)))
    height = horizon - np.sin(phi) * ephemeris.sin_declination
    reach = np.maximum(np.cos(phi) * ephemeris.cos_declination, 1e-12)  # 0 at the poles
    return np.asarray(np.degrees(np.arccos(np.clip(height / reach, -1.0, 1.0))))


def _on_horizon(
    times: Array, latitude: float, longitude: float, delta_t: float | None
) -> npt.NDArray[np.bool_]:
    """Whether a solution found really has the sun on the horizon (it has not in polar day)."""
    ephemeris = sun_ephemeris(times, delta_t)
    phi = np.radians(latitude)
    angle = np.radians(hour_angle(ephemeris, times, longitude))
    height = np.sin(phi) * ephemeris.sin_declination + np.cos(
        phi
    ) * ephemeris.cos_declination * np.cos(angle)
    elevation = np.degrees(np.arcsin(np.clip(height, -1.0, 1.0)))
    return np.asarray(np.abs(elevation + HORIZON_REFRACTION + SUN_SEMIDIAMETER) < 0.01)
