"""A month against the months before it."""

from __future__ import annotations

import numpy as np
import pytest

from sunledger.diagnosis.series import last_against_earlier


def test_the_change_is_against_the_median_of_the_earlier_months() -> None:
    """By hand: median 1.0, its scatter 1.4826 x 0.1; both intervals in squares."""
    told = last_against_earlier([0.9, 1.0, 1.1, 1.1, 3.0], [0.2] * 5)
    assert told is not None
    change, half = told
    assert change == pytest.approx(3.0 - 1.05)
    assert half == pytest.approx(np.hypot(0.2, 2 * 1.4826 * 0.05))


def test_three_months_are_too_few() -> None:
    """And one that is surer than all others is taken to be as unsure as they are."""
    assert last_against_earlier([1.0, 1.0, 9.0], [0.1] * 3) is None
    told = last_against_earlier([1.0, 1.0, 1.0, 9.0], [0.3, 0.3, 0.3, 0.001])
    assert told == (8.0, pytest.approx(0.3))
