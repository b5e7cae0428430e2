"""Groups of equal keys and their medians, against numpy."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from sunledger.diagnosis.grouped import counted, distinct, medians


@pytest.mark.parametrize("rising", [True, False])
@pytest.mark.parametrize("size", [0, 1, 2, 500])
def test_distinct_keys_are_those_of_numpy(size: int, rising: bool) -> None:
    """Whether they have to be sorted or not."""
    keys = np.random.default_rng(size).integers(20_000, 20_031, size)
    keys = np.sort(keys) if rising else keys
    found = distinct(keys)
    expected = np.unique(keys, return_inverse=True, return_counts=True)
    for ours, theirs in zip(found, expected, strict=True):
        assert ours.tolist() == theirs.tolist()
        assert ours.dtype == np.int64
    for ours, theirs in zip(counted(keys), (expected[0], expected[2]), strict=True):
        assert ours.tolist() == theirs.tolist()
        assert ours.dtype == np.int64


def test_keys_that_fall_once_are_sorted() -> None:
    """One step back is enough to make two groups of one day."""
    names, place, count = distinct(np.array([3, 3, 2, 3]))
    assert names.tolist() == [2, 3]
    assert place.tolist() == [1, 1, 0, 1]
    assert count.tolist() == [1, 3]
    assert [part.tolist() for part in counted(np.array([3, 3, 2, 3]))] == [[2, 3], [1, 3]]


def test_medians_are_those_of_numpy() -> None:
    """To the last bit, for odd and even numbers of samples; NaN only where a group holds one."""
    rng = np.random.default_rng(5)
    count = rng.integers(1, 90, 40)
    values = rng.normal(size=count.sum())
    values[count[:7].sum()] = np.nan
    parts = np.split(values, np.cumsum(count)[:-1])
    expected = [np.median(part) for part in parts]
    found = medians(values, count)
    assert np.array_equal(found, expected, equal_nan=True)
    assert np.flatnonzero(np.isnan(found)).tolist() == [7]


def test_groups_of_unequal_size_need_no_table_of_them_all() -> None:
    """One of a month's minutes beside 3,000 small ones: a table would take 1.1 GB."""
    rng = np.random.default_rng(6)
    count = np.append(rng.integers(1, 4, 3000), 43_200)
    values = rng.normal(size=count.sum())
    values[count[:9].sum()] = np.nan
    tracemalloc.start()
    found = medians(values, count)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    expected = [np.median(part) for part in np.split(values, np.cumsum(count)[:-1])]
    assert np.array_equal(found, expected, equal_nan=True)
    assert most < 10 * values.nbytes


def test_no_groups_have_no_medians() -> None:
    """As in a month without a clear minute."""
    nothing = np.zeros(0, dtype=np.int64)
    assert medians(np.zeros(0), nothing).size == 0
