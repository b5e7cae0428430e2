"""Errors by their source in sums, differences, products and choices: by hand, and drawn."""

from __future__ import annotations

import numpy as np
import pytest
import uncertainties
from numpy.testing import assert_allclose

from splits import parts_of_split, split_of
from sunledger.physics.segments import Segments, Selection
from sunledger.stages.error_split import COMMON, DAILY, Split
from sunledger.stages.mean_uncertainty import mean_uncertainty, uncertainty_sums

NAN = np.nan


def split(size: int, day: float = 0.0, sample: float = 0.0, **common: float) -> Split:
    known = {name: np.full(size, value) for name, value in common.items()}
    return split_of(known, {"upkeep": np.full(size, day)}, np.full(size, sample))


def of_mean(parts: Split) -> float:
    """Uncertainty of the mean of all minutes."""
    size = parts.known.size
    every = Selection(np.ones(size, bool)), Segments(np.array([0, size]))
    return float(mean_uncertainty(uncertainty_sums(parts, *every)[0])[0])


@pytest.mark.parametrize(("sign", "expected"), [(1.0, 49.0), (-1.0, 1.0)])
def test_fully_shared_errors_add_or_cancel(sign: float, expected: float) -> None:
    """3 and 4 of one scale: (3 + 4)**2 in a sum, (3 - 4)**2 in a difference (JCGM 100, 5.2.2)."""
    one, two = split(1, scale=3.0), split(1, scale=4.0)
    parts = one.plus(two, sign)
    assert_allclose(parts.square(), expected)
    assert_allclose(parts_of_split(parts).common["scale"], 3.0 + sign * 4.0)


def test_what_is_not_shared_adds_by_squares() -> None:
    """3 and 4 are 5; nothing known of a minute of one, nothing of the sum."""
    parts = split(1, scale=3.0).plus(split(1, other=4.0), -1.0)
    assert_allclose(np.sqrt(parts.square()), 5.0)
    common = parts_of_split(parts).common
    assert {n: v[0] for n, v in common.items()} == {"scale": 3.0, "other": -4.0}
    other = Split.unknown(np.array([4.0, NAN]))
    assert split(2, scale=3.0).plus(other).known.tolist() == [True, False]


def test_two_instruments_that_take_turns_are_independent_in_a_mean() -> None:
    """Diffuse 6 in one half hour, direct 8 in the other: 3 and 4 make 5 in the mean of the sum.

    The mean of the minutes' own, 6 and 8, would be 7.
    """
    first = np.repeat([1.0, 0.0], 30)
    diffuse, direct = split(60, diffuse=6.0), split(60, direct=8.0)
    parts = diffuse.scaled(first).plus(direct.scaled(1 - first))
    assert of_mean(parts) == pytest.approx(5.0)


def test_a_choice_of_two_sources() -> None:
    """A shared error of 2 goes on through both halves, own ones of 6 and 8 count half each."""
    mine = np.repeat([True, False], 30)
    one, two = split(60, 1.0, own=6.0, scale=2.0), split(60, 1.0, 5.0, other=8.0, scale=2.0)
    got = one.where(mine, two)
    assert parts_of_split(got).sample.tolist() == [0.0] * 30 + [5.0] * 30
    expected = 3.0**2 + 4.0**2 + 2.0**2 + 1.0**2 + 30 * 25 / 3600
    assert of_mean(got) == pytest.approx(np.sqrt(expected))
    assert parts_of_split(got.cut(slice(29, 31))).common["own"].tolist() == [6.0, 0.0]


def test_an_error_that_changes_its_sign_cancels() -> None:
    """A clock that is late: too much in the evening is too little in the morning."""
    parts = split(60, clock=4.0).scaled(np.repeat([1.0, -1.0], 30))
    assert of_mean(parts) == 0.0


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
        return split_of({n: v + 0.0 * light for n, v in common.items()}, {}, 0.0 * light)

    one, two = parts(diffuse, "d", 0.006, 1.5), parts(beam, "b", 0.004, 0.0)
    chosen = one.plus(two).where(mine, parts(diffuse + beam, "g", 0.007, 2.0))
    assert of_mean(chosen) == pytest.approx(2.0 * (total / 60).std_dev, rel=1e-9)


def by_signal(quantity: str, signal: np.ndarray, **factors: float) -> Split:
    """Sources that go by the signal of a quantity, and an offset that is new each day."""
    amounts = {f"{quantity} signal": signal, f"{quantity} unit": 1.0}
    sources = {f"{COMMON} {name}": {f"{quantity} signal": f} for name, f in factors.items()}
    sources[f"{DAILY} {quantity} offset"] = {f"{quantity} unit": 0.5}
    return Split(amounts, sources, np.full(signal.size, 4.0), np.ones(signal.size, bool))


def test_sources_by_one_amount_are_as_if_each_had_its_own() -> None:
    """Through product, choice, sum and difference; scale and gain are in all three quantities."""
    random = np.random.default_rng(2)
    lights = random.gamma(2.0, 100.0, (3, 60))
    few = [
        by_signal(n, v, scale=0.1, gain=0.02, **{n: 0.3})
        for n, v in zip("abc", lights, strict=True)
    ]
    parts = [parts_of_split(one) for one in few]
    many = [split_of(one.common, one.day, one.sample) for one in parts]
    cosine, mine = random.random(60), random.random(60) < 0.4

    def formed(a: Split, b: Split, c: Split) -> Split:
        return a.scaled(cosine).plus(b).where(mine, c).plus(b.scaled(1.0 - cosine), -1.0)

    got, expected = formed(*few), formed(*many)
    assert len(few[0].amounts) == 2
    mine, theirs = parts_of_split(got), parts_of_split(expected)
    assert mine.common.keys() == theirs.common.keys() == {"scale", "gain", "a", "b", "c"}
    assert mine.day.keys() == theirs.day.keys() == {f"{n} offset" for n in "abc"}
    for one, other in ((mine.common, theirs.common), (mine.day, theirs.day)):
        for name, amount in other.items():
            assert_allclose(one[name], amount, atol=1e-12)
    assert_allclose(got.square(), expected.square())
    assert_allclose(mine.sample, theirs.sample)
    assert of_mean(got) == pytest.approx(of_mean(expected))
    assert of_mean(got.cut(slice(7, 40))) == pytest.approx(of_mean(expected.cut(slice(7, 40))))


def test_amounts_of_one_name_stay_apart() -> None:
    """Two of one name, then both with a third of theirs: 4**2 + 1**2 + 2**2 in either order."""
    a, b, c = (
        Split({"x": value}, {f"{COMMON} {name}": {"x": 1.0}}, 0.0, np.ones(1, bool))
        for name, value in (("a", 1.0), ("b", 2.0), ("c", 4.0))
    )
    pair = a.plus(b)
    for parts in (c.plus(pair), pair.plus(c)):
        assert parts.square() == 21.0
    # both have a name and the one that it would be given
    assert pair.plus(b.plus(a, -1.0)).square() == (1.0 - 1.0) ** 2 + (2.0 + 2.0) ** 2
    assert c.plus(pair).plus(c.plus(pair)).square() == 4.0 * 21.0


def test_all_unknown() -> None:
    """One error that stays; a minute without an uncertainty is not known."""
    parts = Split.unknown(np.array([2.0, NAN, 4.0]))
    assert parts.known.tolist() == [True, False, True]
    assert of_mean(parts) == 3.0
