"""Fast readings pooled to minutes, against the statistics of the readings themselves."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose, assert_array_equal

from invented import MARCH, logger, period, readings, station_config, timed
from sunledger.config.resolve import ResolvedLogger
from sunledger.stages.calibrate import calibrate
from sunledger.stages.pooling import pool_readings
from sunledger.vocabulary import CONDITIONS

POSITIONS = ("global_1", "direct_1", "sky_1")


def calibrated(
    interval: int = 10, number: int = 60, change: Any = None
) -> tuple[xr.Dataset, ResolvedLogger]:
    """Calibrated readings of a fast logger."""
    config = station_config({"main": logger(POSITIONS, interval=interval)})
    resolved = period(config, days=1)
    ds = readings(config, minutes=number)
    if change is not None:
        change(ds)
    return calibrate(timed(config, resolved, ds), resolved), resolved.loggers[0]


def has(ds: xr.Dataset, name: str, position: str = "global_1") -> list[bool]:
    """Where a condition is set."""
    return ((ds[f"{position}_conditions"].values & CONDITIONS[name].mask) != 0).tolist()


def test_statistics_of_a_minute() -> None:
    """Mean, extremes, and the deviation from variances within and between (6 x 10 s)."""
    ds, item = calibrated()
    out, quick = pool_readings(ds, item, 60)
    assert quick.interval == 60
    mean, std = (ds[n].values.reshape(-1, 6) for n in ("global_1", "global_1_std"))
    assert_allclose(out["global_1"], mean.mean(axis=1), rtol=1e-14)
    low, high = (ds[f"global_1_{s}"].values.reshape(-1, 6) for s in ("min", "max"))
    assert_array_equal(out["global_1_min"], low.min(axis=1))
    assert_array_equal(out["global_1_max"], high.max(axis=1))
    assert_allclose(out["global_1_std"], np.sqrt((std**2).mean(1) + mean.var(1)), rtol=1e-12)
    assert_array_equal(out["start_time_main"], MARCH + 60.0 * np.arange(10))
    assert not any(has(out, "few_samples"))


def test_single_readings_without_statistics() -> None:
    """Where only means are logged their own extremes and deviation stand for the minute's."""
    rows = [{"column": "g", "position": "global_1", "quantity": "ghi", "unit": "mV"}]
    config = station_config({"main": logger((), channels=rows, interval=1)})
    resolved = period(config)
    ds = calibrate(timed(config, resolved, readings(config, minutes=120)), resolved)
    out, quick = pool_readings(ds, resolved.loggers[0], 60)
    values = ds["global_1"].values.reshape(2, 60)
    for name, expected in (
        ("global_1", values.mean(1)),
        ("global_1_min", values.min(1)),
        ("global_1_max", values.max(1)),
        ("global_1_std", values.std(1)),
    ):
        assert_allclose(out[name], expected, rtol=1e-12, err_msg=name)
    assert [c.statistic for c in quick.channels] == ["mean", "min", "max", "std"]


def test_gaps_leave_the_rest_of_the_minute() -> None:
    """Missing values do not count, and the minute says that it holds few."""

    def change(ds: xr.Dataset) -> None:
        ds["global_1_mean"].values[[0, 1]] = np.nan
        ds["global_1_mean"].values[12:18] = np.nan

    ds, item = calibrated(change=change)
    out, _ = pool_readings(ds, item, 60)
    assert_allclose(out["global_1"].values[0], ds["global_1"].values[2:6].mean(), rtol=1e-14)
    assert np.isnan(out["global_1"].values[2])
    assert has(out, "few_samples")[:4] == [True, False, False, False]
    assert not any(has(out, "few_samples", "direct_1"))


def test_lost_readings_are_told_for_every_position() -> None:
    """A minute with five of six readings."""
    ds, item = calibrated()
    out, _ = pool_readings(ds.isel(reading_main=np.delete(np.arange(60), 7)), item, 60)
    for position in POSITIONS:
        assert has(out, "few_samples", position) == [False, True] + [False] * 8


def test_conflicting_lines_do_not_enter_but_are_told() -> None:
    """The first reading of a label is kept; its minute is marked."""

    def change(ds: xr.Dataset) -> None:
        ds["line_status_main"].values[8] = 1

    ds, item = calibrated(change=change)
    out, _ = pool_readings(ds, item, 60)
    kept = np.delete(ds["global_1"].values[6:12], 2)
    assert_allclose(out["global_1"].values[1], kept.mean(), rtol=1e-14)
    assert has(out, "label_conflict") == [False, True] + [False] * 8


def test_over_range_and_conditions_of_one_reading_are_the_minute_s() -> None:
    """A bit of one reading is a bit of the minute; its value does not enter."""

    def change(ds: xr.Dataset) -> None:
        ds["global_1_mean"].values[3] = np.inf

    ds, item = calibrated(change=change)
    ds["direct_1_conditions"].values[13] |= CONDITIONS["outside_certificate_range"].mask
    out, _ = pool_readings(ds, item, 60)
    assert out["global_1_over_range"].values.tolist() == [True] + [False] * 9
    assert np.isfinite(out["global_1"].values[0])
    assert has(out, "outside_certificate_range", "direct_1") == [False, False, True] + [False] * 7


def test_readings_belong_to_the_minute_of_their_middle() -> None:
    """A reading from 00:59.4 on, of ten seconds, lies mostly in the next minute."""
    ds, item = calibrated()
    moved = ds.assign(start_time_main=ds["start_time_main"] - 4.0)
    out, _ = pool_readings(moved, item, 60)
    assert_array_equal(out["start_time_main"], MARCH + 60.0 * np.arange(10))
    later, _ = pool_readings(ds.assign(start_time_main=ds["start_time_main"] - 6.0), item, 60)
    assert later["start_time_main"].values[0] == MARCH - 60.0
    assert has(later, "few_samples")[:2] == [True, False]


def test_file_order_does_not_matter() -> None:
    """Readings delivered late join their minute."""
    ds, item = calibrated()
    shuffled = ds.isel(reading_main=np.random.default_rng(1).permutation(60))
    a, b = pool_readings(ds, item, 60)[0], pool_readings(shuffled, item, 60)[0]
    for name in ("global_1", "global_1_std", "sky_1", "start_time_main", "global_1_conditions"):
        assert_allclose(a[name], b[name], rtol=1e-12)


def test_air_status_and_the_rest() -> None:
    """Means of air data, the first value of a status; temperatures as means."""

    def change(ds: xr.Dataset) -> None:
        ds["air_temperature"].values[:6] = np.arange(6.0)
        ds["tracker_mode"].values[:6] = [2, 1, 1, 1, 1, 1]
        ds["sky_1_body_temperature"].values[:6] = 280.0 + np.arange(6)

    ds, item = calibrated(change=change)
    out, _ = pool_readings(ds, item, 60)
    assert out["air_temperature_si"].values[0] == pytest.approx(275.65)
    assert out["tracker_mode"].values[0] == 2
    assert out["sky_1_body_temperature_kelvin"].values[0] == pytest.approx(282.5)


def test_no_reading() -> None:
    """Nothing to pool."""
    ds, item = calibrated()
    out, _ = pool_readings(ds.isel(reading_main=slice(0)), item, 60)
    assert out.sizes["reading_main"] == 0


def test_input_is_left_unchanged() -> None:
    """Pooling writes into nothing it was given."""
    ds, item = calibrated()
    before = ds.copy(deep=True)
    pool_readings(ds, item, 60)
    xr.testing.assert_identical(ds, before)
