"""Small errors of timing while the light changes."""

from __future__ import annotations

import numpy as np
import pytest

from sunledger.physics.changing_light import largest_change, signed_change, timing_half_width


def test_change_is_the_largest_of_neighbours_and_range() -> None:
    """By hand: steps 10 and 50, a range of 70 within one interval."""
    change = largest_change([100.0, 110.0, 160.0, 160.0], [95, 105, 100, 160], [100, 115, 170, 160])
    np.testing.assert_array_equal(change, [10.0, 50.0, 70.0, 0.0])


def test_gaps_count_as_no_change() -> None:
    """A missing neighbour says nothing; a lone value has no change."""
    np.testing.assert_array_equal(largest_change([5.0, np.nan, 9.0]), [0.0, 0.0, 0.0])
    np.testing.assert_array_equal(largest_change([5.0]), [0.0])


def test_half_width_bounds_the_error_of_a_displaced_mean() -> None:
    """Brute force: means of a switching signal over windows displaced by seconds."""
    rng = np.random.default_rng(3)
    second = np.repeat(rng.choice([0.0, 800.0], size=400), rng.integers(5, 40, size=400))
    minutes = second[: second.size // 60 * 60 - 120]
    count = minutes.size // 60
    for offset in (1, 5, 20):
        mean = minutes[: count * 60].reshape(count, 60).mean(axis=1)
        moved = second[offset : offset + count * 60].reshape(count, 60).mean(axis=1)
        windows = np.stack([second[k * 60 : k * 60 + 60 + offset] for k in range(count)])
        change = np.ptp(windows, axis=1)
        bound = timing_half_width(change, offset, 60.0)
        assert (np.abs(moved - mean) <= bound + 1e-9).all()
        assert np.abs(moved - mean).max() > 0.5 * bound.max()  # the bound is not idle


def test_offset_sign_and_limit() -> None:
    """Early and late are alike; more than an interval is not worse than an interval."""
    change = np.array([60.0])
    assert timing_half_width(change, -6.0, 60.0)[0] == pytest.approx(6.0)
    assert timing_half_width(change, 600.0, 60.0)[0] == pytest.approx(60.0)
    assert timing_half_width(change, np.nan, 60.0)[0] == 0.0


def test_signed_change_by_hand() -> None:
    """Means of the steps on both sides, the one that is known beside a gap, 0 alone."""
    got = signed_change([100.0, 110.0, 160.0, 150.0, np.nan, 90.0, np.nan])
    np.testing.assert_allclose(got, [10.0, 30.0, 20.0, -10.0, 0.0, 0.0, 0.0])


def test_signed_change_is_never_more_than_the_largest() -> None:
    """Of random light; over a day that ends as it began it cancels."""
    light = np.random.default_rng(2).uniform(0.0, 900.0, 500)
    assert (np.abs(signed_change(light)) <= largest_change(light)).all()
    day = np.sin(np.linspace(0.0, np.pi, 500))
    assert signed_change(day).sum() == pytest.approx(0.0, abs=1e-12)
