"""Steps and drifts of closure coefficients."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnosed_months import month
from invented_months import Month, step_at
from sunledger.diagnosis.changes import (
    LEAST_DAYS,
    LEAST_MINUTES,
    best_step,
    candidates,
    drift,
    step_before,
)
from sunledger.diagnosis.closure_fit import EAST, LEAST_OF_DAY, NORTH, Moments

FIRST = float(np.datetime64("2031-06-01", "s").astype(np.int64))
MIDDLE = FIRST + 15 * 86400
STEPPED = month(Month(cloudiness=0.2, seed=4, east=step_at(MIDDLE, 0.5))).moments


def test_the_step_lies_between_two_pieces_of_data() -> None:
    """The true instant does, within half a day."""
    found = best_step(STEPPED)
    assert found.after < found.before
    assert abs(found.before - MIDDLE) < 86400
    value, half_width, chance = found.size(EAST)
    assert abs(np.degrees(value) - 0.5) < np.degrees(half_width) + 0.05
    assert chance < 1e-4


def enough(moments: Moments, later: np.ndarray) -> bool:
    """Whether both sides of a step hold what a verdict asks for, counted side by side."""
    for side in (later, ~later):
        of_day = np.bincount(moments.day, moments.minutes * side, moments.days)
        if of_day.sum() < LEAST_MINUTES or np.sum(of_day >= LEAST_OF_DAY) < LEAST_DAYS:
            return False
    return True


def sparse(seed: int) -> Moments:
    """Moments of days with few minutes, some parted into pieces, as broken days leave them."""
    rng = np.random.default_rng(seed)
    day = np.repeat(np.arange(14), rng.integers(1, 4, 14))
    time = 86400.0 * day + 3600.0 * np.arange(day.size)
    minutes = rng.integers(10, 260, day.size)
    return Moments(
        day, time, time, time, minutes, np.zeros((day.size, 3, 3)), np.zeros((day.size, 3))
    )


@pytest.mark.parametrize("seed", range(8))
def test_candidates_are_those_that_counting_finds(seed: int) -> None:
    """One by one, also where a piece parts its day."""
    moments = sparse(seed)
    every = np.arange(moments.day.size)
    assert candidates(moments) == [k for k in every[1:] if enough(moments, every >= k)]


def test_every_candidate_has_enough_on_both_sides() -> None:
    """And one fewer day would not do at the edges."""
    every = np.arange(STEPPED.day.size)
    kept = candidates(STEPPED)
    assert all(enough(STEPPED, every >= k) for k in kept)
    assert not enough(STEPPED, every >= kept[0] - 1)
    before = every < kept[0]
    assert STEPPED.minutes[before].sum() >= LEAST_MINUTES
    assert np.unique(STEPPED.day[before]).size >= LEAST_DAYS


def test_a_break_on_record_is_no_candidate() -> None:
    """Its own step would be shared between two names; all other pieces stay."""
    kept = candidates(STEPPED)
    at = kept[5]
    known = replace(STEPPED, breaks=(float(STEPPED.middle[at]) - 60.0,))
    assert candidates(known) == [k for k in kept if k != at]
    truth = replace(STEPPED, breaks=(MIDDLE,))
    assert abs(best_step(truth).size(EAST)[0]) < np.radians(0.2)


def test_too_few_days_give_no_verdict() -> None:
    """None instead of a guess."""
    few = month(Month(days=4, cloudiness=-1.0)).moments
    assert best_step(few) is None
    assert drift(few) is None


def test_the_best_step_explains_more_than_any_other() -> None:
    """Least misfit of all candidates."""
    best = best_step(STEPPED, (EAST, NORTH))
    others = [step_before(STEPPED, k, (EAST, NORTH)).misfit for k in candidates(STEPPED)]
    assert best.misfit == min(others)


def test_a_drift_is_per_day() -> None:
    """0.03 degree a day."""
    given = Month(cloudiness=0.2, seed=4, east=lambda t: 0.03 * (t - FIRST) / 86400)
    value, half_width, _ = drift(month(given).moments).size(EAST)
    assert abs(np.degrees(value) - 0.03) < 0.01
    assert np.degrees(half_width) < 0.02
