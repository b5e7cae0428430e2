"""Where the sun stands and how strong it is above the atmosphere."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.physics.ephemeris import (
    Ephemeris,
    check_site,
    delta_t_seconds,
    hour_angle,
    spa_module,
    sun_ephemeris,
)
from sunledger.physics.sunrise import HORIZON_REFRACTION, SunTimes, sun_times

__all__ = [
    "SOLAR_CONSTANT",
    "SolarPosition",
    "SunTimes",
    "cosine_zenith",
    "delta_t_seconds",
    "equation_of_time",
    "extraterrestrial_normal",
    "mean_cosine_zenith",
    "solar_position",
    "standard_pressure",
    "sun_times",
    "true_solar_time",
    "zenith_angle",
]

Array = npt.NDArray[np.float64]

SOLAR_CONSTANT = 1361.0
"""Nominal total solar irradiance at 1 AU, IAU 2015 Resolution B3 [W m-2]."""

_EARTH_RADIUS = 6378140.0  # equatorial, m; this and the flattening as in the algorithm's paper
_FLATTENING_FACTOR = 0.99664719
_PARALLAX_AT_1_AU = 8.794 / 3600.0  # degree
_SUB_STEP = 60.0  # s; in a mean over an hour the kink at sunrise costs less than 1e-5 of cos z


@dataclass(frozen=True)
class SolarPosition:
    """
    Topocentric position of the sun.

    Parameters
    ----------
    zenith : numpy.ndarray
        True (unrefracted) zenith angle. [degree]
    apparent_zenith : numpy.ndarray
        Zenith angle with refraction. [degree]
    azimuth : numpy.ndarray
        Clockwise from north, 0 <= azimuth < 360. [degree]
    distance : numpy.ndarray
        From the Earth's centre to the sun. [AU]
    """

    zenith: Array
    apparent_zenith: Array
    azimuth: Array
    distance: Array


def solar_position(  # noqa: PLR0913 - the seven physical inputs of the published algorithm
    unix_time: npt.ArrayLike,
    latitude: float,
    longitude: float,
    altitude: float = 0.0,
    pressure: npt.ArrayLike | None = None,
    temperature: npt.ArrayLike = 285.15,
    delta_t: float | None = None,
) -> SolarPosition:
    """
    Return the topocentric position of the sun.

    Parameters
    ----------
    unix_time : float or array-like
        Instants, UTC; use the middle of an averaging interval. [s since 1970-01-01]
    latitude, longitude : float
        Of the site, north and east positive. [degree]
    altitude : float
        Of the site above sea level. [m]
    pressure : float or array-like, optional
        Air pressure, for refraction; standard atmosphere at ``altitude`` by default. [Pa]
    temperature : float or array-like
        Air temperature, for refraction. [K]
    delta_t : float, optional
        Terrestrial less universal time; a smooth function of time by default. [s]

    Returns
    -------
    SolarPosition
        Arrays of the shape of ``unix_time``.

    Raises
    ------
    ValueError
        If latitude or longitude is out of range, or a time outside the years -1999 to 3000.

    Notes
    -----
    Within 1e-6 degree (great circle) of the full algorithm, which itself is good to 0.0003
    degree. UTC is taken as UT1: the difference of up to 0.9 s turns the Earth by 0.004 degree.
    The parallax is applied by vectors, algebraically as in the paper but without arc sines.

    References
    ----------
    .. [1] I. Reda and A. Andreas, "Solar position algorithm for solar radiation applications,"
       NREL/TP-560-34302, revised 2008.
    """
    check_site(latitude, longitude)
    times = np.asarray(unix_time, dtype=float)
    ephemeris = sun_ephemeris(times, delta_t)
    east, north, up = _topocentric_vector(ephemeris, times, latitude, longitude, altitude)
    zenith = _zenith(east, north, up)
    azimuth = np.degrees(np.arctan2(east, north))
    azimuth = np.where(azimuth < 0.0, azimuth + 360.0, azimuth)
    azimuth = np.where(azimuth >= 360.0, 0.0, azimuth)  # -1e-15 + 360 rounds to 360
    pressure = standard_pressure(altitude) if pressure is None else pressure
    lift = _refraction(90.0 - zenith, pressure, temperature)
    return SolarPosition(np.asarray(zenith), np.asarray(zenith - lift), azimuth, ephemeris.distance)


def zenith_angle(
    unix_time: npt.ArrayLike, latitude: float, longitude: float, altitude: float = 0.0
) -> Array:
    """
    Return the true zenith angle of the sun and nothing else, which takes half the time.

    Parameters
    ----------
    unix_time : float or array-like
        Instants, UTC. [s since 1970-01-01]
    latitude, longitude : float
        Of the site, north and east positive. [degree]
    altitude : float
        Of the site above sea level. [m]

    Returns
    -------
    numpy.ndarray
        As :func:`solar_position` gives it. [degree]

    Raises
    ------
    ValueError
        If latitude or longitude is out of range, or a time outside the years -1999 to 3000.
    """
    check_site(latitude, longitude)
    times = np.asarray(unix_time, dtype=float)
    vector = _topocentric_vector(sun_ephemeris(times), times, latitude, longitude, altitude)
    return _zenith(*vector)


def standard_pressure(altitude: npt.ArrayLike) -> Array:
    """
    Return the pressure of the standard atmosphere.

    Parameters
    ----------
    altitude : float or array-like
        Above sea level, below 44331 m. [m]

    Returns
    -------
    numpy.ndarray
        Air pressure. [Pa]

    Notes
    -----
    Sea level 101325 Pa at 288.15 K, lapse rate 6.5 K km-1.

    References
    ----------
    .. [1] International Organization for Standardization, "Standard atmosphere," ISO 2533:1975.
    """
    height = np.asarray(altitude, dtype=float)
    return np.asarray(101325.0 * (1.0 - 0.0065 * height / 288.15) ** 5.25588)


def extraterrestrial_normal(
    distance: npt.ArrayLike, solar_constant: float = SOLAR_CONSTANT
) -> Array:
    """
    Return the solar irradiance normal to the beam above the atmosphere.

    Parameters
    ----------
    distance : float or array-like
        From the Earth to the sun. [AU]
    solar_constant : float
        Irradiance at 1 AU; store the value used with the data. [W m-2]

    Returns
    -------
    numpy.ndarray
        Extraterrestrial normal irradiance. [W m-2]
    """
    return np.asarray(solar_constant / np.asarray(distance, dtype=float) ** 2)


def mean_cosine_zenith(
    start_time: npt.ArrayLike,
    interval: float,
    latitude: float,
    longitude: float,
    altitude: float = 0.0,
    delta_t: float | None = None,
) -> Array:
    """
    Return the mean of max(cos z, 0) over intervals, z being the true zenith angle.

    Parameters
    ----------
    start_time : float or array-like
        Starts of the intervals, UTC. [s since 1970-01-01]
    interval : float
        Length of the intervals. [s]
    latitude, longitude : float
        Of the site, north and east positive. [degree]
    altitude : float
        Of the site above sea level. [m]
    delta_t : float, optional
        Terrestrial less universal time; a smooth function of time by default. [s]

    Returns
    -------
    numpy.ndarray
        Mean cosine, of the shape of ``start_time``. [-]

    Raises
    ------
    ValueError
        If ``interval`` is not positive, or the site or a time is out of range.

    Notes
    -----
    Midpoint rule in equal steps of at most one minute. For intervals above 10 min the cosine at
    the middle is no longer good enough near sunrise and sunset.
    """
    check_site(latitude, longitude)
    if not interval > 0:
        raise ValueError(f"interval must be positive (got {interval!r})")
    starts = np.asarray(start_time, dtype=float)
    count = int(np.ceil(interval / _SUB_STEP))
    middles = (np.arange(count) + 0.5) * (interval / count)
    times = starts[..., None] + middles
    cosine = _cosine(sun_ephemeris(times, delta_t), times, latitude, longitude, altitude)
    return np.asarray(np.maximum(cosine, 0.0).sum(axis=-1) / count)


def cosine_zenith(
    unix_time: npt.ArrayLike, latitude: float, longitude: float, altitude: float = 0.0
) -> tuple[Array, Array]:
    """
    Return the cosine of the true zenith angle, and the distance of the sun.

    Parameters
    ----------
    unix_time : float or array-like
        Instants, UTC. [s since 1970-01-01]
    latitude, longitude : float
        Of the site, north and east positive. [degree]
    altitude : float
        Of the site above sea level. [m]

    Returns
    -------
    cosine : numpy.ndarray
        Negative with the sun below the horizon. [-]
    distance : numpy.ndarray
        From the Earth's centre to the sun. [AU]

    Raises
    ------
    ValueError
        If latitude or longitude is out of range, or a time outside the years -1999 to 3000.
    """
    check_site(latitude, longitude)
    times = np.asarray(unix_time, dtype=float)
    ephemeris = sun_ephemeris(times)
    return _cosine(ephemeris, times, latitude, longitude, altitude), ephemeris.distance


def equation_of_time(unix_time: npt.ArrayLike) -> Array:
    """
    Return true minus mean solar time.

    Parameters
    ----------
    unix_time : float or array-like
        Instants, UTC. [s since 1970-01-01]

    Returns
    -------
    numpy.ndarray
        Equation of time, positive when the sundial is ahead of the clock. [s]
    """
    return sun_ephemeris(unix_time).equation_of_time * 240.0


def true_solar_time(unix_time: npt.ArrayLike, longitude: float) -> Array:
    """
    Return the time a sundial shows.

    Parameters
    ----------
    unix_time : float or array-like
        Instants, UTC. [s since 1970-01-01]
    longitude : float
        Of the site, east positive. [degree]

    Returns
    -------
    numpy.ndarray
        Seconds since true midnight; 43200 when the sun crosses the meridian. [s]
    """
    times = np.asarray(unix_time, dtype=float)
    angle = hour_angle(sun_ephemeris(times), times, longitude)
    return np.asarray(np.mod((angle + 180.0) * 240.0, 86400.0))


def _cosine(
    ephemeris: Ephemeris, times: Array, latitude: float, longitude: float, altitude: float
) -> Array:
    """Cosine of the true zenith angle."""
    east, north, up = _topocentric_vector(ephemeris, times, latitude, longitude, altitude)
    return np.asarray(up / np.sqrt(east**2 + north**2 + up**2))


def _zenith(east: Array, north: Array, up: Array) -> Array:
    return np.asarray(np.degrees(np.arctan2(np.hypot(north, east), up)))


def _topocentric_vector(
    ephemeris: Ephemeris, times: Array, latitude: float, longitude: float, altitude: float
) -> tuple[Array, Array, Array]:
    """East, north and up components of the direction to the sun, length about 1."""
    phi = np.radians(latitude)
    reduced = np.arctan(_FLATTENING_FACTOR * np.tan(phi))
    equatorial = np.cos(reduced) + altitude / _EARTH_RADIUS * np.cos(phi)
    polar = _FLATTENING_FACTOR * np.sin(reduced) + altitude / _EARTH_RADIUS * np.sin(phi)
    parallax = np.sin(np.radians(_PARALLAX_AT_1_AU / ephemeris.distance))
    angle = np.radians(hour_angle(ephemeris, times, longitude))
    toward = ephemeris.cos_declination * np.cos(angle) - equatorial * parallax
    west = ephemeris.cos_declination * np.sin(angle)
    axial = ephemeris.sin_declination - polar * parallax
    up = np.cos(phi) * toward + np.sin(phi) * axial
    north = np.cos(phi) * axial - np.sin(phi) * toward
    return -west, north, up


def _refraction(elevation: Array, pressure: npt.ArrayLike, temperature: npt.ArrayLike) -> Array:
    """Lift of the sun by refraction, 0 when all of it is below the horizon [degree]."""
    hectopascal = np.asarray(pressure, dtype=float) / 100.0
    celsius = np.asarray(temperature, dtype=float) - 273.15
    # far below the horizon the formula is singular at -5.11 and multiplied by 0 anyway
    safe = np.where(elevation < -2.0, -2.0, elevation)
    lift = spa_module().atmospheric_refraction_correction(
        hectopascal, celsius, safe, HORIZON_REFRACTION
    )
    return np.asarray(lift, dtype=float)
