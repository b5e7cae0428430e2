"""What the uncertainty budgets of radiometers start from: class limits and calibration."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from sunledger.physics.iso9060 import PYRANOMETER_CLASSES, PYRHELIOMETER_CLASSES

Class = TypeVar("Class")


@dataclass(frozen=True)
class PyranometerLimits:
    """
    Inputs of a pyranometer's budget that do not change from sample to sample.

    Parameters
    ----------
    calibration : float
        Expanded uncertainty of the sensitivity, 95 %, k = 2. [%]
    non_stability, non_linearity, temperature : float
        Half-widths. [%]
    directional : float
        Half-width for a beam of 1000 W m-2. [W m-2]
    zero_offset_a : float
        Half-width; 0 where the thermal offset is corrected with the terms below. [W m-2]
    zero_offset_b : float
        Half-width. [W m-2]
    logger : float
        Half-width of the voltage. [µV]
    thermal_sensitivity : float
        Response to net longwave irradiance, used in the correction. [µV W-1 m2]
    thermal_sensitivity_half_width : float
        Half-width of it. [%]
    net_longwave_half_width : float
        Half-width of the net longwave irradiance. [W m-2]
    """

    calibration: float
    non_stability: float
    non_linearity: float
    temperature: float
    directional: float
    zero_offset_a: float
    zero_offset_b: float
    logger: float = 1.0
    thermal_sensitivity: float = 0.0
    thermal_sensitivity_half_width: float = 0.0
    net_longwave_half_width: float = 0.0


@dataclass(frozen=True)
class PyrheliometerLimits:
    """
    Inputs of a pyrheliometer's budget that do not change from sample to sample.

    Parameters
    ----------
    calibration : float
        Expanded uncertainty of the sensitivity, 95 %, k = 2. [%]
    non_stability, non_linearity, temperature : float
        Half-widths. [%]
    zero_offset : float
        Half-width. [W m-2]
    logger : float
        Half-width of the voltage. [µV]
    """

    calibration: float
    non_stability: float
    non_linearity: float
    temperature: float
    zero_offset: float
    logger: float = 1.0


@dataclass(frozen=True)
class PyrgeometerLimits:
    """
    Inputs of a pyrgeometer's budget that do not change from sample to sample.

    Parameters
    ----------
    calibration : float
        Expanded uncertainty of the sensitivity, 95 %, k = 2. [%]
    non_stability : float
        Half-width, of the thermopile term. [%]
    body_temperature : float
        Half-width. [K]
    dome_temperature : float
        Half-width of dome less body temperature. [K]
    dome_factor : float
        The factor k itself; 0 without dome correction. [-]
    dome_factor_half_width : float
        Half-width of k. [-]
    window : float
        Half-width of what the window's heating and transmission leave. [W m-2]
    logger : float
        Half-width of the voltage. [µV]
    """

    calibration: float
    non_stability: float
    body_temperature: float = 0.1
    dome_temperature: float = 0.1
    dome_factor: float = 0.0
    dome_factor_half_width: float = 0.0
    window: float = 2.0
    logger: float = 1.0


def pyranometer_limits(
    iso_class: str,
    calibration: float,
    thermal_sensitivity: float = 0.0,
    thermal_sensitivity_half_width: float = 10.0,
    net_longwave_half_width: float = 5.0,
) -> PyranometerLimits:
    """
    Return the inputs of a pyranometer's budget from its ISO 9060 class.

    Parameters
    ----------
    iso_class : str
        A, B or C.
    calibration : float
        Expanded uncertainty of the sensitivity, 95 %, k = 2. [%]
    thermal_sensitivity : float
        Response to net longwave irradiance where the thermal offset is corrected with it; 0
        where it is not corrected, and zero offset a enters instead. [µV W-1 m2]
    thermal_sensitivity_half_width : float
        Half-width of it. [%]
    net_longwave_half_width : float
        Half-width of the net longwave irradiance. [W m-2]

    Returns
    -------
    PyranometerLimits
        With the other fields at their defaults; change them by ``dataclasses.replace``.

    Raises
    ------
    ValueError
        If the class is unknown.
    """
    limits = _class_of(PYRANOMETER_CLASSES, iso_class)
    budget = PyranometerLimits(
        calibration,
        limits.non_stability,
        limits.non_linearity,
        limits.temperature,
        limits.directional,
        limits.zero_offset_a,
        limits.zero_offset_b,
    )
    if thermal_sensitivity == 0.0:
        return budget
    return replace(
        budget,
        zero_offset_a=0.0,
        thermal_sensitivity=thermal_sensitivity,
        thermal_sensitivity_half_width=thermal_sensitivity_half_width,
        net_longwave_half_width=net_longwave_half_width,
    )


def pyrheliometer_limits(iso_class: str, calibration: float) -> PyrheliometerLimits:
    """
    Return the inputs of a pyrheliometer's budget from its ISO 9060 class.

    Parameters
    ----------
    iso_class : str
        AA, A, B or C.
    calibration : float
        Expanded uncertainty of the sensitivity, 95 %, k = 2. [%]

    Returns
    -------
    PyrheliometerLimits
        With the logger at its default.

    Raises
    ------
    ValueError
        If the class is unknown.
    """
    limits = _class_of(PYRHELIOMETER_CLASSES, iso_class)
    return PyrheliometerLimits(
        calibration,
        limits.non_stability,
        limits.non_linearity,
        limits.temperature,
        limits.zero_offset_b,
    )


def _class_of(classes: Mapping[str, Class], iso_class: str) -> Class:
    """Look up a class, naming the allowed ones."""
    if iso_class not in classes:
        raise ValueError(f"iso_class must be one of {', '.join(classes)} (got {iso_class!r})")
    return classes[iso_class]
