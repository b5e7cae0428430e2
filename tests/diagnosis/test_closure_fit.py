"""Closure fits: coefficients and intervals from days."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import invented_months
from invented_months import Month, month_of, step_at
from sunledger.diagnosis.closure_fit import (
    EAST,
    LEAST_OF_DAY,
    NORTH,
    RESPONSIVITY,
    changing_design,
    constant_design,
    fitted,
    misfit,
    moments_of,
)
from sunledger.diagnosis.selection import clear_minutes

FIRST = float(np.datetime64("2031-06-01", "s").astype(np.int64))
MIDDLE = FIRST + 15 * 86400


def moments(**wrong):
    """Moments of a mostly clear month with something wrong."""
    return moments_of(clear_minutes(month_of(Month(cloudiness=0.1, **wrong))))


def always(size: float):
    """The same at all times."""
    return step_at(-np.inf, size)


def test_a_constant_lean_comes_out() -> None:
    """Within intervals that are tight: a month of nearly clear days.

    The generator's global loses 0.3 % of the direct.
    """
    m = moments(east=always(0.8), north=always(-1.0))
    found = fitted(m, constant_design(m), 1)
    truth = [-0.003, np.radians(0.8), np.radians(-1.0)]
    assert np.all(found.half_width < [0.006, 0.003, 0.008])
    assert np.all(np.abs(found.value - truth) < 1.5 * found.half_width)


def test_north_and_responsivity_err_together() -> None:
    """The correlation says so; east stands by itself."""
    m = moments()
    correlation = fitted(m, constant_design(m), 1).correlation
    assert correlation[RESPONSIVITY, NORTH] > 0.4
    assert abs(correlation[EAST, NORTH]) < 0.4
    np.testing.assert_allclose(np.diag(correlation), 1.0, atol=1e-9)


def test_a_step_of_the_lean_comes_out() -> None:
    """0.5 degree toward the east from the middle of the month."""
    m = moments(east=step_at(MIDDLE, 0.5))
    course = (m.middle >= MIDDLE).astype(float)
    found = fitted(m, changing_design(m, course, (EAST,)), 2)
    assert np.degrees(found.half_width[3]) < 0.2
    assert np.degrees(found.value[3]) == pytest.approx(0.5, abs=0.2)
    assert found.chance(3) < 1e-3
    right, early = (
        misfit(m, changing_design(m, (m.middle >= t).astype(float), (EAST,)))
        for t in (MIDDLE, MIDDLE - 6 * 86400)
    )
    assert right < early < misfit(m, constant_design(m))


def test_interval_is_that_of_drawing_days() -> None:
    """Days drawn with replacement, 4,000 times, scatter the coefficients as much as stated."""
    m = moments(unrest=3.0)
    design = constant_design(m)
    found = fitted(m, design, 1)
    misses = m.vector - np.einsum("ncd,d->nc", m.matrix, found.value)
    score = np.zeros((m.days, 3))
    np.add.at(score, m.day, misses)
    scaled = score / np.sqrt(m.weight)[:, None]
    rng = np.random.default_rng(5)
    # a day with more weight is drawn more often, as its score tells more of the scatter
    share = m.weight / m.weight.sum()
    drawn = rng.choice(m.days, (4000, m.days), p=share)
    sums = np.einsum("rdc,d->rc", scaled[drawn], np.sqrt(m.weight))
    sums -= sums.mean(axis=0)
    inverse = np.linalg.inv(m.matrix.sum(axis=0))
    scatter = (sums @ inverse).std(axis=0)
    from scipy import stats

    effective = m.weight.sum() ** 2 / (m.weight**2).sum()
    wide = scatter * stats.t.ppf(0.975, effective - 1) * np.sqrt(effective / (effective - 1))
    np.testing.assert_allclose(found.half_width, wide, rtol=0.06)


def test_one_day_has_no_interval() -> None:
    """A day alone says nothing of the scatter of days."""
    m = moments_of(clear_minutes(month_of(Month(days=1, cloudiness=-2.0))))
    found = fitted(m, constant_design(m), 1)
    assert np.isinf(found.half_width).all()


def test_no_minute_gives_no_day() -> None:
    """And a day of a few minutes is none."""
    clear = clear_minutes(month_of(Month(days=1, cloudiness=-2.0)))
    few = {n: getattr(clear, n)[: LEAST_OF_DAY - 1] for n in clear.__dataclass_fields__}
    assert moments_of(replace(clear, **few)).days == 0


def test_gross_errors_of_some_minutes_change_nothing() -> None:
    """Every twentieth minute 20 % off: the lean stays within a tenth of a degree."""
    parts = month_of(Month(cloudiness=0.1))
    clear = clear_minutes(parts)
    wrong = clear.residual.copy()
    wrong[::20] += 0.2 * clear.ghi[::20]
    clean, dirty = moments_of(clear), moments_of(replace(clear, residual=wrong))
    a, b = (fitted(m, constant_design(m), 1).value for m in (clean, dirty))
    np.testing.assert_allclose(np.degrees(a[1:]), np.degrees(b[1:]), atol=0.1)
    assert invented_months.never(np.ones(1)).tolist() == [0.0]
