"""Nights, twins, skyline, frost: each fires on its fault and is silent on clean data."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_array_equal

import injected
from clear_day import ALTITUDE, clear_minutes
from faults import domes
from hand_minutes import put, quiet_minutes, six_quantities, where
from sunledger.config.models.processing import DEFAULT_GRADES, FlagSettings
from sunledger.stages.qc_context import (
    below_horizon_profile,
    frost_or_ventilation,
    night_offset_large,
    twins_disagree,
)
from sunledger.stages.qc_flag import qc_flag
from sunledger.stages.qc_view import Minutes
from sunledger.vocabulary import CONDITIONS

THREE = ("ghi", "dhi", "dni")


def flagged(ds: xr.Dataset) -> xr.Dataset:
    """The minutes with their words."""
    return qc_flag(ds, six_quantities())


def seen(ds: xr.Dataset, **more: Any) -> Minutes:
    """Minutes as a test sees them."""
    residuals = {q: np.zeros(ds.sizes["time"]) for q in THREE}
    return Minutes(ds, FlagSettings(), 10.0, residuals, altitude=ALTITUDE, **more)


# --- night ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("offset", "found"), [(-10.5, True), (-9.5, False)])
def test_night_offset_against_the_class(offset: float, found: bool) -> None:
    """Total zero offset of class A is 10 W m-2 (ISO 9060:2018, from memory)."""
    ds = quiet_minutes(60, 110.0, {"ghi": offset, "dhi": 0.0, "dni": 0.0})
    minutes = seen(ds, zero_offset={"ghi": np.full(60, 10.0)})
    tested, failed = night_offset_large(minutes, "ghi")
    assert tested.all()
    assert failed.all() == failed.any() == found


def test_night_offset_needs_a_night_and_a_class() -> None:
    """By day it is not tested; without a class there is no verdict."""
    ds = quiet_minutes(60)
    tested, _ = night_offset_large(seen(ds, zero_offset={"ghi": np.full(60, 10.0)}), "ghi")
    assert not tested.any()
    assert night_offset_large(seen(ds), "ghi") is None


# --- twins ----------------------------------------------------------------------------------


def twins(difference: Any) -> Minutes:
    """Two instruments for the global."""
    ds = quiet_minutes()
    ds["ghi_at_a"] = ds["ghi"]
    ds["ghi_at_b"] = ds["ghi"] + difference
    for name in ("ghi_at_a", "ghi_at_b"):
        ds[f"{name}_conditions"] = ds["ghi_conditions"]
    return seen(ds)


def test_twins_that_differ_for_three_minutes() -> None:
    """5 % of the larger, 751 W m-2, is 37.5; two minutes are not enough."""
    away = np.zeros(30)
    away[[3, 4, 10, 11, 12]] = 38.0
    tested, failed = twins_disagree(twins(away), "ghi")
    assert tested.all()
    assert_array_equal(np.flatnonzero(failed), [10, 11, 12])
    assert not twins_disagree(twins(np.full(30, 35.0)), "ghi")[1].any()


def test_a_single_instrument_has_no_twin() -> None:
    """And a missing twin is not tested."""
    assert twins_disagree(seen(quiet_minutes()), "ghi") is None
    tested, failed = twins_disagree(twins(np.full(30, np.nan)), "ghi")
    assert not tested.any()
    assert not failed.any()


# --- skyline --------------------------------------------------------------------------------


def test_sun_behind_the_skyline() -> None:
    """Elevation 5 degrees, skyline 6; not below the level horizon, nor without a record."""
    ds = quiet_minutes(4, np.array([85.0, 83.0, 91.0, 85.0]))
    minutes = seen(ds, skyline=np.array([6.0, 6.0, 6.0, np.nan]))
    tested, failed = below_horizon_profile(minutes, "dni")
    assert tested.tolist() == [True, True, False, False]
    assert failed.tolist() == [True, False, False, False]
    assert below_horizon_profile(seen(ds), "dni") is None


# --- frost ----------------------------------------------------------------------------------


def morning(humidity: float, azimuth: float = 100.0) -> xr.Dataset:
    """Three hours of a clear morning with frost on the global from minute 40 to 140."""
    ds = clear_minutes(180, np.linspace(86.0, 56.0, 180))
    ds["solar_azimuth_angle"].values[:] = azimuth
    ds["relative_humidity"] = ("time", np.full(180, 0.5))
    ds["relative_humidity"].values[:10] = humidity
    time = ds["time"].values

    def fault(light: Any) -> Any:
        return domes.dome_frosted(light, float(time[40]), float(time[140]))

    return injected.with_light(ds, fault)


def test_frost_after_a_moist_night() -> None:
    """Nearly every minute that it changes by more than 5 %; none before."""
    tested, failed = frost_or_ventilation(seen(morning(0.95)), "ghi")
    assert failed[45:130].mean() > 0.95
    assert not failed[:38].any()
    assert tested[failed].all()


@pytest.mark.parametrize(("humidity", "azimuth"), [(0.84, 100.0), (0.95, 250.0)])
def test_no_frost_in_dry_air_or_in_the_afternoon(humidity: float, azimuth: float) -> None:
    """The same loss has then another cause."""
    assert not frost_or_ventilation(seen(morning(humidity, azimuth)), "ghi")[1].any()


def test_moist_air_long_ago_does_not_count() -> None:
    """With one hour asked for, humidity of 45 minutes before minute 54 is too old from 70 on."""
    ds = morning(0.95)
    settings = FlagSettings.model_validate({"frost": {"hours_before": 1}})
    residuals = {q: np.zeros(180) for q in THREE}
    failed = frost_or_ventilation(Minutes(ds, settings, 10.0, residuals, ALTITUDE), "ghi")[1]
    assert failed[45:60].any()
    assert not failed[70:].any()


def test_a_standing_ventilator_needs_no_frost() -> None:
    """The status alone is enough, for the quantities it serves."""
    still = np.zeros(30, bool)
    still[5] = True
    minutes = seen(quiet_minutes(), unventilated={"lwd": still})
    tested, failed = frost_or_ventilation(minutes, "lwd")
    assert tested.all()
    assert_array_equal(np.flatnonzero(failed), [5])
    assert frost_or_ventilation(minutes, "lwu") is None


def test_zenith_that_changes_fast_is_told_and_not_graded() -> None:
    """At 89.5 degree the cosine changes by two fifths in a minute; at 80 degree by a fiftieth."""
    low = flagged(quiet_minutes(5, np.array([89.9, 89.7, 89.5, 89.3, 89.1])))
    assert where(low, "dhi", "zenith_changes_fast").all()
    high = flagged(quiet_minutes(5, np.array([80.4, 80.2, 80.0, 79.8, 79.6])))
    assert where(high, "dhi", "zenith_changes_fast", "tested").all()
    assert not where(high, "dhi", "zenith_changes_fast").any()
    assert not where(flagged(quiet_minutes(3, 91.0)), "dhi", "zenith_changes_fast", "tested").any()
    assert not any("zenith_changes_fast" in rule.flags for rule in DEFAULT_GRADES)


def test_soiling_of_the_record_is_flagged_by_day() -> None:
    """The bit follows the record, on the soiled instrument alone; it makes questionable."""
    soiled = np.int32(CONDITIONS["soiling_recorded"].mask)
    ds = quiet_minutes(4)
    ds["dni_conditions"].values[1:3] |= soiled
    out = flagged(ds)
    assert where(out, "dni", "soiled").tolist() == [False, True, True, False]
    assert where(out, "dni", "soiled", "tested").tolist() == [False, True, True, False]
    assert not where(out, "ghi", "soiled", "tested").any()
    assert out["dni_grade"].values.tolist() == [1, 3, 3, 1]
    ds = quiet_minutes(2, 95.0)
    ds["dni_conditions"].values[:] |= soiled
    assert not where(flagged(ds), "dni", "soiled", "tested").any()


def test_frost_fills_the_minutes_between_frosted_ones() -> None:
    """A loss of 2 % between minutes that lose 6 % is frost too; apart from them it is not."""
    ds = clear_minutes(120, zenith=70.0)
    ds["solar_azimuth_angle"].values[:] = 100.0
    ds = ds.assign(relative_humidity=("time", np.full(120, 0.95)))
    loss = np.zeros(120)
    loss[20:100] = 0.06
    loss[50:55] = loss[5:10] = 0.02
    put(ds, "ghi", slice(None), ds["ghi"].values * (1.0 - loss))
    found = np.flatnonzero(frost_or_ventilation(seen(ds), "ghi")[1])
    assert found.tolist() == list(range(20, 100))


@pytest.mark.parametrize(("dome", "found"), [(272.0, True), (279.0, False)])
def test_a_dome_below_the_frost_point_needs_no_moist_air(dome: float, found: bool) -> None:
    """Air at 7 degC and 70 % settles dew on 1.9 degC and colder; the dome tells, not the air."""
    ds = morning(0.70)
    ds = ds.assign(lwd_dome_temperature=("time", np.full(180, 280.0)))
    ds["lwd_dome_temperature"].values[:10] = dome
    assert frost_or_ventilation(seen(ds), "ghi")[1].any() == found
