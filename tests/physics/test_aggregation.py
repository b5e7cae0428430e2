"""The monthly composite, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.aggregation import composite_of_bins

NAN = np.nan


def composite(values, valid=None, share=0.2, fraction_of="daily_bin"):
    """Minutes of whole days in 96 bins."""
    used = np.isfinite(values) if valid is None else np.isfinite(values) & valid
    shape = (-1, 96, 15)
    count = used.reshape(shape).sum(axis=-1)
    total = np.where(used, values, 0.0).reshape(shape).sum(axis=-1)
    return composite_of_bins(count, total, share * 15, fraction_of)


def day_course():
    """An invented clear course of 1440 minutes."""
    return np.maximum(0.0, 800.0 * np.sin((np.arange(1440) - 360) / 1440 * 2 * np.pi))


def test_composite_of_complete_days_is_the_plain_mean():
    values = np.random.default_rng(3).uniform(0, 900, 30 * 1440)
    got = composite(values)
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
    assert abs(composite(gaps).mean / values.mean() - 1.0) < 1e-4


def test_composite_by_hand():
    """Two days, one bin: 10 on day one, minutes 20 and 40 on day two of which 2 are too few."""
    values = np.zeros(2 * 1440)
    values[:15] = 10.0
    values[1440:1455] = NAN
    values[1440], values[1441] = 20.0, 40.0
    got = composite(values)
    assert (got.cycle[0], got.days[0]) == (10.0, 1)  # 2 of 15 is below 20 %
    values[1442] = 60.0
    got = composite(values)
    assert (got.cycle[0], got.days[0]) == (25.0, 2)  # 3 of 15 is 20 %: (10 + 40) / 2
    assert_allclose(got.mean, 25.0 / 96)


def test_composite_with_the_share_asked_of_the_month():
    """17 of 30 minutes are 57 %: the thin day counts, as a day."""
    values = np.zeros(2 * 1440)
    values[:15] = 10.0
    values[1440:1455] = NAN
    values[1440], values[1441] = 20.0, 40.0
    got = composite(values, fraction_of="monthly_bin")
    assert (got.cycle[0], got.days[0]) == (20.0, 2)
    strict = composite(values, share=0.6, fraction_of="monthly_bin")
    assert np.isnan(strict.cycle[0])


def test_composite_needs_all_bins():
    """One bin missing on all days: no mean, the rest of the cycle stands."""
    values = np.ones(3 * 1440)
    valid = np.ones(3 * 1440, bool)
    valid.reshape(3, 1440)[:, 30:45] = False
    got = composite(values, valid)
    assert np.isnan(got.mean)
    assert_array_equal(np.flatnonzero(np.isnan(got.cycle)), [2])
    assert got.days[2] == 0


def test_composite_of_several_quantities_at_once():
    """Each as if alone."""
    values = np.random.default_rng(5).uniform(0, 900, (3, 4, 96))
    count = np.random.default_rng(6).integers(0, 16, values.shape)
    needed = np.array([3.0, 8.0, 1.0])[:, None, None]
    whole = composite_of_bins(count, values, needed)
    for row in range(3):
        alone = composite_of_bins(count[row], values[row], needed[row, 0, 0])
        assert_array_equal(alone.cycle, whole.cycle[row])
        assert_array_equal(alone.mean, whole.mean[row])


def test_composite_refusals():
    with pytest.raises(ValueError, match=r"one of daily_bin, monthly_bin \(got 'year'\)"):
        composite(np.zeros(1440), fraction_of="year")
