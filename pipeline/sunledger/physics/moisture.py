"""Water vapour of the air near a cold surface: where dew or frost can settle."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

FREEZING = 273.15
"""[K]"""
OVER_WATER, OVER_ICE = (611.2, 17.62, 243.12), (611.2, 22.46, 272.62)
"""Pressure at the freezing point [Pa], factor [1], temperature [K] of the formula."""


def saturation_pressure(temperature: npt.ArrayLike, over_ice: npt.ArrayLike = False) -> Array:
    r"""
    Return the pressure of saturated water vapour.

    Parameters
    ----------
    temperature : float or array-like
        Of the surface. [K]
    over_ice : bool or array-like of bool
        Over ice instead of liquid water.

    Returns
    -------
    numpy.ndarray
        NaN where the temperature is. [Pa]

    Notes
    -----
    .. math:: e = e_0 \exp(a t / (b + t))

    with :math:`t` in degrees Celsius; constants from memory of the source, without the small
    correction for pressure.

    References
    ----------
    .. [1] WMO-No. 8, "Guide to Instruments and Methods of Observation," vol. I, annex 4.B.
    """
    celsius = np.asarray(temperature, dtype=float) - FREEZING
    pairs = [OVER_WATER[i] + (OVER_ICE[i] - OVER_WATER[i]) * np.asarray(over_ice) for i in range(3)]
    return np.asarray(pairs[0] * np.exp(pairs[1] * celsius / (pairs[2] + celsius)))


def dew_or_frost_settles(
    surface: npt.ArrayLike, air: npt.ArrayLike, relative_humidity: npt.ArrayLike
) -> Mask:
    """
    Say where a surface is at or below the dew point of the air, below freezing its frost point.

    Parameters
    ----------
    surface, air : float or array-like
        Temperatures of the surface and of the air. [K]
    relative_humidity : float or array-like
        Of the air, over water. [1]

    Returns
    -------
    numpy.ndarray of bool
        False where anything is missing.
    """
    vapour = np.asarray(relative_humidity, dtype=float) * saturation_pressure(air)
    cold = np.asarray(surface, dtype=float) < FREEZING
    return np.asarray(vapour >= saturation_pressure(surface, cold))
