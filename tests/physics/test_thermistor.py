"""Thermistors against two printed tables, and the half bridge by Ohm's law."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.thermistor import (
    CELSIUS_ZERO,
    THERMISTOR_SETS,
    resistance_from_bridge_ratio,
    resistance_from_temperature,
    temperature_from_resistance,
)

# what the fits leave: BSRN manual p. 69 allows 0.02 K; the first fit keeps a tenth of it
TABLE_TOLERANCE = {"temperature_probe": 0.0025, "radiometer_body": 0.0205}


def test_zero_celsius():
    assert CELSIUS_ZERO == 273.15


def test_printed_tables(published):
    """Both tables at every printed point."""
    rows = published("thermistor_tables.csv")
    assert {row["type"] for row in rows} == set(THERMISTOR_SETS)
    for row in rows:
        kelvin = temperature_from_resistance(float(row["ohm"]), THERMISTOR_SETS[row["type"]])
        miss = abs(float(kelvin) - CELSIUS_ZERO - float(row["celsius"]))
        assert miss <= TABLE_TOLERANCE[row["type"]], row


@pytest.mark.parametrize(
    ("name", "ohm", "celsius"),
    [
        ("temperature_probe", 336103.2, -40.002),
        ("temperature_probe", 176804.8, -30.002),
        ("temperature_probe", 97006.9, -20.001),
        ("temperature_probe", 55303.9, -10.001),
        ("temperature_probe", 32650.9, -0.001),
        ("temperature_probe", 31030.8, 0.999),
        ("temperature_probe", 19902.9, 10.000),
        ("temperature_probe", 12493.3, 20.000),
        ("temperature_probe", 10000, 25.000),
        ("temperature_probe", 8056.1, 30.000),
        ("temperature_probe", 5325.0, 40.000),
        ("temperature_probe", 3601.1, 50.000),
        ("radiometer_body", 135200, -30.014),
        ("radiometer_body", 78910, -20.012),
        ("radiometer_body", 47540, -10.012),
        ("radiometer_body", 29490, -0.016),
        ("radiometer_body", 18790, 9.980),
        ("radiometer_body", 12260, 19.999),
        ("radiometer_body", 10000, 24.983),
        ("radiometer_body", 8194, 29.990),
        ("radiometer_body", 5592, 39.989),
        ("radiometer_body", 3893, 49.982),
        ("radiometer_body", 2854, 58.980),
    ],
)
def test_the_fit_itself(name, ohm, celsius):
    """The equation to half a unit of the third decimal (computed by an independent script)."""
    kelvin = temperature_from_resistance(ohm, THERMISTOR_SETS[name])
    assert abs(float(kelvin) - CELSIUS_ZERO - celsius) <= 5.5e-4


def test_swapping_the_types_shows_away_from_room_temperature():
    """Body read as probe: +5.2, +2.0, 0.0, -2.0 K at -40, 0, 25, 50 °C (independent script).

    The resistances at 0, 25 and 50 °C are those printed for the body's type.
    """
    probe, body = THERMISTOR_SETS["temperature_probe"], THERMISTOR_SETS["radiometer_body"]
    cold = resistance_from_temperature(CELSIUS_ZERO - 40.0, body)
    celsius = temperature_from_resistance([cold, 29490, 10000, 3893], probe) - CELSIUS_ZERO
    assert_allclose(celsius - [-40.0, 0.0, 25.0, 50.0], [5.2, 2.0, 0.0, -2.0], atol=0.05)


@pytest.mark.parametrize("name", THERMISTOR_SETS)
def test_round_trip(name):
    """Temperature to resistance and back within 1e-9, falling all the way."""
    kelvins = np.linspace(200.0, 340.0, 281)
    ohms = resistance_from_temperature(kelvins, THERMISTOR_SETS[name])
    assert np.all(np.diff(ohms) < 0)
    assert_allclose(temperature_from_resistance(ohms, THERMISTOR_SETS[name]), kelvins, rtol=1e-9)


def test_impossible_resistances_and_temperatures():
    """Short, open and missing thermistors give NaN without a warning."""
    coefficients = THERMISTOR_SETS["radiometer_body"]
    got = temperature_from_resistance([0.0, -5.0, np.inf, np.nan, 1e-30], coefficients)
    assert np.isnan(got).all()
    assert np.isnan(resistance_from_temperature([0.0, -1.0, np.nan], coefficients)).all()
    assert temperature_from_resistance(1e4, coefficients).shape == ()


def test_bridge_by_ohms_law():
    """A 10 kohm thermistor with 30 kohm: a quarter across it, three quarters across the other."""
    assert_allclose(resistance_from_bridge_ratio(0.25, 30e3), 10e3)
    assert_allclose(resistance_from_bridge_ratio(0.75, 30e3, "across_resistor"), 10e3)
    assert_allclose(resistance_from_bridge_ratio([0.25], 30e3, series_resistance=12.0), [9988.0])


@pytest.mark.parametrize("measured", ["across_thermistor", "across_resistor"])
def test_bridge_edges(measured):
    """Ratios of a broken or shorted lead give NaN."""
    got = resistance_from_bridge_ratio([0.0, 1.0, -0.1, 1.1, np.nan, np.inf], 1e4, measured)
    assert_array_equal(got, np.full(6, np.nan))


def test_bridge_refusals():
    with pytest.raises(ValueError, match="one of across_thermistor, across_resistor"):
        resistance_from_bridge_ratio(0.5, 1e4, "elsewhere")
    with pytest.raises(ValueError, match=r"bridge_resistor must be positive \(got 0.0\)"):
        resistance_from_bridge_ratio(0.5, 0.0)
