"""Temperature from the resistance of thermistors, and resistance from a half bridge."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

CELSIUS_ZERO = 273.15
"""Kelvin at 0 degree Celsius, exact [K]."""


@dataclass(frozen=True)
class SteinhartHart:
    """
    Coefficients of 1/T = a + b ln R + c (ln R)**3, R in ohm and T in kelvin.

    Parameters
    ----------
    a, b, c : float
        The coefficients. [K-1]
    """

    a: float
    b: float
    c: float


THERMISTOR_SETS: dict[str, SteinhartHart] = {
    "temperature_probe": SteinhartHart(1.129241e-3, 2.341077e-4, 8.775468e-8),
    "radiometer_body": SteinhartHart(1.0295e-3, 2.391e-4, 1.568e-7),
}
"""Two wide-spread 10 kohm types, alike at 25 °C and 5 K apart at -40 °C: never swap them."""


def temperature_from_resistance(resistance: npt.ArrayLike, coefficients: SteinhartHart) -> Array:
    """
    Return the temperature of a thermistor.

    Parameters
    ----------
    resistance : float or array-like
        Its resistance. [ohm]
    coefficients : SteinhartHart
        Of its type.

    Returns
    -------
    numpy.ndarray
        Temperature; NaN for a resistance that is not positive or not finite. [K]

    References
    ----------
    .. [1] J. S. Steinhart and S. R. Hart, "Calibration curves for thermistors," Deep-Sea Res.,
       vol. 15, pp. 497-503, 1968.
    """
    ohms = np.asarray(resistance, dtype=float)
    logarithm = np.log(np.where((ohms > 0) & np.isfinite(ohms), ohms, np.nan))
    inverse = coefficients.a + coefficients.b * logarithm + coefficients.c * logarithm**3
    # an absurdly small resistance makes the inverse temperature zero or negative
    return np.asarray(1.0 / np.where(inverse > 0, inverse, np.nan))


def resistance_from_temperature(temperature: npt.ArrayLike, coefficients: SteinhartHart) -> Array:
    r"""
    Return the resistance of a thermistor.

    Parameters
    ----------
    temperature : float or array-like
        Its temperature. [K]
    coefficients : SteinhartHart
        Of its type; b and c positive.

    Returns
    -------
    numpy.ndarray
        Resistance; NaN for a temperature that is not positive. [ohm]

    Notes
    -----
    The only real root of :math:`c x^3 + b x = 1/T - a`, :math:`x = \ln R`, written with
    hyperbolic functions.
    """
    kelvins = np.asarray(temperature, dtype=float)
    right = 1.0 / np.where(kelvins > 0, kelvins, np.nan) - coefficients.a
    scale = np.sqrt(coefficients.b / (3.0 * coefficients.c))
    sine = right / (2.0 * coefficients.c * scale**3)
    return np.asarray(np.exp(2.0 * scale * np.sinh(np.arcsinh(sine) / 3.0)))


def _across_thermistor(ratio: Array, bridge_resistor: float) -> Array:
    return bridge_resistor * ratio / (1.0 - ratio)


def _across_resistor(ratio: Array, bridge_resistor: float) -> Array:
    return bridge_resistor * (1.0 / ratio - 1.0)


BRIDGES: dict[str, Callable[[Array, float], Array]] = {
    "across_thermistor": _across_thermistor,
    "across_resistor": _across_resistor,
}
"""Half bridges by the part of it that the logger's voltage is measured across."""


def resistance_from_bridge_ratio(
    ratio: npt.ArrayLike,
    bridge_resistor: float,
    measured: str = "across_thermistor",
    series_resistance: float = 0.0,
) -> Array:
    """
    Return the resistance of a thermistor in a half bridge.

    Parameters
    ----------
    ratio : float or array-like
        Voltage measured over excitation voltage. [-]
    bridge_resistor : float
        The fixed resistor. [ohm]
    measured : str
        A name in ``BRIDGES``: where the voltage is measured.
    series_resistance : float
        Of the leads or of a resistor in series with the thermistor, taken off. [ohm]

    Returns
    -------
    numpy.ndarray
        Resistance; NaN for a ratio outside 0 to 1 (exclusive), as with a broken lead. [ohm]

    Raises
    ------
    ValueError
        If ``measured`` is unknown or ``bridge_resistor`` is not positive.
    """
    if measured not in BRIDGES:
        raise ValueError(f"measured must be one of {', '.join(BRIDGES)} (got {measured!r})")
    if not bridge_resistor > 0:
        raise ValueError(f"bridge_resistor must be positive (got {bridge_resistor!r})")
    values = np.asarray(ratio, dtype=float)
    inside = np.where((values > 0) & (values < 1), values, np.nan)
    return np.asarray(BRIDGES[measured](inside, bridge_resistor) - series_resistance)
