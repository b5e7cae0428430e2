"""Rows side by side are a slice; all others are numbers; both choose the same."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from sunledger.stages.places import places, run_or_rows

MASKS = {"all": "11111", "inner": "01110", "one": "00100", "gap": "11011", "none": "00000"}


@pytest.mark.parametrize("kind", MASKS)
def test_the_same_rows_as_the_mask(kind: str) -> None:
    mask, values = np.array(list(MASKS[kind])) == "1", np.arange(5) + 0.5
    found = places(mask)
    assert_array_equal(values[found], values[mask])
    assert isinstance(found, slice) == (kind in ("all", "inner", "one"))


def test_a_slice_copies_nothing() -> None:
    values = np.zeros(9)
    assert np.shares_memory(values[places(np.ones(9, bool))], values)


@pytest.mark.parametrize(
    ("rows", "run"), [([2, 3, 4], True), ([3], True), ([2, 4], False), ([3, 2], False), ([], False)]
)
def test_numbers_one_after_the_other(rows: list[int], run: bool) -> None:
    """Backwards and with a gap they stay numbers."""
    values, numbers = np.arange(6) + 0.5, np.array(rows, int)
    found = run_or_rows(numbers)
    assert isinstance(found, slice) == run
    assert_array_equal(values[found], values[numbers])
