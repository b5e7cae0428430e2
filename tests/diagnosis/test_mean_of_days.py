"""Means over days."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from sunledger.diagnosis.mean_of_days import mean_of_days


def test_full_days_without_outliers_give_the_plain_mean_and_its_error() -> None:
    """Huber's weights are 1 there: scipy's standard error is the reference."""
    values = np.array([0.93, 1.0, 1.07, 0.95, 1.05])
    mean = mean_of_days(values, np.full(5, 300))
    assert mean.value == pytest.approx(1.0, abs=1e-3)
    assert np.sqrt(mean.variance) == pytest.approx(stats.sem(values), rel=0.05)
    assert mean.freedom == pytest.approx(4.0, abs=0.1)


def test_one_bad_day_hardly_moves_it() -> None:
    """A day with frost is no change of sensitivity."""
    values = np.append(np.linspace(-0.01, 0.01, 11), 5.0)
    assert abs(mean_of_days(values, np.full(12, 300)).value) < 0.005


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """Of 600 draws of ten normal days, 92 to 98 of a hundred."""
    rng, held = np.random.default_rng(3), 0
    for values in rng.normal(0.0, 1.0, (600, 10)):
        mean = mean_of_days(values, np.full(10, 300))
        held += abs(mean.value) <= stats.t.ppf(0.975, mean.freedom) * np.sqrt(mean.variance)
    assert 0.92 < held / 600 < 0.98


def test_too_few_days_have_no_interval() -> None:
    """Nothing is said of a scatter that was not seen."""
    none = mean_of_days(np.array([]), np.array([], dtype=int))
    assert np.isnan(none.value)
    assert np.isinf(none.variance)
    one = mean_of_days(np.array([0.2]), np.array([50]))
    assert (one.value, one.days) == (0.2, 1)
    assert np.isinf(one.variance)
