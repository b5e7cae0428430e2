"""Responsivity by comparison: hand-made series, outliers, days."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.comparison import (
    departure_from_line,
    mean_of_days,
    near_the_median,
    responsivities,
    without_outliers,
)

# Two series by hand. First: 4000 + 4100 + 4200 uV over 500 + 510 + 530 W m-2 = 12300 / 1540.
# Second: 8080 over 1000.
SIGNAL = np.array([4000.0, 4100.0, 4200.0, 8080.0])
REFERENCE = np.array([500.0, 510.0, 530.0, 1000.0])
SERIES = np.array([0, 0, 0, 1])


def test_series_by_hand() -> None:
    """Sum over sum, not the mean of ratios; a number without a reading has none."""
    found = responsivities(SIGNAL, REFERENCE, SERIES, 3)
    assert_allclose(found[:2], [12300 / 1540, 8.08], rtol=1e-15)
    assert np.isnan(found[2])


def test_outlier_by_hand() -> None:
    """8.5 is 6.1 % above the median of the four, 8.01; the mean of all is 8.125."""
    signal = np.array([8.0, 8.02, 7.98, 8.5]) * 500
    reference = np.full(4, 500.0)
    kept = without_outliers(signal, reference, np.zeros(4, np.int64), 1, 0.02)
    assert_array_equal(kept.readings, [True, True, True, False])
    assert_allclose(kept.responsivity, [8.0], rtol=1e-12)
    every = without_outliers(signal, reference, np.zeros(4, np.int64), 1, 0.07)
    assert every.readings.all()
    assert_allclose(every.responsivity, [8.125], rtol=1e-12)


def test_an_outlier_hidden_behind_a_larger_one() -> None:
    """About the mean, 8.18, the eight good ones would be outside 2 % and 8.2 inside."""
    signal = np.array([8.0] * 8 + [8.2, 9.6]) * 500
    kept = without_outliers(signal, np.full(10, 500.0), np.zeros(10, np.int64), 1, 0.02)
    assert_array_equal(np.flatnonzero(~kept.readings), [8, 9])
    assert_allclose(kept.responsivity, [8.0], rtol=1e-12)


def test_missing_and_dark_readings_do_not_count() -> None:
    """Without signal, without reference, or without light."""
    signal = np.array([4000.0, np.nan, 4000.0, 4000.0])
    reference = np.array([500.0, 500.0, np.nan, 0.0])
    kept = without_outliers(signal, reference, np.zeros(4, np.int64), 1, 0.02)
    assert_array_equal(kept.readings, [True, False, False, False])
    assert_allclose(kept.responsivity, [8.0])


def test_order_of_readings_plays_no_part() -> None:
    """Shuffled readings give the same readings and, to rounding, the same responsivities."""
    rng = np.random.default_rng(4)
    series = np.repeat(np.arange(5), 20)
    reference = rng.uniform(400, 900, 100)
    signal = reference * rng.normal(8.0, 0.12, 100)
    plain = without_outliers(signal, reference, series, 5, 0.02)
    mixed = rng.permutation(100)
    again = without_outliers(signal[mixed], reference[mixed], series[mixed], 5, 0.02)
    assert_array_equal(again.readings, plain.readings[mixed])
    assert_allclose(again.responsivity, plain.responsivity, rtol=1e-13)
    assert 0 < np.count_nonzero(~plain.readings) < 50


def test_departure_from_a_line_by_hand() -> None:
    """A rise is no departure. 1, -2, 1 about a line: sqrt(6 / 1) over the mean of 100."""
    time = np.array([0.0, 60.0, 120.0] * 2)
    values = np.array([90.0, 100.0, 110.0, 101.0, 98.0, 101.0])
    found = departure_from_line(values, time, np.repeat([0, 1], 3), 3)
    assert_allclose(found[:2], [0.0, np.sqrt(6.0) / 100.0], atol=1e-14)
    assert np.isnan(found[2])


def test_departure_needs_three_readings() -> None:
    """Two always lie on a line."""
    found = departure_from_line(np.ones(2), np.arange(2.0), np.zeros(2, np.int64), 1)
    assert np.isnan(found).all()


def test_days_count_alike_by_hand() -> None:
    """Means 8.0 and 8.1 of two and one series: 8.05, and 0.0707 / sqrt 2 = 0.05; 1 degree."""
    mean, scatter, degrees = mean_of_days(np.array([7.9, 8.1, 8.1]), np.array([3, 3, 9]))
    assert (mean, degrees) == (pytest.approx(8.05), 1)
    assert scatter == pytest.approx(0.05)


def test_one_day_tells_nothing_of_days() -> None:
    with pytest.raises(ValueError, match="at least two days"):
        mean_of_days(np.array([8.0, 8.1]), np.array([5, 5]))


def test_series_near_the_median() -> None:
    """One far series does not draw the others with it; none at all is none."""
    found = near_the_median(np.array([8.0, 8.01, 7.99, 9.0, np.nan]), 0.02)
    assert_array_equal(found, [True, True, True, False, False])
    assert not near_the_median(np.full(3, np.nan), 0.02).any()
