"""Shortwave irradiance from the thermopile voltage of pyranometers and pyrheliometers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


def require_positive_sensitivity(sensitivity: npt.ArrayLike) -> Array:
    """
    Return the sensitivity as an array after checking its sign.

    Parameters
    ----------
    sensitivity : float or array-like
        Sensitivities; NaN stands for "no calibration" and passes. [µV W-1 m2]

    Returns
    -------
    numpy.ndarray
        The same values.

    Raises
    ------
    ValueError
        If a sensitivity is zero or negative.
    """
    values = np.asarray(sensitivity, dtype=float)
    wrong = values <= 0
    if np.any(wrong):
        raise ValueError(
            f"sensitivity must be positive, in µV per W m-2 (got {values[wrong].flat[0]!r})"
        )
    return values


def irradiance_from_voltage(voltage_uv: npt.ArrayLike, sensitivity: npt.ArrayLike) -> Array:
    """
    Return the irradiance that a thermopile voltage stands for.

    Parameters
    ----------
    voltage_uv : float or array-like, shape (time,)
        Thermopile voltage. [µV]
    sensitivity : float or array-like, shape (time,)
        From the calibration in force. [µV W-1 m2]

    Returns
    -------
    numpy.ndarray
        Irradiance; NaN wherever an input is NaN. [W m-2]

    Raises
    ------
    ValueError
        If a sensitivity is zero or negative.
    """
    return np.asarray(
        np.asarray(voltage_uv, dtype=float) / require_positive_sensitivity(sensitivity)
    )


def voltage_from_irradiance(irradiance: npt.ArrayLike, sensitivity: npt.ArrayLike) -> Array:
    """
    Return the thermopile voltage that an irradiance causes.

    Parameters
    ----------
    irradiance : float or array-like, shape (time,)
        Irradiance. [W m-2]
    sensitivity : float or array-like, shape (time,)
        From the calibration in force. [µV W-1 m2]

    Returns
    -------
    numpy.ndarray
        Voltage; NaN wherever an input is NaN. [µV]

    Raises
    ------
    ValueError
        If a sensitivity is zero or negative.
    """
    return np.asarray(
        np.asarray(irradiance, dtype=float) * require_positive_sensitivity(sensitivity)
    )


def sensitivity_at_temperature(
    sensitivity: npt.ArrayLike,
    temperature_k: npt.ArrayLike,
    reference_k: float,
    coefficients: Sequence[float],
) -> Array:
    r"""
    Return the sensitivity at the instrument's temperature.

    Parameters
    ----------
    sensitivity : float or array-like, shape (time,)
        At the reference temperature. [µV W-1 m2]
    temperature_k : float or array-like, shape (time,)
        Of the instrument's body. [K]
    reference_k : float
        Temperature the certificate refers to. [K]
    coefficients : sequence of float
        Relative response: first order [K-1], second order [K-2], and so on; empty for none.

    Returns
    -------
    numpy.ndarray
        Sensitivity; NaN where the temperature is NaN and there is a coefficient. [µV W-1 m2]

    Notes
    -----
    .. math:: S(T) = S(T_0) [1 + \sum_i c_i (T - T_0)^i]
    """
    at_reference = np.asarray(sensitivity, dtype=float)
    if len(coefficients) == 0:
        return at_reference
    excess = np.asarray(temperature_k, dtype=float) - reference_k
    relative = np.polynomial.polynomial.polyval(excess, [1.0, *coefficients])
    return np.asarray(at_reference * relative)
