"""Uncertainty of means and sums: by hand, and against drawn errors."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import uncertainties
from numpy.testing import assert_allclose

from sunledger.physics.segments import Segments, Selection
from sunledger.stages.mean_uncertainty import (
    Parts,
    Split,
    by_days,
    combined,
    mean_uncertainty,
    missing_in_composite,
    missing_uncertainty,
    uncertainty_sums,
)

NAN = np.nan


def split(size: int, day: float = 0.0, sample: float = 0.0, **common: float) -> Split:
    known = {name: np.full(size, value) for name, value in common.items()}
    return Split(known, {"upkeep": np.full(size, day)}, np.full(size, sample))


def test_without_a_split_all_is_common() -> None:
    """The careful side; a minute without an uncertainty does not count."""
    chosen = Selection(np.array([1, 1, 1, 1, 0, 1], bool))
    values = np.array([2.0, NAN, 4.0, 8.0, 50.0, 3.0])
    got = uncertainty_sums(values, None, chosen, Segments(np.array([0, 4, 6])))
    assert got["uncertainty_count"].tolist() == [3, 1]
    assert_allclose(mean_uncertainty(got), [14 / 3, 3.0])


def test_nothing_known() -> None:
    """No uncertainty in, none out; none of a period without a minute."""
    segments = Segments(np.array([0, 2]))
    chosen = Selection(np.ones(2, bool))
    assert uncertainty_sums(None, None, chosen, segments) == {}
    none = Selection(np.zeros(2, bool))
    assert np.isnan(mean_uncertainty(uncertainty_sums(np.ones(2), None, none, segments))).all()


def all_of(size: int) -> tuple[Selection, Segments]:
    return Selection(np.ones(size, bool)), Segments(np.array([0, size]))


def test_independent_parts_shrink_and_common_ones_stay() -> None:
    """An hour of common 3, day 4 and sample 12: 3 and 4 stay, 12 / sqrt 60 (JCGM 100, eq. 10)."""
    sums = uncertainty_sums(np.full(60, 13.0), split(60, 4.0, 12.0, own=3.0), *all_of(60))
    assert mean_uncertainty(sums)[0] == pytest.approx(np.sqrt(9 + 16 + 144 / 60))


def hours(parts: Split, days: int) -> Parts:
    """Sums over hours of some days of one value in each hour, as by quantity."""
    size = days * 24
    every = Selection(np.ones(size, bool)), Segments(np.arange(size + 1))
    return {f"ghi.{n}": v for n, v in uncertainty_sums(np.full(size, 5.0), parts, *every).items()}


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
    parts = replace(split(48), day={"a": 24.0 * lit, "b": 0.0 * lit})
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
    parts = Split(same, {"dust": 4.0 * light}, np.full(48, 10.0))
    found = by_days(hours(parts, 2), np.arange(48) // 24)
    assert over(found, 48)[0] == pytest.approx(2 * drawn.std(), rel=0.03)


@pytest.mark.parametrize(("sign", "expected"), [(1.0, 49.0), (-1.0, 1.0)])
def test_fully_shared_errors_add_or_cancel(sign: float, expected: float) -> None:
    """3 and 4 of one scale: (3 + 4)**2 in a sum, (3 - 4)**2 in a difference (JCGM 100, 5.2.2)."""
    one, two = split(1, scale=3.0), split(1, scale=4.0)
    got, parts = combined((np.array([3.0]), one), (np.array([4.0]), two), sign)
    assert got is not None
    assert parts is not None
    assert_allclose(got**2, expected)
    assert_allclose(parts.common["scale"], 3.0 + sign * 4.0)


def test_what_is_not_shared_adds_by_squares() -> None:
    """3 and 4 are 5, with a split and without one; nothing known of one, nothing of the sum."""
    one = split(1, scale=3.0)
    got, parts = combined((np.array([3.0]), one), (np.array([4.0]), split(1, other=4.0)), -1.0)
    assert_allclose(got, 5.0)  # type: ignore[arg-type]
    assert parts is not None
    assert {n: v[0] for n, v in parts.common.items()} == {"scale": 3.0, "other": -4.0}
    assert_allclose(combined((np.array([3.0]), None), (np.array([4.0]), one))[0], 5.0)  # type: ignore[arg-type]
    assert combined((None, None), (np.array([4.0]), one)) == (None, None)


def test_two_instruments_that_take_turns_are_independent_in_a_mean() -> None:
    """Diffuse 6 in one half hour, direct 8 in the other: 3 and 4 make 5 in the mean of the sum.

    The mean of the minutes' own, 6 and 8, would be 7.
    """
    first = np.repeat([1.0, 0.0], 30)
    diffuse, direct = split(60, diffuse=6.0), split(60, direct=8.0)
    whole, parts = combined(
        (6.0 * first, diffuse.scaled(first)), (8.0 * (1 - first), direct.scaled(1 - first))
    )
    assert parts is not None
    assert mean_uncertainty(uncertainty_sums(whole, parts, *all_of(60)))[0] == pytest.approx(5.0)


def test_a_choice_of_two_sources() -> None:
    """A shared error of 2 goes on through both halves, own ones of 6 and 8 count half each."""
    mine = np.repeat([True, False], 30)
    one, two = split(60, 1.0, own=6.0, scale=2.0), split(60, 1.0, 5.0, other=8.0, scale=2.0)
    got = one.where(mine, two)
    assert got.sample.tolist() == [0.0] * 30 + [5.0] * 30
    sums = uncertainty_sums(np.ones(60), got, *all_of(60))
    expected = 3.0**2 + 4.0**2 + 2.0**2 + 1.0**2 + 30 * 25 / 3600
    assert mean_uncertainty(sums)[0] == pytest.approx(np.sqrt(expected))
    assert got.cut(slice(29, 31)).common["own"].tolist() == [6.0, 0.0]


def test_an_error_that_changes_its_sign_cancels() -> None:
    """A clock that is late: too much in the evening is too little in the morning."""
    parts = split(60, clock=4.0).scaled(np.repeat([1.0, -1.0], 30))
    assert mean_uncertainty(uncertainty_sums(np.ones(60), parts, *all_of(60)))[0] == 0.0


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
    whole, parts = np.full(size, 13.0), split(size, 4.0, 12.0, own=3.0)
    every = uncertainty_sums(whole, parts, Selection(np.ones(size, bool)), segments)
    lit = uncertainty_sums(whole, parts, Selection(light), segments)
    sums = every | {f"light_{name}": values for name, values in lit.items()}
    expected = np.sqrt(1.5**2 + 2.0**2 + 720 * 144 / 1440**2)
    assert mean_uncertainty(sums, "light_")[0] == pytest.approx(expected)


def test_a_mean_of_two_sources_by_the_uncertainties_package() -> None:
    """Component sum, then a pyranometer, on one scale: by automatic differentiation.

    E. O. Lebigot, package `uncertainties`; the model is written anew: three gains, one scale in
    all, an offset of each pyranometer.
    """
    rng = np.random.default_rng(11)
    diffuse, beam = rng.uniform(50.0, 300.0, 60), rng.uniform(0.0, 700.0, 60)
    mine = np.arange(60) < 25
    gain = {n: uncertainties.ufloat(0.0, u) for n, u in (("d", 0.006), ("b", 0.004), ("g", 0.007))}
    scale, offsets = uncertainties.ufloat(0.0, 0.0012), uncertainties.ufloat(0.0, 1.5)
    of_global = uncertainties.ufloat(0.0, 2.0)
    total = 0
    for k in range(60):
        if mine[k]:
            total += (
                diffuse[k] * (1 + gain["d"] + scale) + offsets + beam[k] * (1 + gain["b"] + scale)
            )
        else:
            total += (diffuse[k] + beam[k]) * (1 + gain["g"] + scale) + of_global

    def parts(light: np.ndarray, name: str, own: float, zero: float) -> Split:
        common = {name: 2 * own * light, "scale": 2 * 0.0012 * light, f"{name} zero": 2 * zero}
        return Split({n: v + 0.0 * light for n, v in common.items()}, {}, 0.0 * light)

    one, two = parts(diffuse, "d", 0.006, 1.5), parts(beam, "b", 0.004, 0.0)
    _, both = combined((diffuse, one), (beam, two))
    assert both is not None
    chosen = both.where(mine, parts(diffuse + beam, "g", 0.007, 2.0))
    got = mean_uncertainty(uncertainty_sums(np.ones(60), chosen, *all_of(60)))[0]
    assert got == pytest.approx(2.0 * (total / 60).std_dev, rel=1e-9)
