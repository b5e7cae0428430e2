"""The regular grid of true time: labels move by whole intervals, values never."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pvlib
import pytest
import xarray as xr
from numpy.testing import assert_allclose, assert_array_equal

from free_clock import Stretch, clock_entries, clocked_readings, decoded
from invented import DAY, MARCH, logger, period, readings, station_config, timed
from sunledger.config.models.base import parse_utc
from sunledger.config.models.processing import Processing
from sunledger.physics.sun import solar_position
from sunledger.stages import placement
from sunledger.stages.calibrate import calibrate
from sunledger.stages.time_correct import grid_of, time_correct
from sunledger.vocabulary import CONDITIONS, mask_of

HOUR = 3600
HALO = placement.REACH


def minutes_of(
    stretches: list[Stretch], start: int, days: float, policy: str = "interpolate", **changes: Any
) -> xr.Dataset:
    """Minutes of a global on a free clock, whose values say when each reading began."""
    plain = {"utc_offset": "+00:00", "label": "start"} | changes
    config = station_config(
        {"main": logger(("global_1",), **plain)}, entries=clock_entries(stretches)
    )
    ds, _ = clocked_readings(config, stretches)
    settings = Processing.model_validate({"time_correct": {"policy": policy}})
    resolved = period(config, start - HALO, days + 2 * HALO / DAY, settings)
    out = time_correct(calibrate(timed(config, resolved, ds), resolved), resolved)
    return out.isel(time=(out["time"] >= start) & (out["time"] < start + days * DAY))


def bits(ds: xr.Dataset, name: str, quantity: str = "ghi") -> np.ndarray:
    """Where a condition is set."""
    return (ds[f"{quantity}_conditions"].values & CONDITIONS[name].mask) != 0


def assert_right_minute(ds: xr.Dataset) -> None:
    """Every value was taken in the minute it stands in, and the residual says where in it."""
    late = decoded(ds["ghi"].values) - ds["time"].values
    there = np.isfinite(late)
    assert there.mean() > 0.99
    assert_allclose(late[there], ds["clock_residual_main"].values[there], rtol=0, atol=1e-3)
    assert np.all(np.abs(late[there]) <= 30.001)


@pytest.mark.parametrize("total", [200.0, -200.0])
def test_drift_of_five_seconds_a_day(total: float) -> None:
    """Over 40 days three half-interval crossings, each doubling or emptying exactly one minute."""
    ds = minutes_of([Stretch(MARCH, MARCH + 40 * DAY, 0.0, total)], MARCH, 40)
    assert_right_minute(ds)
    fast = total > 0
    assert bits(ds, "interval_doubled").sum() == (3 if fast else 0)
    # the last reading of a slow clock ends after the last check
    assert bits(ds, "interval_emptied").sum() == (0 if fast else 3)
    assert_array_equal(np.isnan(ds["ghi"].values[:-3]), bits(ds, "interval_emptied")[:-3])
    when = (np.flatnonzero(bits(ds, "interval_doubled" if fast else "interval_emptied"))) / 1440
    assert_allclose(when, [6, 18, 30], rtol=0, atol=0.01)


@pytest.mark.parametrize("error", [100.0, -100.0, 2 * HOUR + 10.0, -2 * HOUR - 10.0, 2.0 * DAY])
@pytest.mark.parametrize("time", [parse_utc("2031-04-01 00:00:20"), MARCH + DAY - 20])
def test_setting_across_midnight_and_a_month_boundary(time: int, error: float) -> None:
    """Back or forward, small or days: every minute holds its own reading."""
    stretches = [
        Stretch(time - 4 * DAY, time, error, error + 3),
        Stretch(time, time + 4 * DAY, 1.0, 4.0),
    ]
    ds = minutes_of(stretches, time // DAY * DAY - DAY, 3)
    assert_right_minute(ds)
    gaps = np.isnan(ds["ghi"].values)
    assert gaps.sum() <= 2
    assert_array_equal(gaps, bits(ds, "interval_emptied"))


@pytest.mark.parametrize("offset", ["+05:45", "-03:30", "+01:00"])
@pytest.mark.parametrize("label", ["start", "end"])
def test_zone_and_label_move_every_minute(offset: str, label: str) -> None:
    """A fraction of an hour east or west, labels at the start or the end."""
    stretches = [Stretch(MARCH - DAY, MARCH + 2 * DAY, 8.0, 11.0)]
    ds = minutes_of(stretches, MARCH, 1, utc_offset=offset, label=label)
    assert_right_minute(ds)
    assert not np.isnan(ds["ghi"].values).any()
    assert ds["time"].values[0] == MARCH


def test_policy_hold() -> None:
    """Held at 0 while the clock drifts by 100 s: values stand where the labels said."""
    stretches = [Stretch(MARCH, MARCH + DAY, 0.0, 100.0)]
    ds = minutes_of(stretches, MARCH, 1, policy="hold")
    assert_array_equal(ds["clock_residual_main"].values[:1430], 0)
    late = decoded(ds["ghi"].values) - ds["time"].values
    assert late[720] == pytest.approx(-50.0, abs=0.1)
    assert_right_minute(minutes_of(stretches, MARCH, 1))


def test_unverified_before_the_first_and_after_the_last_check() -> None:
    """And nowhere between."""
    config = station_config(
        {"main": logger(("global_1",))},
        entries=clock_entries([Stretch(MARCH + 6 * HOUR, MARCH + 18 * HOUR, 0.0, 0.0)]),
    )
    resolved = period(config)
    ds = time_correct(calibrate(timed(config, resolved, readings(config)), resolved), resolved)
    hour = (ds["time"].values - MARCH) // HOUR
    assert_array_equal(bits(ds, "clock_unverified"), (hour < 6) | (hour >= 18))


def test_time_signal_is_never_unverified() -> None:
    """A disciplined clock needs no checks."""
    ds = minutes_of(
        [Stretch(MARCH, MARCH + DAY, 0.0, 0.0)], MARCH, 1, clock={"discipline": "time_signal"}
    )
    assert not bits(ds, "clock_unverified").any()


# --- several loggers, positions and intervals -----------------------------------------------


def two_loggers(error: float) -> xr.Dataset:
    """Direct on its own logger, whose clock is out."""
    loggers = {
        "main": logger(("global_1", "diffuse_1")),
        "beam": logger(("direct_1",), serial_number="NR-LG-2"),
    }
    stretches = [Stretch(MARCH - DAY, MARCH + 2 * DAY, error, error)]
    config = station_config(loggers, entries=clock_entries(stretches, "beam"))
    resolved = period(config)
    beam, _ = clocked_readings(config, stretches, "beam")
    merged = timed(config, resolved, readings(config), beam)
    return time_correct(calibrate(merged, resolved), resolved)


def test_every_logger_keeps_its_own_residual() -> None:
    """And the sun stands at each quantity's own middle, the file's angles at the nominal one."""
    ds = two_loggers(-25.0)
    assert_array_equal(ds["clock_residual_main"], 0)
    assert_allclose(ds["clock_residual_beam"], 25.0, atol=1e-6)
    for quantity, middle in (("ghi", 30.0), ("dni", 55.0)):
        sun = solar_position(ds["time"].values + middle, 46.9, 10.2, 2000.0)
        expected = np.cos(np.radians(sun.zenith))
        assert_allclose(ds[f"{quantity}_cosine_zenith"], expected, rtol=0, atol=1e-12)
    nominal = solar_position(ds["time"].values + 30.0, 46.9, 10.2, 2000.0)
    assert_array_equal(ds["solar_zenith_angle"], nominal.zenith)


def test_sun_against_pvlib() -> None:
    """True zenith at the nominal middle as pvlib's full algorithm gives it (its own Delta T)."""
    ds = two_loggers(0.0).isel(time=slice(0, None, 120))
    middle = pd.to_datetime(ds["time"].values + 30, unit="s", utc=True)
    sun = pvlib.solarposition.get_solarposition(middle, 46.9, 10.2, 2000.0)
    assert_allclose(ds["solar_zenith_angle"], sun["zenith"], rtol=0, atol=2e-3)
    assert_allclose(ds["solar_azimuth_angle"], sun["azimuth"], rtol=0, atol=5e-3)
    normal = pvlib.irradiance.get_extra_radiation(middle, solar_constant=1361.0, method="nrel")
    assert_allclose(ds["extraterrestrial_irradiance"], normal, rtol=1e-4)


def twins(primary: list[dict[str, Any]]) -> xr.Dataset:
    """Two globals, the second reading twice as much."""
    channels = [
        {"column": p, "position": p, "quantity": "ghi", "unit": "mV"}
        for p in ("global_1", "diffuse_1")
    ]
    config = station_config({"main": logger((), channels=channels)}, primary=primary)
    resolved = period(config)
    ds = timed(config, resolved, readings(config))
    return time_correct(calibrate(ds, resolved), resolved)


def test_primary_takes_the_plain_name_when_it_is_dated() -> None:
    """The first position until the entry, the other from it on; both stand beside it."""
    ds = twins([{"from": MARCH + 12 * HOUR, "quantity": "ghi", "position": "diffuse_1"}])
    first, second = ds["ghi_at_global_1"].values, ds["ghi_at_diffuse_1"].values
    assert_array_equal(ds["ghi"].values, np.where(np.arange(1440) < 720, first, second))
    assert np.all(first > 2 * second)
    assert {"ghi_at_global_1_conditions", "ghi_at_diffuse_1_uncertainty"} <= set(ds)


@pytest.mark.parametrize("change", [[], [MARCH + DAY - 30]])
def test_a_series_under_two_names_cannot_be_written_to(change: list[int]) -> None:
    """One position throughout, also if another takes over within the last minute.

    Who wrote to one name would change the other. The other position stands by itself.
    """
    ds = twins([{"from": t, "quantity": "ghi", "position": "diffuse_1"} for t in change])
    for suffix in ("", "_conditions", "_uncertainty", "_cosine_zenith"):
        assert_array_equal(ds[f"ghi{suffix}"], ds[f"ghi_at_global_1{suffix}"])
        for name in (f"ghi{suffix}", f"ghi_at_global_1{suffix}"):
            with pytest.raises(ValueError, match="read-only"):
                ds[name].values[0] = 0
    assert not np.array_equal(ds["ghi"], ds["ghi_at_diffuse_1"])


def test_a_single_position_has_the_plain_name_only() -> None:
    """No second copy."""
    assert not [name for name in two_loggers(0.0) if "_at_" in str(name)]


def test_conditions_of_record_readings_and_placing_are_joined() -> None:
    """One word a quantity: what bears on the position, its quantity, its logger, everything."""
    decision = {
        "id": "r",
        "from": MARCH,
        "until": MARCH + 60,
        "quantities": ["dhi"],
        "decision": "accept",
        "reason": "x",
        "role": "r",
        "decided": MARCH + DAY,
    }
    visit = {
        "id": "v",
        "type": "visit",
        "from": MARCH + HOUR,
        "until": MARCH + HOUR + 60,
        "positions": ["global_1"],
        "role": "t",
    }
    config = station_config(entries=[visit], decisions=[decision])
    resolved = period(config)
    ds = readings(config)
    ds["line_status_main"].values[600] = 1
    ds = time_correct(calibrate(timed(config, resolved, ds), resolved), resolved)
    assert_array_equal(np.flatnonzero(bits(ds, "review_accepted", "dhi")), [0])
    assert not bits(ds, "review_accepted").any()
    assert_array_equal(np.flatnonzero(bits(ds, "maintenance")), np.arange(58, 63))
    assert not bits(ds, "maintenance", "dhi").any()
    for quantity in ("ghi", "dhi", "dni", "lwd"):
        assert_array_equal(np.flatnonzero(bits(ds, "label_conflict", quantity)), [600])
        assert np.isnan(ds[quantity].values[600])


def test_air_data_and_status_go_along() -> None:
    """In the archive's units, by the same placement."""
    config = station_config()
    resolved = period(config)
    ds = readings(config).isel(reading_main=slice(1, None))
    ds = time_correct(calibrate(timed(config, resolved, ds), resolved), resolved)
    assert_allclose(ds["air_temperature"].values[1:], 278.15)
    assert_array_equal(ds["tracker_mode"].values[1:], 1)
    assert np.isnan(ds["air_temperature"].values[0])


@pytest.mark.parametrize("interval", [600, 3600])
def test_sun_of_long_intervals_is_a_mean(interval: int) -> None:
    """Up to 10 min the true middle; above, the mean over the interval of what is above ground."""
    config = station_config({"main": logger(("global_1",), interval=interval)})
    resolved = period(config)
    ds = readings(config, minutes=DAY // interval)
    out = time_correct(calibrate(timed(config, resolved, ds), resolved), resolved)
    start = MARCH + interval * np.arange(DAY // interval)
    where = (resolved.latitude, resolved.longitude, resolved.altitude)
    middle = np.cos(np.radians(solar_position(start + interval / 2, *where).zenith))
    fine = np.cos(np.radians(solar_position(np.arange(MARCH, MARCH + DAY, 10) + 5, *where).zenith))
    mean = np.maximum(fine, 0.0).reshape(-1, interval // 10).mean(axis=1)
    assert np.abs(mean - np.maximum(middle, 0.0)).max() > (0.01 if interval == 3600 else 1e-5)
    expected = middle if interval == 600 else mean
    assert_allclose(out["ghi_cosine_zenith"], expected, atol=2e-5)


def test_air_quantities_with_tests_have_conditions() -> None:
    """What the record says of the logger or of everything holds for them too."""
    config = station_config()
    resolved = period(config)
    out = time_correct(calibrate(timed(config, resolved, readings(config)), resolved), resolved)
    common = mask_of(CONDITIONS, "clock_unverified", "line_rejected")
    words = out["air_temperature_conditions"].values
    assert_array_equal(words & common, out["ghi_conditions"].values & common)


@pytest.mark.parametrize("interval", [10, 60, 600])
def test_grid_has_the_logger_s_interval_but_no_less_than_a_minute(interval: int) -> None:
    """Faster readings are pooled, slower ones are never spread."""
    config = station_config({"main": logger(("global_1",), interval=interval)})
    resolved = period(config)
    ds = readings(config, minutes=DAY // interval)
    out = time_correct(calibrate(timed(config, resolved, ds), resolved), resolved)
    step = max(interval, 60)
    assert out.attrs["interval"] == step
    assert_array_equal(out["time"], np.arange(MARCH, MARCH + DAY, step))
    assert not np.isnan(out["ghi"].values).any()


def test_rejected_line_of_a_fast_logger_marks_its_own_minute() -> None:
    """Lines count in the logger's interval, not in that of the grid."""
    config = station_config({"main": logger(("global_1",), interval=10)})
    resolved = period(config)
    ds = readings(config, minutes=8640)
    ds = ds.isel(reading_main=np.delete(np.arange(8640), 100)).assign(
        quarantine_file_main=("quarantine_main", np.zeros(1, np.int32)),
        quarantine_line_main=("quarantine_main", np.array([102], np.int32)),
    )
    out = time_correct(calibrate(timed(config, resolved, ds), resolved), resolved)
    assert_array_equal(np.flatnonzero(bits(out, "line_rejected")), [16])
    assert_array_equal(np.flatnonzero(bits(out, "few_samples")), [16])


def test_grid_is_half_open() -> None:
    """The end belongs to the next period."""
    config = station_config()
    assert_array_equal(grid_of(period(config, days=1 / 24), 600), MARCH + 600 * np.arange(6))
