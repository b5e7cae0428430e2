"""Effects on a month's mean from sums between knots."""

from __future__ import annotations

import numpy as np
import pytest

from sunledger.diagnosis.lean_sums import lean_sums, mean_effect

RNG = np.random.default_rng(5)
MIDDLE = np.arange(0.0, 30 * 86400.0, 60.0) + 30.0
COLUMN = np.where(RNG.random(MIDDLE.size) < 0.1, np.nan, RNG.normal(0, 300, MIDDLE.size))
OWN = np.sort(RNG.uniform(0, MIDDLE[-1], 90))


def by_minutes(knots: np.ndarray, course: np.ndarray) -> float:
    """The plain way: the course at every minute."""
    return float(np.nansum(COLUMN * np.interp(MIDDLE, knots, course)) / MIDDLE.size)


@pytest.mark.parametrize("earlier", [0, 1, 40])
def test_sums_say_what_the_minutes_say(earlier: int) -> None:
    """Any course, with knots of earlier months or without."""
    knots = np.append(np.sort(RNG.uniform(-90 * 86400.0, -100.0, earlier)), OWN)
    course = RNG.normal(size=knots.size)
    found = mean_effect(lean_sums(COLUMN, MIDDLE, OWN), knots, course)
    assert found == pytest.approx(by_minutes(knots, course), rel=1e-10)


def test_a_step_counts_from_its_onset() -> None:
    """Nothing before, all of it behind."""
    course = (OWN[45] <= OWN).astype(float)
    sums = lean_sums(COLUMN, MIDDLE, OWN)
    assert mean_effect(sums, OWN, course) == pytest.approx(by_minutes(OWN, course), rel=1e-10)
    whole = np.nansum(COLUMN) / MIDDLE.size
    assert mean_effect(sums, OWN, np.ones(OWN.size)) == pytest.approx(whole, rel=1e-10)


def test_without_a_knot_there_is_no_effect() -> None:
    """A month without clear minutes."""
    none = np.array([])
    assert mean_effect(lean_sums(COLUMN, MIDDLE, none), none, none) == 0.0
    assert lean_sums(none, none, none).minutes == 0
