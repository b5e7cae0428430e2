"""Uncertainty of means and sums: by hand, and against drawn errors."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from splits import split_of
from sunledger.physics.segments import Segments, Selection
from sunledger.physics.strata import Stratum
from sunledger.stages.error_split import Split
from sunledger.stages.mean_uncertainty import (
    Parts,
    by_days,
    mean_uncertainty,
    missing_in_composite,
    missing_uncertainty,
    uncertainty_sums,
)

NAN = np.nan


def split(size: int, day: float = 0.0, sample: float = 0.0, **common: float) -> Split:
    known = {name: np.full(size, value) for name, value in common.items()}
    return split_of(known, {"upkeep": np.full(size, day)}, np.full(size, sample))


def test_without_a_split_all_is_common() -> None:
    """The careful side; a minute without an uncertainty does not count."""
    chosen = Selection(np.array([1, 1, 1, 1, 0, 1], bool))
    values = np.array([2.0, NAN, 4.0, 8.0, 50.0, 3.0])
    got, apart = uncertainty_sums(Split.unknown(values), chosen, Segments(np.array([0, 4, 6])))
    assert apart == {}
    assert got["uncertainty_count"].tolist() == [3, 1]
    assert_allclose(mean_uncertainty(got), [14 / 3, 3.0])


def test_nothing_known() -> None:
    """None of a period without a minute."""
    none = Selection(np.zeros(2, bool)), Segments(np.array([0, 2]))
    got, _ = uncertainty_sums(Split.unknown(np.ones(2)), *none)
    assert np.isnan(mean_uncertainty(got)).all()


def all_of(size: int) -> tuple[Selection, Segments]:
    return Selection(np.ones(size, bool)), Segments(np.array([0, size]))


def test_independent_parts_shrink_and_common_ones_stay() -> None:
    """An hour of common 3, day 4 and sample 12: 3 and 4 stay, 12 / sqrt 60 (JCGM 100, eq. 10)."""
    sums, _ = uncertainty_sums(split(60, 4.0, 12.0, own=3.0), *all_of(60))
    assert mean_uncertainty(sums)[0] == pytest.approx(np.sqrt(9 + 16 + 144 / 60))


def hours(parts: Split, days: int) -> Parts:
    """Sums over hours of some days of one value in each hour, as by quantity."""
    size = days * 24
    every = Selection(np.ones(size, bool)), Segments(np.arange(size + 1))
    return {f"ghi.{n}": v for n, v in uncertainty_sums(parts, *every)[0].items()}


def over(sums: Parts, step: int) -> np.ndarray:
    """Uncertainty of means over some hours each."""
    first = np.arange(0, sums["ghi.uncertainty_count"].size, step)
    return mean_uncertainty({n[4:]: np.add.reduceat(v, first) for n, v in sums.items()})


def test_a_day_part_shrinks_by_the_number_of_days() -> None:
    """Common 3, day 4: within days 5, over four of them 4 / sqrt 4."""
    found = hours(split(96, 4.0, own=3.0), 4)
    assert_allclose(over(found, 6), 5.0)
    by_day = by_days(found, np.arange(96) // 24)
    assert_allclose(over(by_day, 24), 5.0)
    assert_allclose(over(by_day, 96), np.sqrt(9 + 4))
    assert not any("uncertainty_day " in name for name in by_day)


def test_a_day_counts_by_its_sum() -> None:
    """24 in one hour is 1 in the mean of the day, and 1 / sqrt 2 in that of two days."""
    lit = np.tile(np.arange(24) == 12, 2)
    parts = split_of({}, {"a": 24.0 * lit, "b": 0.0 * lit}, np.zeros(48))
    found = by_days(hours(parts, 2), np.arange(48) // 24)
    assert_allclose(over(found, 24), 1.0)
    assert_allclose(over(found, 48), np.sqrt(0.5))


def test_against_drawn_errors() -> None:
    """5000 draws of every part of a two-day mean: the spread is that stated, within 3 %."""
    rng = np.random.default_rng(3)
    light = np.tile(np.sin(np.linspace(0, np.pi, 24)), 2)
    drawn = rng.normal(0, 1.0, (5000, 1)) * light + rng.normal(0, 0.5, (5000, 1))
    drawn = drawn + np.repeat(rng.normal(0, 2.0, (5000, 2)), 24, axis=1) * light
    drawn = (drawn + rng.normal(0, 5.0, (5000, 48))).mean(axis=1)
    same = {"gain": 2.0 * light, "zero": np.full(48, 1.0)}
    parts = split_of(same, {"dust": 4.0 * light}, np.full(48, 10.0))
    found = by_days(hours(parts, 2), np.arange(48) // 24)
    assert over(found, 48)[0] == pytest.approx(2 * drawn.std(), rel=0.03)


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
    chosen, part = Selection(np.ones(size, bool)), Stratum(segments, light)
    every, lit = uncertainty_sums(split(size, 4.0, 12.0, own=3.0), chosen, segments, part)
    sums = every | {f"light_{name}": values for name, values in lit.items()}
    expected = np.sqrt(1.5**2 + 2.0**2 + 720 * 144 / 1440**2)
    assert mean_uncertainty(sums, "light_")[0] == pytest.approx(expected)


def test_a_stratum_is_as_its_minutes_by_themselves() -> None:
    """Sources of every kind, over hours that the stratum cuts, with gaps and unknown minutes."""
    random, size = np.random.default_rng(5), 600
    light, valid = np.arange(size) % 250 < 95, random.random(size) < 0.9
    parts = split(size, 4.0, 12.0, own=3.0)
    signal = random.gamma(2.0, 100.0, size).astype(np.float32)
    parts = replace(
        parts,
        amounts={name: np.float32(part) for name, part in parts.amounts.items()}
        | {"signal": signal, "unit": 1.0},
        squares=np.float32(parts.squares),
        sources={**parts.sources, "uncertainty_common a": {"signal": 0.5, "unit": 2.0}},
        known=random.random(size) < 0.95,
    )
    segments = Segments(np.arange(0, size + 1, 60))
    _, got = uncertainty_sums(parts, Selection(valid), segments, Stratum(segments, light))
    expected, _ = uncertainty_sums(parts, Selection(valid & light), segments)
    assert got.keys() == expected.keys()
    for name, values in expected.items():
        np.testing.assert_array_equal(got[name], values)
    there = valid & light & parts.known
    by_hand = np.where(there, 0.5 * signal + 2.0, 0.0).reshape(-1, 60).sum(axis=1)
    assert_allclose(got["uncertainty_common a"], by_hand, rtol=1e-6)
