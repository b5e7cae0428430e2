"""Sliding windows against pandas, and against cutting."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_array_equal

from sunledger.physics.runs import run_length
from sunledger.physics.windows import (
    grown,
    near_any,
    opened,
    rolling_any,
    rolling_count,
    rolling_median,
    rolling_range,
)

RNG = np.random.default_rng(5)
VALUES = np.where(RNG.random(200) < 0.1, np.nan, RNG.normal(size=200))
MASK = RNG.random(200) < 0.3


@pytest.mark.parametrize("half", [1, 3, 10])
def test_like_pandas(half: int) -> None:
    """Centred windows of pandas, an independent implementation."""
    window = pd.Series(VALUES).rolling(2 * half + 1, center=True, min_periods=1)
    np.testing.assert_allclose(rolling_median(VALUES, half), window.median(), rtol=1e-12)
    np.testing.assert_allclose(rolling_range(VALUES, half), window.max() - window.min(), rtol=1e-12)
    count = pd.Series(MASK.astype(float)).rolling(2 * half + 1, center=True, min_periods=1).sum()
    assert_array_equal(rolling_count(MASK, half), count)
    assert_array_equal(rolling_any(MASK, half), count > 0)


def test_cut_with_a_halo_gives_the_same_bits() -> None:
    """Windows see only themselves."""
    for function in (rolling_median, rolling_range):
        whole = function(VALUES, 4)
        part = function(VALUES[46:154], 4)
        assert_array_equal(part[4:-4], whole[50:150])


def test_too_few_values_give_none() -> None:
    """Least number of values; a window without any has no range."""
    values = [1.0, np.nan, np.nan, np.nan, 2.0]
    assert_array_equal(rolling_median(values, 1, 2), [np.nan] * 5)
    assert np.isnan(rolling_range(values, 1)[2])
    assert rolling_range([], 2).size == rolling_median([], 2).size == 0


def test_median_of_even_numbers_is_their_middle() -> None:
    """Between the two inner values."""
    assert rolling_median([1.0, 2.0, 10.0, 20.0], 2)[1] == 6.0


def test_growing_stops_at_a_gap_and_at_its_length() -> None:
    """Only adjoining candidates, at most so many."""
    seed = np.zeros(10, bool)
    seed[4] = True
    candidate = np.array([1, 1, 0, 1, 1, 1, 1, 1, 1, 1], bool)
    assert_array_equal(np.flatnonzero(grown(seed, candidate, 2)), [3, 4, 5, 6])
    assert_array_equal(np.flatnonzero(grown(seed, candidate, 9)), [3, 4, 5, 6, 7, 8, 9])
    assert_array_equal(grown(seed, candidate, 0), seed)


@pytest.mark.parametrize("least", [0, 1, 2, 5, 50])
def test_opened_keeps_the_long_runs(least):
    """As by the length of each run, at the ends of the series as well."""
    mask = np.random.default_rng(7).random(300) < 0.8
    for flags in (mask, mask[:3], np.zeros(0, bool), np.ones(10, bool)):
        expected = flags & (run_length(flags) >= max(least, 1))
        np.testing.assert_array_equal(opened(flags, least), expected)


@pytest.mark.parametrize("half", [0, 1, 2, 7, 400])
def test_near_any_is_rolling_any(half):
    """Also where the distance is longer than the series."""
    mask = np.random.default_rng(8).random(300) < 0.05
    for flags in (mask, mask[:3], np.ones(1, bool)):
        np.testing.assert_array_equal(near_any(flags, half), rolling_any(flags, half))


def test_median_only_where_wanted() -> None:
    """The same numbers as everywhere, and none elsewhere."""
    values = np.random.default_rng(3).normal(size=50)
    values[20:24] = np.nan
    wanted = np.arange(50) % 3 == 0
    some, every = rolling_median(values, 4, 5, wanted), rolling_median(values, 4, 5)
    assert_array_equal(some[wanted], every[wanted])
    assert np.isnan(some[~wanted]).all()
    assert np.isfinite(some[wanted]).any()
