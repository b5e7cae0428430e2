"""Skyline, classes and ventilators out of the resolved record."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hand_minutes import quiet_minutes, six_quantities
from invented import MARCH, logger, period, station_config
from sunledger.config.resolve import Period
from sunledger.stages.qc_flag import qc_flag
from sunledger.stages.qc_record import class_zero_offsets, skyline_at_sun, supply_low, unventilated
from sunledger.vocabulary import CONDITIONS


def test_skyline_between_its_points_and_round_north() -> None:
    """Linear in azimuth; from 310 to 0 degrees it goes on through north."""
    ds = quiet_minutes(4)
    ds["solar_azimuth_angle"].values[:] = [45.0, 355.0, 320.0, 45.0]
    pairs = ((0.0, 2.0), (90.0, 6.0), (320.0, 4.0))
    period = replace(six_quantities(), skylines=((MARCH, MARCH + 180, pairs),))
    got = skyline_at_sun(ds, period)
    assert got is not None
    np.testing.assert_allclose(got, [4.0, 2.25, 4.0, np.nan])
    assert skyline_at_sun(ds, replace(six_quantities(), skylines=())) is None


def test_offsets_follow_the_class() -> None:
    """Class A pyranometers 10 W m-2 (ISO 9060:2018, from memory); without a class nothing."""
    period = six_quantities()
    rows = [c for c in period.coefficients if c.quantity == "ghi"]
    got = class_zero_offsets(quiet_minutes(3), replace(period, coefficients=()))
    assert got == {}
    if rows:
        classed = replace(period, coefficients=tuple(replace(r, iso_class="A") for r in rows))
        np.testing.assert_array_equal(
            class_zero_offsets(quiet_minutes(3), classed)["ghi"], [10.0] * 3
        )


def test_ventilator_below_its_least_speed_stands() -> None:
    """Only for the quantity it serves."""
    ds = quiet_minutes(3)
    ds["fan"].values[1] = 999.0
    got = unventilated(ds, six_quantities())
    assert list(got) == ["ghi"]
    assert got["ghi"].tolist() == [False, True, False]


@pytest.mark.parametrize("speed", [1000.0, np.nan])
def test_unknown_or_least_speed_is_not_standing(speed: float) -> None:
    """A gap in the status says nothing."""
    ds = quiet_minutes(1)
    ds["fan"].values[:] = speed
    assert not unventilated(ds, six_quantities())["ghi"].any()


def two_supplies() -> Period:
    """Two loggers, one of which logs its supply."""
    signal = {"position": "ghi_1", "quantity": "ghi", "column": "g", "unit": "mV"}
    other = {"position": "dhi_1", "quantity": "dhi", "column": "d", "unit": "mV"}
    supply = {"column": "bus", "status": "supply_voltage", "unit": "V", "least": 11.5}
    loggers = {
        "main": logger((), channels=[signal, {**supply, "serves": ["ghi_1"]}]),
        "rest": logger((), channels=[other], serial_number="NR-LG-rest", files=["rest*"]),
    }
    return period(station_config(loggers))


def test_low_supply_is_a_condition_of_its_logger() -> None:
    """Below 11.5 V, for what that logger measures; it is no standing ventilator."""
    ds = quiet_minutes(4)
    ds = ds.drop_vars([n for n in ds if str(n).startswith("dni")])
    ds = ds.assign(supply_voltage=("time", [12.6, 11.5, 11.4, np.nan]))
    ds = ds.assign(clock_residual_rest=("time", np.zeros(4)))
    got = supply_low(ds, two_supplies())
    assert list(got) == ["ghi"]
    assert got["ghi"].tolist() == [False, False, True, False]
    assert unventilated(ds, two_supplies()) == {}
    out = qc_flag(ds, two_supplies())
    word = out["ghi_conditions"].values & CONDITIONS["supply_low"].mask
    assert np.flatnonzero(word).tolist() == [2]
    assert out["ghi_grade"].values.tolist() == [1, 1, 3, 1]
    assert not np.any(out["dhi_conditions"].values & CONDITIONS["supply_low"].mask)
