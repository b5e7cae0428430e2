"""Ratios of sums by hand, sunshine and clearness against an independent library."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pvlib
import pytest
import xarray as xr
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.config.models.aggregation import AggregateSettings
from sunledger.physics.segments import Segments
from sunledger.physics.sun import solar_position
from sunledger.stages.cells import Cells
from sunledger.stages.indices import (
    grade_shares,
    grade_sums,
    named,
    ratio_of_sums,
    ratio_sums,
    sky_sums,
    source_shares,
    source_sums,
    sunshine,
    sunshine_sums,
)
from sunledger.stages.periods import Series
from sunledger.vocabulary import WITHHELD

NAN = np.nan
NO_SAMPLE, LOW, UNDEFINED = (
    WITHHELD[n].mask for n in ("no_valid_sample", "low_coverage", "undefined")
)
SITES = {"middle": (46.9, 10.2), "equator": (0.5, -60.0), "south": (-41.0, 175.0)}


def series(values: Any) -> Series:
    """What is finite counts."""
    mean = np.asarray(values, float)
    return Series(mean, np.isfinite(mean))


def regular(size: int, width: int) -> Segments:
    """Segments of equal width."""
    return Segments(np.arange(0, size + 1, width))


def cells(sums: dict[str, Any], width: int, size: int) -> Cells:
    """Periods of minutes that hold these sums."""
    edges = 60 * np.arange(0, size + 1, width)
    known = {name.partition(".")[0]: 60 for name in sums}
    return Cells(edges[:-1], edges[1:], edges[:-1], sums, {}, {}, known)


def ratio(above: Any, below: Any, common: Any, possible: Any, width: int, share: float) -> Any:
    """The ratio of two series over periods of a width."""
    sums = ratio_sums(above, below, common, possible, regular(above.size, width))
    return ratio_of_sums(cells(named("r", sums), width, above.size), "r", share)


def sun(ds: xr.Dataset, dni: Series, width: int, share: float, rules: AggregateSettings) -> Any:
    """Sunshine over periods of a width."""
    zenith = ds["solar_zenith_angle"].values
    sums = sunshine_sums(zenith, dni, regular(zenith.size, width), rules)
    return sunshine(cells(sums, width, zenith.size), share)


def sky(series: dict[str, Series], outside: Any, width: int, share: float) -> Any:
    """Clearness and diffuse fraction over periods of a width."""
    table = cells(sky_sums(series, outside, regular(outside.size, width)), width, outside.size)
    names = {name.partition(".")[0] for name in table.sums}
    return {name: ratio_of_sums(table, name, share) for name in names}


def test_ratio_of_sums_by_hand() -> None:
    """(1 + 6) / (4 + 6) = 0.7, not the mean of 0.25 and 1; the third minute is not common.

    Second period: no sun. Third: one of four. Fourth: the sums give nothing positive.
    """
    above = np.array([1, 6, 9, 0, 1, 1, 1, 1, 5, 0, 0, 0, 1, 1, 1, 1.0])
    below = np.array([4, 6, NAN, 0, 2, 2, 2, 2, 9, 9, 9, 9, -2, -2, 1, 1.0])
    common = np.array([1, 1, 0, 0, 1, 1, 1, 1, 1, 0, 0, 0, 1, 1, 1, 1], bool)
    possible = np.array([1, 1, 1, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1], bool)
    got = ratio(above, below, common, possible, 4, 0.5)
    assert_allclose(got[""], [0.7, NAN, NAN, NAN])
    assert got["withheld"].tolist() == [0, UNDEFINED, LOW, UNDEFINED]
    assert got["number_of_observations"].tolist() == [2, 0, 1, 4]
    assert got["number_of_missing_observations"].tolist() == [1, 0, 3, 0]
    assert_allclose(got["coverage_fraction"], [2 / 3, NAN, 0.25, 1.0])


def test_a_day_of_sun_without_a_reading() -> None:
    """Nothing counts, and that is the reason."""
    none, all_ = np.zeros(4, bool), np.ones(4, bool)
    got = ratio(np.ones(4), np.ones(4), none, all_, 4, 0.5)
    assert got["withheld"].tolist() == [NO_SAMPLE | LOW]


def year(latitude: float, longitude: float, days: int = 365) -> xr.Dataset:
    """The sun over a year, minute by minute."""
    time = 1924992000 + 60 * np.arange(days * 1440)  # from 2031-01-01
    sun = solar_position(time + 30, latitude, longitude, 0.0)
    data = {"solar_zenith_angle": ("time", sun.zenith), "distance": ("time", sun.distance)}
    return xr.Dataset(data, coords={"time": time}, attrs={"interval": 60})


@pytest.mark.parametrize("site", SITES)
def test_possible_sunshine_against_pvlib(site: str) -> None:
    """Sunrise to sunset of every day of a year by the published algorithm."""
    latitude, longitude = SITES[site]
    ds = year(latitude, longitude)
    got = sun(ds, series(np.zeros(ds.sizes["time"])), 1440, 0.9, AggregateSettings())
    minutes = got["possible_sunshine_duration"][""] / 60.0
    days = pd.date_range("2031-01-01", periods=365, tz="UTC")
    told = pvlib.solarposition.sun_rise_set_transit_spa(days, latitude, longitude)
    length = ((told["sunset"] - told["sunrise"]).dt.total_seconds() / 60.0).to_numpy() % 1440.0
    # each end is rounded to a minute; over a year the roundings cancel
    assert np.abs(minutes - length).max() < 1.5
    assert minutes.mean() == pytest.approx(length.mean(), abs=0.1)


def test_relative_sunshine_is_taken_over_what_was_watched() -> None:
    """Half of the day unwatched, sun in all the rest: 1, though the duration is withheld."""
    ds = year(46.9, 10.2, days=1)
    up = np.flatnonzero(ds["solar_zenith_angle"].values < 90.8333)
    beam = np.full(1440, 500.0)
    beam[up[: up.size // 3]] = NAN
    rules = AggregateSettings(least_share_daily=0.9)
    got = sun(ds, series(beam), 1440, 0.5, rules)
    assert got["relative_sunshine"][""].tolist() == [1.0]
    strict = sun(ds, series(beam), 1440, 0.9, rules)
    assert strict["relative_sunshine"]["withheld"].tolist() == [LOW]
    assert strict["sunshine_duration"]["withheld"].tolist() == [LOW]


def test_polar_night_has_none_of_none() -> None:
    """0 s of 0 s possible; no share, and not an infinite one."""
    ds = year(82.0, 20.0, days=10)
    got = sun(ds, series(np.full(14400, NAN)), 1440, 0.9, AggregateSettings())
    assert got["sunshine_duration"][""].tolist() == [0.0] * 10
    assert got["possible_sunshine_duration"][""].tolist() == [0.0] * 10
    assert np.isnan(got["relative_sunshine"][""]).all()
    assert set(got["relative_sunshine"]["withheld"].tolist()) == {UNDEFINED}
    dark = sky({"ghi_selected": series(np.zeros(14400))}, np.zeros(14400), 1440, 0.9)
    assert np.isnan(dark["clearness_index"][""]).all()
    assert set(dark["clearness_index"]["withheld"].tolist()) == {UNDEFINED}


def test_clearness_against_pvlib() -> None:
    """Whole days by another sun and another formula of the distance; diffuse beside it."""
    time = 1924992000 + 60 * np.arange(30 * 1440)
    stamps = pd.to_datetime(time + 30, unit="s", utc=True)
    told = pvlib.solarposition.get_solarposition(stamps, 46.9, 10.2, 0.0)
    normal = pvlib.irradiance.get_extra_radiation(stamps, solar_constant=1361.0, method="nrel")
    outside = normal.to_numpy() * np.cos(np.radians(told["zenith"].to_numpy())).clip(min=0.0)
    total = 0.6 * outside * np.random.default_rng(2).uniform(0.5, 1.5, time.size)
    sun = solar_position(time + 30, 46.9, 10.2, 0.0)
    ours = 1361.0 / sun.distance**2 * np.cos(np.radians(sun.zenith)).clip(min=0.0)
    measured = {"ghi_selected": series(total), "dhi": series(0.25 * total)}
    got = sky(measured, ours, 1440, 0.9)
    expected = total.reshape(-1, 1440).sum(1) / outside.reshape(-1, 1440).sum(1)
    assert_allclose(got["clearness_index"][""], expected, rtol=1e-4)
    assert_allclose(got["diffuse_fraction"][""], 0.25, rtol=1e-12)


def test_shares_of_grades_by_hand() -> None:
    """The worst is that of a reading; missing only where there was none."""
    codes = np.array([1, 1, 4, 9, 9, 9, 9, 9, 2, 3, 2, 9], np.int8)
    sums = named("ghi", grade_sums(codes, regular(12, 4)))
    got = grade_shares(cells(sums, 4, 12), "ghi")
    assert got["share_good"].tolist() == [0.5, 0.0, 0.0]
    assert got["share_bad"].tolist() == [0.25, 0.0, 0.0]
    assert got["share_missing"].tolist() == [0.25, 1.0, 0.25]
    assert got["worst_grade"].tolist() == [4, 9, 3]
    assert_allclose(sum(v for n, v in got.items() if n.startswith("share")), 1.0)


def test_shares_of_sources() -> None:
    """Of all minutes of the period."""
    codes = np.array([1, 1, 2, 0, 2, 2, 2, 2], np.int8)
    got = source_shares(cells(named("ghi_selected", source_sums(codes, regular(8, 4))), 4, 8))
    assert_array_equal(got["share_component_sum"], [0.5, 0.0])
    assert_array_equal(got["share_pyranometer"], [0.25, 1.0])
