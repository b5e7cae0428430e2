"""The fit of night offsets against net longwave and cooling."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from sunledger.diagnosis.beside import net_longwave, temperature_rate
from sunledger.diagnosis.night_fit import (
    INPUT_ZERO,
    LEAST_MINUTES,
    NightFit,
    night_fit,
)

MINUTES = 400
REAL_NIGHT = Path(__file__).parents[1] / "published" / "alamosa_2016_01_01.csv"


def nights(count: int, seed: int = 0, noise: float = 0.0) -> tuple[np.ndarray, ...]:
    """Net longwave and rate of nights with passing clouds, the numbers of the nights, noise."""
    rng = np.random.default_rng(seed)
    night = np.repeat(np.arange(count), MINUTES)
    clouded = rng.random(night.size) < np.repeat(rng.uniform(0.0, 0.7, count), MINUTES)
    net = np.where(clouded, -15.0, np.repeat(rng.uniform(-110.0, -70.0, count), MINUTES))
    rate = np.repeat(rng.uniform(-1.5, 0.5, count), MINUTES)
    return net, rate, night, noise * np.repeat(rng.normal(size=count), MINUTES)


def test_zero_and_both_offsets_are_told_apart() -> None:
    """A sum of three known parts; its median over a cloudy night is no sum of their medians."""
    net, rate, night, _ = nights(25)
    fit = night_fit(0.08 + 0.02 * net + 0.3 * rate, night, net, rate)
    assert fit is not None
    assert fit.value == pytest.approx([0.08, -4.0, 1.5], abs=1e-3)
    assert fit.nights == 25


def test_the_interval_holds_the_truth_as_often_as_it_says() -> None:
    """200 months of 20 nights with an error of their own: 95 % of 200 are 190 +- 3."""
    held = []
    for seed in range(200):
        net, rate, night, own = nights(20, seed, 0.05)
        fit = night_fit(0.05 + 0.02 * net + 0.1 * rate + own, night, net, rate)
        assert fit is not None
        held.append(abs(fit.value[1] + 4.0) <= fit.half_width[1])
    assert 181 <= sum(held) <= 198


def test_an_odd_night_does_not_turn_it() -> None:
    """One of 20 with a dewed dome."""
    net, rate, night, own = nights(20, 7, 0.02)
    reading = 0.02 * net + own
    wrong = np.where(night == 4, reading + 5.0, reading)
    before, after = (night_fit(r, night, net, rate) for r in (reading, wrong))
    assert before is not None
    assert after is not None
    assert after.value[1] == pytest.approx(before.value[1], abs=0.1)


def test_nights_that_are_all_alike_leave_the_zero_open() -> None:
    """Its stated spread is then in the interval of offset a: 2 times 0.1 times 200/80."""
    night = np.repeat(np.arange(30), MINUTES)
    net = np.full(night.size, -80.0)
    fit = night_fit(0.05 * net, night, net, None)
    assert fit is not None
    assert fit.value[1] == pytest.approx(-10.0)
    assert np.isnan(fit.value[2])
    assert fit.half_width[1] == pytest.approx(2.05 * INPUT_ZERO * 200.0 / 80.0, rel=0.02)


def test_few_nights_tell_nothing() -> None:
    """As many as coefficients, or none that is whole."""
    net, rate, night, _ = nights(3)
    assert night_fit(net, night, net, rate) is None
    assert isinstance(night_fit(net, night, net, None), NightFit)
    short = np.arange(night.size) % MINUTES < LEAST_MINUTES - 1
    assert night_fit(net[short], night[short], net[short], None) is None


def test_a_real_night_of_a_thermopile_and_of_a_black_and_white_pyranometer() -> None:
    """
    One published night (tests/published), in blocks of two hours that stand for nights.

    Under a cold sky the thermopile of the global reads less than nothing and keeps class C; that
    of the diffuse, black and white under one dome, does not see the sky's cold. That these are the
    instruments there, and that such ones differ so, is from memory (Dutton et al. 2001, J. Atmos.
    Ocean. Technol. 18, 297).
    """
    table = pd.read_csv(REAL_NIGHT, comment="#")
    body = table["body"].to_numpy() + 273.15
    net, rate = net_longwave(table["lwd"].to_numpy(), body), temperature_rate(body, 60)
    dark = (table["zenith"].to_numpy() > 100.0) & np.isfinite(rate)
    block = (np.arange(dark.size) // 120)[dark]
    whole, diffuse = (
        night_fit(table[q].to_numpy(float)[dark], block, net[dark], rate[dark])
        for q in ("ghi", "dhi")
    )
    assert whole is not None
    assert diffuse is not None
    assert whole.value[1] - whole.half_width[1] > -30.0
    assert whole.value[1] + whole.half_width[1] < 0.0
    assert abs(diffuse.value[1]) < diffuse.half_width[1] < 2.0
