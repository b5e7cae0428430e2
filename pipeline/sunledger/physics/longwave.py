"""Longwave irradiance from the thermopile and temperatures of a pyrgeometer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.physics.shortwave import require_positive_sensitivity

Array = npt.NDArray[np.float64]

STEFAN_BOLTZMANN = 5.670374419e-8
"""CODATA 2018, exact since the SI of 2019 [W m-2 K-4]."""


@dataclass(frozen=True)
class PyrgeometerCoefficients:
    """
    What a pyrgeometer's certificate states beside its sensitivity.

    Parameters
    ----------
    k1 : float
        Factor of sigma Tb**3 in the thermopile term; read the certificate for its unit, some
        laboratories scale it otherwise. [K m2 W-1]
    k2 : float
        Factor of the emission of the body. [-]
    dome_factor : float
        Factor k (or k3) of the dome's excess emission. [-]
    """

    k1: float = 0.0
    k2: float = 1.0
    dome_factor: float = 0.0


PyrgeometerEquation = Callable[
    [
        npt.ArrayLike,
        npt.ArrayLike,
        npt.ArrayLike,
        npt.ArrayLike,
        PyrgeometerCoefficients,
    ],
    Array,
]


def emitted_irradiance(temperature: npt.ArrayLike) -> Array:
    """
    Return the emission of a black body.

    Parameters
    ----------
    temperature : float or array-like
        Its temperature. [K]

    Returns
    -------
    numpy.ndarray
        Irradiance sigma T**4. [W m-2]
    """
    return np.asarray(STEFAN_BOLTZMANN * np.asarray(temperature, dtype=float) ** 4)


def simple_longwave(
    voltage_uv: npt.ArrayLike,
    sensitivity: npt.ArrayLike,
    body_temperature: npt.ArrayLike,
    dome_temperature: npt.ArrayLike,
    coefficients: PyrgeometerCoefficients,
) -> Array:
    r"""
    Return the longwave irradiance of an instrument whose window is coupled to its body.

    Parameters
    ----------
    voltage_uv : float or array-like, shape (time,)
        Thermopile voltage, negative under a cold sky. [µV]
    sensitivity : float or array-like
        From the certificate. [µV W-1 m2]
    body_temperature, dome_temperature : float or array-like, shape (time,)
        Thermistor temperatures; the dome's is not used. [K]
    coefficients : PyrgeometerCoefficients
        Not used.

    Returns
    -------
    numpy.ndarray
        Irradiance; NaN wherever a used input is NaN. [W m-2]

    Raises
    ------
    ValueError
        If a sensitivity is zero or negative.

    Notes
    -----
    .. math:: L = U/C + \sigma T_b^4
    """
    return thermopile_irradiance(voltage_uv, sensitivity) + emitted_irradiance(body_temperature)


def albrecht_cox_longwave(
    voltage_uv: npt.ArrayLike,
    sensitivity: npt.ArrayLike,
    body_temperature: npt.ArrayLike,
    dome_temperature: npt.ArrayLike,
    coefficients: PyrgeometerCoefficients,
) -> Array:
    r"""
    Return the longwave irradiance with the dome correction of Albrecht and Cox.

    Parameters
    ----------
    voltage_uv : float or array-like, shape (time,)
        Thermopile voltage, negative under a cold sky. [µV]
    sensitivity : float or array-like
        From the certificate. [µV W-1 m2]
    body_temperature, dome_temperature : float or array-like, shape (time,)
        Thermistor temperatures. [K]
    coefficients : PyrgeometerCoefficients
        Its ``dome_factor`` is used.

    Returns
    -------
    numpy.ndarray
        Irradiance; NaN wherever an input is NaN. [W m-2]

    Raises
    ------
    ValueError
        If a sensitivity is zero or negative.

    Notes
    -----
    .. math:: L = U/C + \sigma T_b^4 - k \sigma (T_d^4 - T_b^4)

    References
    ----------
    .. [1] B. Albrecht and S. K. Cox, "Procedures for improving pyrgeometer performance," J.
       Appl. Meteorol., vol. 16, pp. 188-197, 1977.
    """
    return (
        thermopile_irradiance(voltage_uv, sensitivity)
        + emitted_irradiance(body_temperature)
        - coefficients.dome_factor * _dome_excess(body_temperature, dome_temperature)
    )


def philipona_longwave(
    voltage_uv: npt.ArrayLike,
    sensitivity: npt.ArrayLike,
    body_temperature: npt.ArrayLike,
    dome_temperature: npt.ArrayLike,
    coefficients: PyrgeometerCoefficients,
) -> Array:
    r"""
    Return the longwave irradiance by the extended equation of Philipona and others.

    Parameters
    ----------
    voltage_uv : float or array-like, shape (time,)
        Thermopile voltage, negative under a cold sky. [µV]
    sensitivity : float or array-like
        From the certificate. [µV W-1 m2]
    body_temperature, dome_temperature : float or array-like, shape (time,)
        Thermistor temperatures. [K]
    coefficients : PyrgeometerCoefficients
        All three are used.

    Returns
    -------
    numpy.ndarray
        Irradiance; NaN wherever an input is NaN. [W m-2]

    Raises
    ------
    ValueError
        If a sensitivity is zero or negative.

    Notes
    -----
    .. math::
        L = (U/C)(1 + k_1 \sigma T_b^3) + k_2 \sigma T_b^4 - k_3 \sigma (T_d^4 - T_b^4)

    The form is written from memory of the paper.

    References
    ----------
    .. [1] R. Philipona, C. Fröhlich and C. Betz, "Characterization of pyrgeometers and the
       accuracy of atmospheric long-wave radiation measurements," Applied Optics, vol. 34,
       pp. 1598-1605, 1995.
    """
    return (
        thermopile_irradiance(voltage_uv, sensitivity)
        * _thermopile_factor(body_temperature, coefficients)
        + coefficients.k2 * emitted_irradiance(body_temperature)
        - coefficients.dome_factor * _dome_excess(body_temperature, dome_temperature)
    )


PYRGEOMETER_EQUATIONS: dict[str, PyrgeometerEquation] = {
    "simple": simple_longwave,
    "albrecht_cox": albrecht_cox_longwave,
    "philipona": philipona_longwave,
}
"""Pyrgeometer equations by the name a certificate or configuration gives them."""


def thermopile_irradiance(voltage_uv: npt.ArrayLike, sensitivity: npt.ArrayLike) -> Array:
    """
    Return the net irradiance at the thermopile, U / C.

    Parameters
    ----------
    voltage_uv : float or array-like, shape (time,)
        Thermopile voltage, negative under a cold sky. [µV]
    sensitivity : float or array-like
        From the certificate. [µV W-1 m2]

    Returns
    -------
    numpy.ndarray
        Net irradiance, normally negative. [W m-2]

    Raises
    ------
    ValueError
        If a sensitivity is zero or negative.
    """
    return np.asarray(
        np.asarray(voltage_uv, dtype=float) / require_positive_sensitivity(sensitivity)
    )


def pyrgeometer_voltage(
    equation: str,
    irradiance: npt.ArrayLike,
    sensitivity: npt.ArrayLike,
    body_temperature: npt.ArrayLike,
    dome_temperature: npt.ArrayLike,
    coefficients: PyrgeometerCoefficients,
) -> Array:
    """
    Return the thermopile voltage at which an equation gives the irradiance.

    Parameters
    ----------
    equation : str
        A name in ``PYRGEOMETER_EQUATIONS``.
    irradiance : float or array-like, shape (time,)
        Longwave irradiance. [W m-2]
    sensitivity : float or array-like
        From the certificate. [µV W-1 m2]
    body_temperature, dome_temperature : float or array-like, shape (time,)
        Thermistor temperatures. [K]
    coefficients : PyrgeometerCoefficients
        As for the equation.

    Returns
    -------
    numpy.ndarray
        Voltage. [µV]

    Raises
    ------
    ValueError
        If the equation is unknown, or a sensitivity is zero or negative.
    """
    if equation not in PYRGEOMETER_EQUATIONS:
        allowed = ", ".join(PYRGEOMETER_EQUATIONS)
        raise ValueError(f"equation must be one of {allowed} (got {equation!r})")
    # every equation is linear in the voltage: take off what it gives at 0 µV
    at_zero = PYRGEOMETER_EQUATIONS[equation](
        0.0, sensitivity, body_temperature, dome_temperature, coefficients
    )
    net = np.asarray(irradiance, dtype=float) - at_zero
    if equation == "philipona":
        net = net / _thermopile_factor(body_temperature, coefficients)
    return np.asarray(net * require_positive_sensitivity(sensitivity))


def _thermopile_factor(
    body_temperature: npt.ArrayLike, coefficients: PyrgeometerCoefficients
) -> Array:
    """Return 1 + k1 sigma Tb**3."""
    cube = np.asarray(body_temperature, dtype=float) ** 3
    return np.asarray(1.0 + coefficients.k1 * STEFAN_BOLTZMANN * cube)


def _dome_excess(body_temperature: npt.ArrayLike, dome_temperature: npt.ArrayLike) -> Array:
    """Emission at the dome's temperature beyond that at the body's [W m-2]."""
    return emitted_irradiance(dome_temperature) - emitted_irradiance(body_temperature)
