"""Pooling, the monthly composite and sunshine, worked by hand and against single readings."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.aggregation import diurnal_composite_mean, pool, sunshine_seconds

NAN = np.nan


def test_pool_by_hand():
    """Means 1 and 3 with deviations 1 and 1: mean 2, deviation sqrt(1 + 1)."""
    got = pool([[1.0, 3.0]], [[0.0, 1.0]], [[2.0, 6.0]], [[1.0, 1.0]])
    assert_array_equal(got.count, [2])
    assert_array_equal(got.mean, [2.0])
    assert_array_equal(got.minimum, [0.0])
    assert_array_equal(got.maximum, [6.0])
    assert_allclose(got.std, [np.sqrt(2.0)])


def test_pool_gives_what_the_single_readings_give():
    """Seconds pooled to minutes pooled to an hour equal the statistics of the 3600 seconds."""
    seconds = np.random.default_rng(1).gamma(2.0, 200.0, (5, 60, 60))
    flat = seconds.reshape(5, -1)
    got = pool(seconds.mean(2), seconds.min(2), seconds.max(2), seconds.std(2))
    assert_allclose(got.mean, flat.mean(1))
    assert_allclose(got.std, flat.std(1))
    assert_array_equal(got.minimum, flat.min(1))
    assert_array_equal(got.maximum, flat.max(1))


def test_pool_uses_only_valid_samples():
    """A flagged spike, a gap and an over-range value leave no trace, in the extremes either."""
    mean = np.array([[1.0, 900.0, NAN, 3.0, np.inf]])
    valid = np.array([[True, False, True, True, True]])
    got = pool(mean, mean - 1, mean + 1, np.array([[1.0, 99.0, 99.0, 1.0, NAN]]), valid)
    assert_array_equal(got.count, [2])
    assert_array_equal([got.mean[0], got.minimum[0], got.maximum[0]], [2.0, 0.0, 4.0])
    assert_allclose(got.std, [np.sqrt(2.0)])


def test_pool_of_means_alone():
    """Without extremes and deviations those of the means."""
    got = pool([[1.0, 3.0]])
    assert (got.minimum[0], got.maximum[0], got.std[0]) == (1.0, 3.0, 1.0)


def test_pool_without_a_valid_sample():
    got = pool([[NAN, NAN], [1.0, 1.0]], valid=[[True, True], [False, False]])
    assert_array_equal(got.count, [0, 0])
    for values in (got.mean, got.minimum, got.maximum, got.std):
        assert np.isnan(values).all()


def test_pool_unknown_extremes_stay_unknown():
    """A used sample without its own minimum or deviation leaves those of the row unknown."""
    got = pool([[1.0, 3.0]], minimum=[[NAN, 2.0]], std=[[NAN, 1.0]])
    assert np.isnan(got.minimum[0])
    assert np.isnan(got.std[0])
    assert got.mean[0] == 2.0


def test_pool_sums_in_double_precision():
    """Float32 samples, mean good to double precision; small deviations on a large mean."""
    values = np.full((1, 100_000), 0.1, dtype=np.float32)
    assert_allclose(pool(values).mean, np.float64(np.float32(0.1)), rtol=1e-12)
    assert_allclose(pool([[1e8, 1e8 + 2.0]]).std, [1.0])


def test_pool_rows_do_not_depend_on_each_other():
    """A row alone gives bit for bit what it gives among others."""
    values = np.random.default_rng(2).uniform(0, 1000, (30, 60)).astype(np.float32)
    whole = pool(values)
    for row in (0, 13, 29):
        alone = pool(values[row : row + 1])
        assert alone.mean[0] == whole.mean[row]
        assert alone.std[0] == whole.std[row]


def test_pool_refusals():
    with pytest.raises(ValueError, match=r"two dimensions, interval and sample \(got 1\)"):
        pool([1.0, 2.0])
    with pytest.raises(ValueError, match=r"std must have the shape of mean, \(1, 2\)"):
        pool([[1.0, 2.0]], std=[[1.0]])


def day_course():
    """An invented clear course of 1440 minutes."""
    return np.maximum(0.0, 800.0 * np.sin((np.arange(1440) - 360) / 1440 * 2 * np.pi))


def test_composite_of_complete_days_is_the_plain_mean():
    values = np.random.default_rng(3).uniform(0, 900, 30 * 1440)
    got = diurnal_composite_mean(values)
    assert_allclose(got.mean, values.mean())
    assert_array_equal(got.days, np.full(96, 30))
    assert got.cycle.shape == (96,)


def test_composite_is_not_pulled_by_missing_nights():
    """The reason for it: half the nights missing leave it, while a plain mean goes astray."""
    values = np.tile(day_course(), 10)
    gaps = values.copy()
    dark = np.tile(day_course() == 0.0, 10)
    gaps[dark & (np.arange(values.size) < values.size // 2)] = NAN
    assert abs(np.nanmean(gaps) / values.mean() - 1.0) > 0.2
    # left over: the one minute of exact 0 at dawn that the first five days miss in its bin
    assert abs(diurnal_composite_mean(gaps).mean / values.mean() - 1.0) < 1e-4


def test_composite_by_hand():
    """Two days, one bin: 10 on day one, minutes 20 and 40 on day two of which 2 are too few."""
    values = np.zeros(2 * 1440)
    values[:15] = 10.0
    values[1440:1455] = NAN
    values[1440], values[1441] = 20.0, 40.0
    got = diurnal_composite_mean(values)
    assert (got.cycle[0], got.days[0]) == (10.0, 1)  # 2 of 15 is below 20 %
    values[1442] = 60.0
    got = diurnal_composite_mean(values)
    assert (got.cycle[0], got.days[0]) == (25.0, 2)  # 3 of 15 is 20 %: (10 + 40) / 2
    assert_allclose(got.mean, 25.0 / 96)


def test_composite_with_the_share_asked_of_the_month():
    """17 of 30 minutes are 57 %: the thin day counts, as a day."""
    values = np.zeros(2 * 1440)
    values[:15] = 10.0
    values[1440:1455] = NAN
    values[1440], values[1441] = 20.0, 40.0
    got = diurnal_composite_mean(values, fraction_of="monthly_bin")
    assert (got.cycle[0], got.days[0]) == (20.0, 2)
    strict = diurnal_composite_mean(values, minimum_fraction=0.6, fraction_of="monthly_bin")
    assert np.isnan(strict.cycle[0])


def test_composite_needs_all_bins():
    """One bin missing on all days: no mean, the rest of the cycle stands."""
    values = np.ones(3 * 1440)
    valid = np.ones(3 * 1440, bool)
    valid.reshape(3, 1440)[:, 30:45] = False
    got = diurnal_composite_mean(values, valid)
    assert np.isnan(got.mean)
    assert_array_equal(np.flatnonzero(np.isnan(got.cycle)), [2])
    assert got.days[2] == 0


@pytest.mark.parametrize(
    ("values", "settings", "message"),
    [
        (np.zeros(1441), {}, "whole days, a multiple of 1440"),
        (np.zeros(0), {}, "whole days"),
        (np.zeros(1440), {"bin_minutes": 7}, r"bin_minutes must divide 1440 \(got 7\)"),
        (np.zeros(1440), {"fraction_of": "year"}, r"one of daily_bin, monthly_bin \(got 'year'\)"),
    ],
)
def test_composite_refusals(values, settings, message):
    with pytest.raises(ValueError, match=message):
        diurnal_composite_mean(values, **settings)


def test_sunshine():
    """More than 120 W m-2 (WMO-No. 8, ch. 8): exactly 120 is no sunshine, gaps are none."""
    seconds, count = sunshine_seconds([[119.9, 120.0, 120.1, 800.0, NAN, np.inf]], 60.0)
    assert_array_equal(seconds, [120.0])
    assert_array_equal(count, [4])


def test_sunshine_edges():
    """No valid sample: unknown; a flagged one is left out; one day without rows gives a scalar."""
    seconds, count = sunshine_seconds([[NAN], [500.0]], 60.0, valid=[[True], [False]])
    assert np.isnan(seconds).all()
    assert_array_equal(count, [0, 0])
    seconds, _ = sunshine_seconds(np.full(1440, 121.0), 60.0)
    assert seconds == 86400.0
    assert sunshine_seconds([100.0], 60.0, threshold=96.0)[0] == 60.0
