"""Counts and totals passed over once: by hand, against loops, whatever is asked for together."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose, assert_array_equal

from invented import MARCH, period, station_config
from sunledger.config.models.aggregation import AggregateSettings
from sunledger.physics.segments import Segments
from sunledger.physics.sun import zenith_angle
from sunledger.stages.aggregate import aggregates
from sunledger.stages.minute_sums import (
    Minutes,
    Totals,
    period_sums,
    quarter_sums,
    repeated,
    totals,
)
from sunledger.stages.periods import Series
from sunledger.stages.time_bases import TimeBase

DAY_MINUTES = 1440
SOLAR = TimeBase("true_solar", 0, 10.2)


def series(values: Any) -> Series:
    """What is finite counts."""
    mean = np.asarray(values, dtype=float)
    return Series(mean, np.isfinite(mean))


def random_series(size: int, seed: int) -> Series:
    """Numbers with many digits and gaps."""
    rng = np.random.default_rng(seed)
    values = rng.gamma(2.0, 150.0, size)
    values[rng.random(size) < 0.1] = np.nan
    return series(values)


def minutes(ghi: Series, zenith: Any) -> Minutes:
    """Global and the air, graded good or missing."""
    air = random_series(ghi.mean.size, 7)
    grades = {n: np.where(s.valid, 1, 9).astype(np.int8) for n, s in (("ghi", ghi), ("t", air))}
    angle = np.asarray(zenith, dtype=float)
    return Minutes({"ghi": ghi}, {"air_temperature": air}, grades, angle, None, None, None)


def test_totals_by_hand() -> None:
    """Two quantities, three periods, one of them uneven; then two longer ones."""
    given = {"ghi": series([1, 2, np.nan, 4, 5]), "lwd": series([10, np.nan, np.nan, 40, 50])}
    got = totals(given, Segments(np.array([0, 2, 3, 5])))
    assert got.names == ("ghi", "lwd")
    assert got.count.tolist() == [[2, 0, 2], [1, 0, 2]]
    assert got.total.tolist() == [[3.0, 0.0, 9.0], [10.0, 0.0, 90.0]]
    longer = got.longer(Segments(np.array([0, 1, 3])))
    assert longer.count.tolist() == [[2, 2], [1, 2]]
    assert longer.total.tolist() == [[3.0, 9.0], [10.0, 90.0]]
    assert longer.parts()["lwd"]["total"].tolist() == [10.0, 90.0]


def test_periods_of_one_quarter_are_themselves() -> None:
    """Nothing is added to them."""
    known = Totals(("ghi",), np.array([[3, 0]]), np.array([[-0.0, 0.1]]))
    assert known.longer(Segments(np.array([0, 1, 2]))) is known


def test_grades_of_several_quantities_are_counted_apart() -> None:
    """Each under its own name."""
    given = minutes(series([1.0, np.nan, 3.0, np.nan]), [50.0] * 4)
    segments = Segments(np.array([0, 2, 4]))
    known = totals(given.series | given.air, segments)
    sums, _, _ = period_sums(given, segments, known, AggregateSettings())
    assert sums["ghi.grade_good"].tolist() == [1, 1]
    valid = given.air["air_temperature"].valid
    assert sums["t.grade_good"].tolist() == valid.reshape(2, 2).sum(axis=1).tolist()
    assert sums["ghi.grade_bad"].tolist() == [0, 0]
    assert sums["ghi.count"].tolist() == [1, 1]


def test_quarters_take_the_night_as_zero() -> None:
    """Two quarters by day and night: a missing minute of the night counts, one of the day not."""
    values = np.full(30, 2.0)
    values[[3, 20]] = np.nan
    given = minutes(series(values), [50.0] * 15 + [100.0] * 15)
    segments = Segments(np.array([0, 15, 30]))
    got = quarter_sums(given, segments, totals(given.series, segments), AggregateSettings())
    assert got["ghi.count"].tolist() == [14, 15]
    assert got["ghi.seen"].tolist() == [14, 14]
    assert got["ghi.total"].tolist() == [28.0, 0.0]


def test_longer_means_stand_for_their_minutes() -> None:
    """Values and what counts; of minutes nothing is made anew."""
    given = {"ghi": series([1.0, np.nan])}
    got = repeated(given, 2)["ghi"]
    assert_array_equal(got.mean, [1.0, 1.0, np.nan, np.nan])
    assert got.valid.tolist() == [True, True, False, False]
    assert repeated(given, 1) is given


def of_days(days: int, interval: int = 60) -> xr.Dataset:
    """Minutes, or longer means, of global and longwave."""
    time = np.arange(MARCH, MARCH + 86400 * days, interval, dtype=np.int64)
    data: dict[str, Any] = {
        "solar_zenith_angle": zenith_angle(time + interval // 2, 46.9, 10.2),
        "clock_residual_main": np.zeros(time.size),
    }
    for seed, quantity in enumerate(("ghi", "dhi", "dni", "lwd")):
        one = random_series(time.size, seed)
        grade = np.where(one.valid, 1, 9).astype(np.int8)
        data |= {quantity: one.mean, f"{quantity}_grade": grade}
    named = {name: ("time", values) for name, values in data.items()}
    return xr.Dataset(named, coords={"time": time}, attrs={"interval": interval})


@pytest.mark.parametrize("base", [TimeBase(), TimeBase("local_standard", -12600), SOLAR])
def test_a_value_does_not_depend_on_what_is_asked_for_with_it(base: TimeBase) -> None:
    """To the last bit, by every clock; hours are not of equal length by that of the sun."""
    ds, about = of_days(31), period(station_config(), MARCH, 31)
    together = aggregates(ds, about, ("15min", "30min", "hourly", "daily", "monthly"), base)
    for product, expected in together.items():
        alone = aggregates(ds, about, (product,), base)[product]
        xr.testing.assert_identical(alone, expected)
        for name in expected.data_vars:
            assert alone[name].values.tobytes() == expected[name].values.tobytes(), name


@pytest.mark.parametrize("base", [TimeBase(), SOLAR])
def test_hours_of_quarters_are_those_of_minutes(base: TimeBase) -> None:
    """Against the mean of each hour's own minutes, one hour after the other."""
    ds, about = of_days(3), period(station_config(), MARCH, 3)
    got = aggregates(ds, about, ("hourly",), base)["hourly"]
    stamps = ds["time"].values
    widths = set()
    for hour in range(got.sizes["time"]):
        first, past = (int(got[n].values[hour]) for n in ("time", "time_end"))
        inside = ds["lwd"].values[(stamps >= first) & (stamps < past)]
        widths.add(inside.size)
        assert got["lwd_number_of_observations"].values[hour] == np.isfinite(inside).sum()
        if np.isfinite(got["lwd"].values[hour]):
            assert_allclose(got["lwd"].values[hour], np.nanmean(inside), rtol=1e-14)
    assert (len(widths) > 1) == (base is SOLAR)


@pytest.mark.parametrize("interval", [300, 600, 900, 1800])
def test_months_of_solar_time_from_longer_means(interval: int) -> None:
    """Quarters by the sun, some shorter than a mean, still make a composite of the month."""
    about = period(station_config(), MARCH, 31)
    ds = of_days(31, interval)
    ds["lwd"] = ("time", np.full(ds.sizes["time"], 301.5))
    ds["lwd_grade"] = ("time", np.ones(ds.sizes["time"], np.int8))
    got = aggregates(ds, about, ("monthly",), SOLAR)["monthly"]
    assert_allclose(got["lwd"].values[np.argmax(got["lwd_number_of_observations"].values)], 301.5)
