"""Irradiance from voltage and back, and the response to temperature."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.shortwave import (
    irradiance_from_voltage,
    sensitivity_at_temperature,
    voltage_from_irradiance,
)


def test_definition_of_sensitivity():
    """7.2 mV at 8 µV per W m-2 is 900 W m-2 (definition of responsivity in ISO 9060)."""
    assert irradiance_from_voltage(7200.0, 8.0) == 900.0
    assert voltage_from_irradiance(900.0, 8.0) == 7200.0


def test_round_trip():
    """Voltage to irradiance and back within 1e-9, sensitivity changing with time."""
    rng = np.random.default_rng(1)
    voltage, sensitivity = rng.uniform(-100, 15000, 500), rng.uniform(5, 20, 500)
    back = voltage_from_irradiance(irradiance_from_voltage(voltage, sensitivity), sensitivity)
    assert_allclose(back, voltage, rtol=1e-9)


def test_missing_and_over_range():
    """NaN in either stays NaN, infinity (over-range) stays infinite, nothing is clipped."""
    got = irradiance_from_voltage([np.nan, np.inf, -8.0, 8.0], [8.0, 8.0, 8.0, np.nan])
    assert_array_equal(got, [np.nan, np.inf, -1.0, np.nan])


@pytest.mark.parametrize("function", [irradiance_from_voltage, voltage_from_irradiance])
@pytest.mark.parametrize("wrong", [0.0, -8.0])
def test_sensitivity_must_be_positive(function, wrong):
    with pytest.raises(ValueError, match=rf"sensitivity must be positive.*got .*{wrong}"):
        function([1.0, 1.0], [8.0, wrong])


def test_temperature_response():
    """Hand-worked: 8.0 at 20 °C, -0.05 %/K and 0.001 %/K2, at 0 °C: 8 (1 + 0.01 + 0.004)."""
    got = sensitivity_at_temperature(8.0, 273.15, 293.15, [-5e-4, 1e-5])
    assert_allclose(got, 8.0 * 1.014, rtol=1e-12)
    assert_allclose(sensitivity_at_temperature(8.0, [293.15], 293.15, [-5e-4, 1e-5]), [8.0])


def test_temperature_response_without_coefficients():
    """No coefficient: the sensitivity, even where the temperature is missing."""
    assert_array_equal(sensitivity_at_temperature([8.0], [np.nan], 293.15, []), [8.0])
    assert np.isnan(sensitivity_at_temperature([8.0], [np.nan], 293.15, [1e-4])).all()
