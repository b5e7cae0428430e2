"""Uncertainty of means and sums: by hand, and against drawn errors."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sunledger.physics.segments import Segments, Selection
from sunledger.stages.mean_uncertainty import (
    Split,
    combined,
    mean_uncertainty,
    missing_in_composite,
    missing_uncertainty,
    uncertainty_sums,
)

NAN = np.nan


def split(size: int, day: float = 0.0, sample: float = 0.0, shared: float = 0.0) -> Split:
    parts = [np.full(size, v) for v in (day, sample, shared, 0.0)]
    return Split(*parts, "WRR", "main")  # type: ignore[arg-type]


def test_without_a_split_all_is_common() -> None:
    """The careful side; a minute without an uncertainty does not count."""
    chosen = Selection(np.array([1, 1, 1, 1, 0, 1], bool))
    values = np.array([2.0, NAN, 4.0, 8.0, 50.0, 3.0])
    got = uncertainty_sums(values, None, chosen, Segments(np.array([0, 4, 6])))
    assert got["uncertainty_count"].tolist() == [3, 1]
    assert_allclose(mean_uncertainty(got, 60), [14 / 3, 3.0])


def test_nothing_known() -> None:
    """No uncertainty in, none out; none of a period without a minute."""
    segments = Segments(np.array([0, 2]))
    chosen = Selection(np.ones(2, bool))
    assert uncertainty_sums(None, None, chosen, segments) == {}
    none = Selection(np.zeros(2, bool))
    assert np.isnan(mean_uncertainty(uncertainty_sums(np.ones(2), None, none, segments), 60)).all()


def test_independent_parts_shrink_and_common_ones_stay() -> None:
    """An hour of common 3, day 4 and sample 12: 3 and 4 stay, 12 / sqrt 60 (JCGM 100, eq. 10)."""
    whole = np.full(60, 13.0)  # 3, 4, 12
    sums = uncertainty_sums(
        whole, split(60, 4.0, 12.0), Selection(np.ones(60, bool)), Segments(np.array([0, 60]))
    )
    assert mean_uncertainty(sums, 60)[0] == pytest.approx(np.sqrt(9 + 16 + 144 / 60))


def test_a_day_part_shrinks_by_the_number_of_days() -> None:
    """Four days added up from four: 4 / sqrt 4."""
    size = 4 * 1440
    chosen, days = Selection(np.ones(size, bool)), Segments(np.arange(5) * 1440)
    sums = uncertainty_sums(np.full(size, 5.0), split(size, 4.0), chosen, days)
    together = {name: np.array([values.sum()]) for name, values in sums.items()}
    assert_allclose(mean_uncertainty(sums, 60), 5.0)
    assert mean_uncertainty(together, 60)[0] == pytest.approx(np.sqrt(9 + 4))


def test_against_drawn_errors() -> None:
    """5000 draws of every part of a two-day mean: the spread is that stated, within 3 %."""
    rng = np.random.default_rng(3)
    size = 2 * 96  # quarters of an hour
    common = rng.normal(0, 1.0, (5000, 1)) + np.zeros(size)
    day = np.repeat(rng.normal(0, 2.0, (5000, 2)), 96, axis=1)
    sample = rng.normal(0, 10.0, (5000, size))
    drawn = (common + day + sample).mean(axis=1)
    whole = np.full(size, 2 * np.sqrt(1 + 4 + 100.0))
    sums = uncertainty_sums(
        whole, split(size, 4.0, 20.0), Selection(np.ones(size, bool)), Segments(np.array([0, size]))
    )
    assert mean_uncertainty(sums, 900)[0] == pytest.approx(2 * drawn.std(), rel=0.03)


@pytest.mark.parametrize(("sign", "expected"), [(1.0, 49.0), (-1.0, 1.0)])
def test_fully_shared_errors_add_or_cancel(sign: float, expected: float) -> None:
    """3 and 4 of one scale: (3 + 4)**2 in a sum, (3 - 4)**2 in a difference (JCGM 100, 5.2.2)."""
    one, two = split(1, shared=3.0), split(1, shared=4.0)
    got, parts = combined((np.array([3.0]), one), (np.array([4.0]), two), sign)
    assert got is not None
    assert parts is not None
    assert_allclose(got**2, expected)
    assert_allclose(parts.scale, 3.0 + sign * 4.0)


def test_another_scale_and_logger_share_nothing() -> None:
    """Then as without a split: 3 and 4 are 5."""
    one = split(1, shared=3.0)
    for name in ("another", ""):
        two = replace(split(1, shared=4.0), scale_name=name, logger_name=name)
        got, parts = combined((np.array([3.0]), one), (np.array([4.0]), two))
        assert_allclose(got, 5.0)  # type: ignore[arg-type]
        assert parts is not None
        assert parts.scale_name == ""
    assert_allclose(combined((np.array([3.0]), None), (np.array([4.0]), one))[0], 5.0)  # type: ignore[arg-type]
    assert combined((None, None), (np.array([4.0]), one)) == (None, None)


def test_a_choice_of_two_sources() -> None:
    """Minute by minute; a scale that is not that of both counts as none."""
    mine = np.array([True, False])
    one, two = split(2, 1.0), replace(split(2, 5.0), scale_name="another")
    got = one.where(mine, two)
    assert got.day.tolist() == [1.0, 5.0]
    assert (got.scale_name, got.logger_name) == ("", "main")
    assert one.scaled(np.array([2.0, 0.5])).day.tolist() == [2.0, 0.5]
    assert got.cut(slice(1, 2)).day.tolist() == [5.0]


def test_common_parts_of_different_courses_are_independent_in_a_mean() -> None:
    """Half a day of an error of 8 by the signal, a whole one of an offset of 3: 4 and 3 make 5.

    The mean of the minutes' own, 3 and sqrt 73, would be 5.8.
    """
    light = np.repeat([0.0, 1.0], 30)
    parts = replace(split(60), proportional=8.0 * light)
    sums = uncertainty_sums(
        np.sqrt(9.0 + 64.0 * light),
        parts,
        Selection(np.ones(60, bool)),
        Segments(np.array([0, 60])),
    )
    assert mean_uncertainty(sums, 60)[0] == pytest.approx(5.0)
    halved = parts.scaled(np.full(60, 0.5)).cut(slice(30, 60)).proportional
    assert halved is not None
    assert_allclose(halved, 4.0)


@pytest.mark.parametrize(("sign", "expected"), [(1.0, 41.0), (-1.0, 9.0)])
def test_what_is_shared_is_part_of_what_follows_the_signal(sign: float, expected: float) -> None:
    """25 + 0 and twice 4 * 2 of one scale in a sum, less that in a difference."""
    one = replace(split(1, shared=4.0), proportional=np.array([5.0]))
    two = replace(split(1, shared=2.0), proportional=np.array([0.0]))
    _, parts = combined((np.array([5.0]), one), (np.array([2.0]), two), sign)
    assert parts is not None
    assert parts.proportional is not None
    assert_allclose(parts.proportional**2, expected)
    unknown = combined((np.array([5.0]), one), (np.array([2.0]), split(1)), sign)[1]
    assert unknown is not None
    assert unknown.proportional is None
    assert one.where(np.array([True]), split(1)).proportional is None
    chosen = one.where(np.array([False]), two).proportional
    assert chosen is not None
    assert_allclose(chosen, 0.0)


def test_missing_minutes() -> None:
    """A tenth missing of what scatters by 300 W m-2: 2 * 30; nothing missing, nothing added."""
    got = missing_uncertainty(np.array([1296, 1440]), np.array([1440, 1440]), np.full(2, 300.0))
    assert_allclose(got, [60.0, 0.0])


def test_missing_times_of_day_by_hand() -> None:
    """One of four days lacks one of two times, which scatters by 10: 2 * 10 / 4 / 2."""
    values = np.array([[90.0, 5.0], [100.0, 5.0], [110.0, 5.0], [0.0, 5.0]])
    there = np.ones((4, 2), bool)
    there[3, 0] = False
    assert missing_in_composite(values, there) == pytest.approx(2.5)
    assert missing_in_composite(values, np.ones((4, 2), bool)) == 0.0


def test_nights_taken_as_zero_bring_no_error() -> None:
    """Half of a day is light: common 3 counts half, a day's 4 half, 12 / sqrt 1440 over half."""
    size, light = 1440, np.arange(1440) < 720
    segments = Segments(np.array([0, size]))
    whole, parts = np.full(size, 13.0), split(size, 4.0, 12.0)
    every = uncertainty_sums(whole, parts, Selection(np.ones(size, bool)), segments)
    lit = uncertainty_sums(whole, parts, Selection(light), segments)
    sums = every | {f"light_{name}": values for name, values in lit.items()}
    expected = np.sqrt(1.5**2 + 2.0**2 + 720 * 144 / 1440**2)
    assert mean_uncertainty(sums, 60, "light_")[0] == pytest.approx(expected)
