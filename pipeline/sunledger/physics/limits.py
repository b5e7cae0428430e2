"""Limits that one-minute irradiances are tested against.

All numbers are defaults: every function takes its limits as arguments, so that a station can set
its own. Where the source was quoted second-hand or from memory the field ``source`` says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from sunledger.physics.longwave import emitted_irradiance

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

_QUOTED = "Long & Dutton, BSRN recommended QC tests V2.0, as quoted by a later text"
_MEMORY = "Long & Dutton, BSRN recommended QC tests V2.0, from memory: check before relying on it"


@dataclass(frozen=True)
class Limit:
    """
    Lowest and highest credible value of one quantity at one level.

    Parameters
    ----------
    minimum : float
        Lowest credible value. [W m-2]
    factor : float
        Of the extraterrestrial irradiance in the upper limit. [-]
    exponent : float
        Of the cosine of the zenith angle in the upper limit. [-]
    offset : float
        Constant of the upper limit. [W m-2]
    source : str
        Where the numbers are from.
    """

    minimum: float
    factor: float
    exponent: float
    offset: float
    source: str = ""


LIMITS: Mapping[str, Mapping[str, Limit]] = MappingProxyType(
    {
        "physically_possible": MappingProxyType(
            {
                "global": Limit(-4.0, 1.5, 1.2, 100.0, _QUOTED),
                "diffuse": Limit(-4.0, 0.95, 1.2, 50.0, _QUOTED),
                "direct": Limit(-4.0, 1.0, 0.0, 0.0, _QUOTED),
                "reflected": Limit(-4.0, 1.2, 1.2, 50.0, _MEMORY),
                "longwave_down": Limit(40.0, 0.0, 0.0, 700.0, _MEMORY),
                "longwave_up": Limit(40.0, 0.0, 0.0, 900.0, _MEMORY),
            }
        ),
        "extremely_rare": MappingProxyType(
            {
                "global": Limit(-2.0, 1.2, 1.2, 50.0, _QUOTED),
                "diffuse": Limit(-2.0, 0.75, 1.2, 30.0, _QUOTED),
                "direct": Limit(-2.0, 0.95, 0.2, 10.0, _QUOTED),
                "reflected": Limit(-2.0, 1.0, 1.2, 50.0, _MEMORY),
                "longwave_down": Limit(60.0, 0.0, 0.0, 500.0, _MEMORY),
                "longwave_up": Limit(60.0, 0.0, 0.0, 700.0, _MEMORY),
            }
        ),
    }
)
"""Default limits by level and quantity."""


@dataclass(frozen=True)
class RatioWindow:
    """
    Range a ratio has to keep while the sun is in a range of zenith angles.

    Parameters
    ----------
    zenith_from, zenith_to : float
        Zenith angles, half-open: from <= Z < to. [degree]
    lower, upper : float
        The ratio has to lie strictly between them. [-]
    """

    zenith_from: float
    zenith_to: float
    lower: float
    upper: float


CLOSURE_WINDOWS = (RatioWindow(0.0, 75.0, 0.92, 1.08), RatioWindow(75.0, 93.0, 0.85, 1.15))
"""Global over component sum; numbers quoted second-hand from Long & Dutton."""

DIFFUSE_RATIO_WINDOWS = (
    RatioWindow(0.0, 75.0, -np.inf, 1.05),
    RatioWindow(75.0, 93.0, -np.inf, 1.10),
)
"""Diffuse over global; numbers quoted second-hand from Long & Dutton."""

SEA_LEVEL_PRESSURE, SEA_LEVEL_TEMPERATURE, LAPSE_RATE = 101325.0, 288.15, 0.0065
"""Standard atmosphere, ISO 2533:1975. [Pa], [K], [K m-1]"""

MINIMUM_SUM = 50.0
"""The ratio tests need more light than this; from memory of Long & Dutton [W m-2]."""


def cosine_zenith(zenith: npt.ArrayLike) -> Array:
    """
    Return the cosine of the zenith angle, 0 below the horizon.

    Parameters
    ----------
    zenith : float or array-like
        Zenith angle of the sun. [degree]

    Returns
    -------
    numpy.ndarray
        max(cos Z, 0), exactly 0 from 90 degree on. [-]
    """
    angle = np.asarray(zenith, dtype=float)
    cosine = np.maximum(np.cos(np.radians(angle)), 0.0)
    return np.asarray(np.where(angle >= 90.0, 0.0, cosine))


def upper_limit(limit: Limit, extraterrestrial: npt.ArrayLike, cos_zenith: npt.ArrayLike) -> Array:
    r"""
    Return the upper limit.

    Parameters
    ----------
    limit : Limit
        Its coefficients.
    extraterrestrial : float or array-like, shape (time,)
        Extraterrestrial normal irradiance. [W m-2]
    cos_zenith : float or array-like, shape (time,)
        Cosine of the zenith angle; negative values count as 0. [-]

    Returns
    -------
    numpy.ndarray
        Highest credible irradiance. [W m-2]

    Notes
    -----
    .. math:: f S_a \mu^p + c
    """
    mu = np.maximum(np.asarray(cos_zenith, dtype=float), 0.0)
    return upper_limit_of_power(limit, extraterrestrial, mu**limit.exponent)


def upper_limit_of_power(
    limit: Limit, extraterrestrial: npt.ArrayLike, power: npt.ArrayLike
) -> Array:
    """
    Return the upper limit where the power of the cosine is known already.

    Parameters
    ----------
    limit : Limit
        Its coefficients.
    extraterrestrial : float or array-like, shape (time,)
        Extraterrestrial normal irradiance. [W m-2]
    power : float or array-like, shape (time,)
        Cosine of the zenith angle, not below 0, to the limit's exponent. [-]

    Returns
    -------
    numpy.ndarray
        As :func:`upper_limit`. [W m-2]
    """
    sunlight, level = np.asarray(extraterrestrial, dtype=float), np.asarray(power, dtype=float)
    if limit.factor == 0.0:  # longwave limits hold also where the sun is not known
        return np.full(np.broadcast_shapes(sunlight.shape, level.shape), limit.offset)
    return np.asarray(limit.factor * sunlight * level + limit.offset)


def limit_test(
    values: npt.ArrayLike,
    limit: Limit,
    extraterrestrial: npt.ArrayLike,
    cos_zenith: npt.ArrayLike,
) -> tuple[Mask, Mask]:
    """
    Test values against a limit.

    Parameters
    ----------
    values : array-like, shape (time,)
        Irradiances; NaN is not tested, infinity (over-range) fails. [W m-2]
    limit : Limit
        Its coefficients.
    extraterrestrial : float or array-like, shape (time,)
        Extraterrestrial normal irradiance. [W m-2]
    cos_zenith : float or array-like, shape (time,)
        Cosine of the zenith angle. [-]

    Returns
    -------
    tested, failed : numpy.ndarray of bool
        Where the test could run, and where it ran and failed.
    """
    return bounds_test(values, limit.minimum, upper_limit(limit, extraterrestrial, cos_zenith))


def bounds_test(
    values: npt.ArrayLike, lower: npt.ArrayLike, upper: npt.ArrayLike
) -> tuple[Mask, Mask]:
    """
    Test values against bounds that may change from sample to sample.

    Parameters
    ----------
    values : array-like, shape (time,)
        What is tested; NaN is not tested, infinity fails.
    lower, upper : float or array-like, shape (time,)
        Bounds in the unit of the values; a value equal to a bound passes, NaN is no test.

    Returns
    -------
    tested, failed : numpy.ndarray of bool
        Where the test could run, and where it ran and failed.
    """
    measured, low, high = np.asarray(values), np.asarray(lower), np.asarray(upper)
    tested = ~(np.isnan(measured) | np.isnan(low) | np.isnan(high))
    return tested, tested & ((measured < low) | (measured > high))


def longwave_down_air_bounds(
    air_temperature: npt.ArrayLike, lower_factor: float = 0.4, upper_excess: float = 25.0
) -> tuple[Array, Array]:
    """
    Return bounds of the downward longwave irradiance from the air temperature.

    Parameters
    ----------
    air_temperature : float or array-like, shape (time,)
        At screen height. [K]
    lower_factor : float
        Of the black-body emission. [-]
    upper_excess : float
        Above the black-body emission. [W m-2]

    Returns
    -------
    lower, upper : numpy.ndarray
        The bounds. [W m-2]

    Notes
    -----
    Defaults from memory of Long & Dutton (V2.0).
    """
    emission = emitted_irradiance(air_temperature)
    return np.asarray(lower_factor * emission), np.asarray(emission + upper_excess)


def longwave_up_air_bounds(
    air_temperature: npt.ArrayLike, colder: float = 15.0, warmer: float = 25.0
) -> tuple[Array, Array]:
    """
    Return bounds of the upward longwave irradiance from the air temperature.

    Parameters
    ----------
    air_temperature : float or array-like, shape (time,)
        At screen height. [K]
    colder, warmer : float
        How much the surface may be colder and warmer than the air. [K]

    Returns
    -------
    lower, upper : numpy.ndarray
        The bounds. [W m-2]

    Notes
    -----
    Defaults from memory of Long & Dutton (V2.0).
    """
    kelvins = np.asarray(air_temperature, dtype=float)
    return emitted_irradiance(kelvins - colder), emitted_irradiance(kelvins + warmer)


def standard_pressure(altitude: float) -> float:
    r"""
    Return the pressure of the standard atmosphere.

    Parameters
    ----------
    altitude : float
        Above sea level, below 11 km. [m]

    Returns
    -------
    pressure : float
        [Pa]

    Notes
    -----
    .. math:: p = p_0 (1 - L h / T_0)^{5.25588}

    with 101325 Pa, 0.0065 K/m and 288.15 K.

    References
    ----------
    .. [1] ISO 2533:1975, "Standard Atmosphere" (constants from memory).
    """
    colder = 1.0 - LAPSE_RATE * altitude / SEA_LEVEL_TEMPERATURE
    return float(SEA_LEVEL_PRESSURE * colder**5.25588)


def longwave_pair_bounds(
    longwave_up: npt.ArrayLike, below: float = 300.0, above: float = 25.0
) -> tuple[Array, Array]:
    """
    Return bounds of the downward longwave irradiance from the upward one.

    Parameters
    ----------
    longwave_up : float or array-like, shape (time,)
        Upward longwave irradiance. [W m-2]
    below, above : float
        How far the downward irradiance may lie below and above it. [W m-2]

    Returns
    -------
    lower, upper : numpy.ndarray
        The bounds. [W m-2]

    Notes
    -----
    Defaults from memory of Long & Dutton (V2.0).
    """
    upward = np.asarray(longwave_up, dtype=float)
    return np.asarray(upward - below), np.asarray(upward + above)
