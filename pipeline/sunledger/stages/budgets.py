"""The uncertainty of each calibrated reading, from its instrument's class and certificate."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sunledger.config.coefficients import Coefficients
from sunledger.physics.changing_light import largest_change, timing_half_width
from sunledger.physics.uncertainty import (
    DIRECTIONAL_REFERENCE,
    PyrgeometerLimits,
    UncertaintyBudget,
    pyranometer_limits,
    pyranometer_uncertainty,
    pyrgeometer_uncertainty,
    pyrheliometer_limits,
    pyrheliometer_uncertainty,
    rectangular,
)

Array = npt.NDArray[np.float64]

COVERAGE_FACTOR = 2.0
"""About 95 % for a normal distribution."""

LOWEST_CLASS = "C"
"""Taken where the inventory gives an instrument no ISO 9060 class: the careful side."""

SLOWEST_RESPONSE = 30.0
"""95 % response time of a class C pyranometer, taken where the inventory gives none. [s]"""

DARK = 5.0
"""Irradiance below which there is no beam to speak of. [W m-2]"""

PYRGEOMETER_NON_STABILITY = 1.0
"""ISO 9060 has no classes for pyrgeometers; common practice, no source. [percent]"""


def budget_of(
    row: Coefficients, irradiance: Array, voltage: Array, sensitivity: Array, body: Array
) -> UncertaintyBudget:
    """
    Budget of readings, before timing.

    Parameters
    ----------
    row : Coefficients
        Kind, class and certificate of the instrument.
    irradiance : numpy.ndarray, shape (reading,)
        [W m-2]
    voltage : numpy.ndarray, shape (reading,)
        [uV]
    sensitivity : numpy.ndarray, shape (reading,)
        In force. [uV W-1 m2]
    body : numpy.ndarray, shape (reading,)
        Body temperature; used for pyrgeometers only. [K]

    Returns
    -------
    budget : UncertaintyBudget
        With the single contributions.
    """
    calibration = 200.0 * row.relative_uncertainty  # percent, k = 2
    if row.kind == "pyrgeometer":
        limits = PyrgeometerLimits(calibration, PYRGEOMETER_NON_STABILITY)
        return pyrgeometer_uncertainty(voltage, sensitivity, body, limits)
    iso_class = row.iso_class or LOWEST_CLASS
    if row.kind == "pyrheliometer":
        beam = pyrheliometer_limits(iso_class, calibration)
        return pyrheliometer_uncertainty(irradiance, sensitivity, beam)
    # The beam that meets the dome is not known here: none behind a shade or in the dark, else the
    # 1000 W m-2 for which the class states its directional limit, which is the careful side.
    lit = 0.0 if row.shade != "none" else DIRECTIONAL_REFERENCE
    beam_on_dome = np.where(irradiance > DARK, lit, 0.0)
    limits_of_class = pyranometer_limits(iso_class, calibration)
    return pyranometer_uncertainty(irradiance, sensitivity, limits_of_class, beam=beam_on_dome)


def expanded_uncertainty_of(
    row: Coefficients, irradiance: Array, voltage: Array, sensitivity: Array, body: Array
) -> Array:
    """
    Expanded uncertainty of readings, k = 2.

    Parameters
    ----------
    row : Coefficients
        Kind, class and certificate of the instrument.
    irradiance : numpy.ndarray, shape (reading,)
        [W m-2]
    voltage : numpy.ndarray, shape (reading,)
        [uV]
    sensitivity : numpy.ndarray, shape (reading,)
        In force. [uV W-1 m2]
    body : numpy.ndarray, shape (reading,)
        Body temperature; used for pyrgeometers only. [K]

    Returns
    -------
    uncertainty : numpy.ndarray, shape (reading,)
        NaN where the irradiance is. [W m-2]

    Notes
    -----
    Class limits and certificate only; what the field record adds (level, soiling) is not in it.
    Timing is added on the grid, by :func:`with_timing`.
    """
    budget = budget_of(row, irradiance, voltage, sensitivity, body)
    return np.where(np.isnan(irradiance), np.nan, budget.expanded(COVERAGE_FACTOR))


def lag_of(row: Coefficients) -> float:
    """
    Time constant by which an instrument lags behind the light.

    Parameters
    ----------
    row : Coefficients
        With the 95 % response time.

    Returns
    -------
    lag : float
        A third of the 95 % response time, exact for a first-order instrument. [s]
    """
    return (row.response_time or SLOWEST_RESPONSE) / 3.0


def with_timing(
    uncertainty: Array,
    values: dict[str, Array],
    offset: Array,
    interval: float,
) -> Array:
    """
    Expanded uncertainty enlarged by what timing is worth in changing light.

    Parameters
    ----------
    uncertainty : numpy.ndarray, shape (time,)
        Expanded, of consecutive intervals. [W m-2]
    values : dict of numpy.ndarray, shape (time,)
        ``mean`` and, where logged, ``min`` and ``max``. [W m-2]
    offset : numpy.ndarray, shape (time,)
        Clock residual and lag together. [s]
    interval : float
        [s]

    Returns
    -------
    uncertainty : numpy.ndarray, shape (time,)
        Combined as uncorrelated, the timing as a rectangular distribution. [W m-2]
    """
    change = largest_change(values["mean"], values.get("min"), values.get("max"))
    timing = rectangular(timing_half_width(change, offset, interval))
    return np.hypot(uncertainty, COVERAGE_FACTOR * timing)
