"""Uncertainty budgets of irradiances from pyranometers, pyrheliometers and pyrgeometers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.physics.gum import (
    combined_standard_uncertainty,
    coverage_factor,
    effective_degrees_of_freedom,
    expanded_uncertainty,
    rectangular,
)
from sunledger.physics.longwave import STEFAN_BOLTZMANN
from sunledger.physics.uncertainty_inputs import (
    PyranometerLimits,
    PyrgeometerLimits,
    PyrheliometerLimits,
    pyranometer_limits,
    pyrheliometer_limits,
)

__all__ = [
    "PyranometerLimits",
    "PyrgeometerLimits",
    "PyrheliometerLimits",
    "UncertaintyBudget",
    "combined_standard_uncertainty",
    "coverage_factor",
    "effective_degrees_of_freedom",
    "expanded_uncertainty",
    "pyranometer_limits",
    "pyranometer_uncertainty",
    "pyrgeometer_uncertainty",
    "pyrheliometer_limits",
    "pyrheliometer_uncertainty",
    "rectangular",
]

Array = npt.NDArray[np.float64]

RANDOM_CONTRIBUTIONS = frozenset({"logger"})
"""Contributions that averaging reduces; all others are common to the samples of a mean."""

DIRECTIONAL_REFERENCE = 1000.0
"""Beam for which ISO 9060 states the directional error [W m-2]."""


@dataclass(frozen=True)
class UncertaintyBudget:
    """
    Standard uncertainty of irradiances and what it is made of.

    Parameters
    ----------
    standard : numpy.ndarray
        Combined standard uncertainty. [W m-2]
    common : numpy.ndarray
        Part of it that averaging over time does not reduce. [W m-2]
    random : numpy.ndarray
        Part of it that averaging reduces. [W m-2]
    contributions : mapping of str to numpy.ndarray
        Sizes of the single contributions |c| u. [W m-2]
    """

    standard: Array
    common: Array
    random: Array
    contributions: Mapping[str, Array]

    def expanded(self, coverage_factor: float = 2.0) -> Array:
        """
        Return the expanded uncertainty.

        Parameters
        ----------
        coverage_factor : float
            Factor k. [-]

        Returns
        -------
        numpy.ndarray
            k times the standard uncertainty. [W m-2]
        """
        return coverage_factor * self.standard


def pyranometer_uncertainty(
    irradiance: npt.ArrayLike,
    sensitivity: npt.ArrayLike,
    limits: PyranometerLimits,
    net_longwave: npt.ArrayLike = 0.0,
    beam: npt.ArrayLike | None = None,
    level_half_width: npt.ArrayLike = 0.0,
) -> UncertaintyBudget:
    r"""
    Return the uncertainty of irradiances from a pyranometer.

    Parameters
    ----------
    irradiance : float or array-like, shape (time,)
        Global, diffuse or reflected irradiance. [W m-2]
    sensitivity : float or array-like, shape (time,)
        Sensitivity used. [µV W-1 m2]
    limits : PyranometerLimits
        Class limits and calibration.
    net_longwave : float or array-like, shape (time,)
        Net longwave irradiance at the instrument, negative under a cold sky. [W m-2]
    beam : float or array-like, shape (time,), optional
        Direct normal irradiance that meets the instrument (0 when shaded); the directional limit
        is scaled by it. Without it the limit enters in full. [W m-2]
    level_half_width : float or array-like, shape (time,)
        From ``level.level_half_width``. [W m-2]

    Returns
    -------
    UncertaintyBudget
        Arrays of shape (time,).

    Notes
    -----
    Measurement equation :math:`E = (V - R_{net} W_{net}) / R`, written from memory of the
    reference; limits enter as rectangular distributions, uncorrelated. Everything but the
    logger's part is treated as common to all samples, the careful side for means.

    References
    ----------
    .. [1] I. Reda, "Method to calculate uncertainties in measuring shortwave solar irradiance
       using thermopile and semiconductor solar radiometers," NREL/TP-3B10-52194, 2011.
    """
    size = np.abs(np.asarray(irradiance, dtype=float))
    per_voltage = 1.0 / np.asarray(sensitivity, dtype=float)
    net = np.abs(np.asarray(net_longwave, dtype=float))
    thermal = limits.thermal_sensitivity
    share = 1.0 if beam is None else np.maximum(beam, 0.0) / DIRECTIONAL_REFERENCE
    contributions = _relative_contributions(size, limits) | {
        "logger": per_voltage * rectangular(limits.logger),
        "thermal_sensitivity": net
        * per_voltage
        * rectangular(thermal * limits.thermal_sensitivity_half_width / 100.0),
        "net_longwave": thermal * per_voltage * rectangular(limits.net_longwave_half_width),
        "directional": share * rectangular(limits.directional),
        "zero_offset_a": rectangular(limits.zero_offset_a),
        "zero_offset_b": rectangular(limits.zero_offset_b),
        "level": rectangular(level_half_width),
    }
    return _budget(contributions)


def pyrheliometer_uncertainty(
    irradiance: npt.ArrayLike, sensitivity: npt.ArrayLike, limits: PyrheliometerLimits
) -> UncertaintyBudget:
    """
    Return the uncertainty of irradiances from a pyrheliometer.

    Parameters
    ----------
    irradiance : float or array-like, shape (time,)
        Direct normal irradiance. [W m-2]
    sensitivity : float or array-like, shape (time,)
        Sensitivity used. [µV W-1 m2]
    limits : PyrheliometerLimits
        Class limits and calibration.

    Returns
    -------
    UncertaintyBudget
        Arrays of shape (time,).

    Notes
    -----
    Measurement equation E = V / R; limits enter as rectangular distributions, uncorrelated.
    Pointing errors are not in it.
    """
    size = np.abs(np.asarray(irradiance, dtype=float))
    contributions = _relative_contributions(size, limits) | {
        "logger": rectangular(limits.logger) / np.asarray(sensitivity, dtype=float),
        "zero_offset": rectangular(limits.zero_offset),
    }
    return _budget(contributions)


def pyrgeometer_uncertainty(
    voltage_uv: npt.ArrayLike,
    sensitivity: npt.ArrayLike,
    body_temperature: npt.ArrayLike,
    limits: PyrgeometerLimits,
    dome_temperature: npt.ArrayLike | None = None,
) -> UncertaintyBudget:
    r"""
    Return the uncertainty of irradiances from a pyrgeometer.

    Parameters
    ----------
    voltage_uv : float or array-like, shape (time,)
        Thermopile voltage. [µV]
    sensitivity : float or array-like, shape (time,)
        Sensitivity used. [µV W-1 m2]
    body_temperature : float or array-like, shape (time,)
        Body temperature. [K]
    limits : PyrgeometerLimits
        Calibration and other limits.
    dome_temperature : float or array-like, shape (time,), optional
        Dome temperature; that of the body without it. [K]

    Returns
    -------
    UncertaintyBudget
        Arrays of shape (time,).

    Notes
    -----
    A simple budget of our own by differentiating the equation with dome correction,
    :math:`L = U/C + \sigma T_b^4 - k \sigma (T_d^4 - T_b^4)`, the dome being known by its
    difference from the body: :math:`\partial L/\partial T_b = 4 \sigma T_b^3` and
    :math:`\partial L/\partial (T_d - T_b) = -4 k \sigma T_d^3`. The defaults of the limits are
    common practice without a published source.
    """
    per_voltage = 1.0 / np.asarray(sensitivity, dtype=float)
    net = np.abs(np.asarray(voltage_uv, dtype=float) * per_voltage)
    body = np.asarray(body_temperature, dtype=float)
    dome = body if dome_temperature is None else np.asarray(dome_temperature, dtype=float)
    excess = STEFAN_BOLTZMANN * np.abs(dome**4 - body**4)
    contributions = {
        "calibration": net * limits.calibration / 200.0,
        "non_stability": net * rectangular(limits.non_stability / 100.0),
        "logger": per_voltage * rectangular(limits.logger),
        "body_temperature": 4 * STEFAN_BOLTZMANN * body**3 * rectangular(limits.body_temperature),
        "dome_temperature": 4
        * limits.dome_factor
        * STEFAN_BOLTZMANN
        * dome**3
        * rectangular(limits.dome_temperature),
        "dome_factor": excess * rectangular(limits.dome_factor_half_width),
        "window": rectangular(limits.window),
    }
    return _budget(contributions)


def _relative_contributions(
    size: Array, limits: PyranometerLimits | PyrheliometerLimits
) -> dict[str, Array]:
    """Contributions in proportion to the irradiance; the calibration's k is 2."""
    return {
        "calibration": size * limits.calibration / 200.0,
        "non_stability": size * rectangular(limits.non_stability / 100.0),
        "non_linearity": size * rectangular(limits.non_linearity / 100.0),
        "temperature": size * rectangular(limits.temperature / 100.0),
    }


def _budget(contributions: Mapping[str, Array]) -> UncertaintyBudget:
    """Combine all contributions, and the common and random ones apart."""
    parts = dict(contributions)
    random = [part for name, part in parts.items() if name in RANDOM_CONTRIBUTIONS]
    common = [part for name, part in parts.items() if name not in RANDOM_CONTRIBUTIONS]
    whole = combined_standard_uncertainty(list(parts.values()))
    return UncertaintyBudget(
        whole,
        np.broadcast_to(combined_standard_uncertainty(common), whole.shape),
        np.broadcast_to(combined_standard_uncertainty(random), whole.shape),
        parts,
    )
