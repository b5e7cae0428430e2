"""Closure fits: coefficients and intervals from days."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

import invented_months
from invented_months import Month, month_of, step_at
from sunledger.diagnosis.closure_equations import NOISE, OF_DAYS
from sunledger.diagnosis.closure_fit import (
    EAST,
    LEAST_OF_DAY,
    NORTH,
    RESPONSIVITY,
    Moments,
    changing_design,
    constant_design,
    equations,
    fitted,
    misfit,
    moments_of,
    moments_with,
)
from sunledger.diagnosis.robust import robust_weights
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
    found = fitted(m, constant_design(m))
    truth = [-0.003, np.radians(0.8), np.radians(-1.0)]
    assert np.all(found.half_width < [0.006, 0.003, 0.008])
    assert np.all(np.abs(found.value - truth) < 1.5 * found.half_width)


def test_north_and_responsivity_err_together() -> None:
    """The correlation says so; east stands by itself."""
    m = moments()
    correlation = fitted(m, constant_design(m)).correlation
    assert correlation[RESPONSIVITY, NORTH] > 0.3
    assert abs(correlation[EAST, NORTH]) < 0.1
    np.testing.assert_allclose(np.diag(correlation), 1.0, atol=1e-9)


def test_a_step_of_the_lean_comes_out() -> None:
    """0.5 degree toward the east from the middle of the month."""
    m = moments(east=step_at(MIDDLE, 0.5))
    course = (m.middle >= MIDDLE).astype(float)
    found = fitted(m, changing_design(m, course, (EAST,)))
    assert np.degrees(found.half_width[3]) < 0.2
    assert np.degrees(found.value[3]) == pytest.approx(0.5, abs=0.2)
    assert found.chance(3) < 1e-3
    right, early = (
        misfit(m, changing_design(m, (m.middle >= t).astype(float), (EAST,)))
        for t in (MIDDLE, MIDDLE - 6 * 86400)
    )
    assert right < early < misfit(m, constant_design(m))


def dense_days(clear, design_of):
    """Normal equations of each day from the covariance of its minutes, written out in full."""
    out = []
    for day in np.unique(clear.day):
        at = np.flatnonzero(clear.day == day)
        if at.size < LEAST_OF_DAY:
            continue
        columns, misses = clear.columns[at], clear.residual[at]
        weights = np.maximum(robust_weights(columns, misses), 1e-9)
        covariance = columns @ np.diag(OF_DAYS**2) @ columns.T + np.diag(NOISE / weights)
        z = design_of(columns, clear.middle[at])
        known = np.linalg.solve(covariance, np.column_stack([z, misses]))
        out.append((z.T @ known[:, :-1], z.T @ known[:, -1]))
    return (np.array(part) for part in zip(*out, strict=True))


def test_a_fit_is_that_of_the_whole_covariance() -> None:
    """Also where a step parts a day: pieces of days hold all that is needed."""
    clear = clear_minutes(month_of(Month(days=8, cloudiness=0.1, unrest=3.0)))
    m = moments_of(clear)
    inside = next(k for k in range(m.day.size) if m.day[k] == 4 == m.day[k - 1])
    when = m.first[inside]

    def stepped(columns, middle):
        return np.column_stack([columns, columns[:, EAST] * (middle >= when)])

    matrix, vector = dense_days(clear, stepped)
    truth = np.linalg.solve(matrix.sum(axis=0), vector.sum(axis=0))
    course = (m.middle >= when).astype(float)
    found = fitted(m, changing_design(m, course, (EAST,)))
    np.testing.assert_allclose(found.value, truth, rtol=1e-6)


def test_interval_is_that_of_drawing_days() -> None:
    """Days drawn with replacement, 4,000 times, scatter the coefficients as much as stated."""
    clear = clear_minutes(month_of(Month(cloudiness=0.1, unrest=3.0)))
    m = moments_of(clear)
    found = fitted(m, constant_design(m))
    matrix, vector = dense_days(clear, lambda columns, _: columns)
    drawn = np.random.default_rng(5).integers(0, m.days, (4000, m.days))
    times = np.apply_along_axis(np.bincount, 1, drawn, minlength=m.days)
    sides = np.einsum("rd,dc->rc", times, vector)[:, :, None]
    values = np.linalg.solve(np.einsum("rd,dce->rce", times, matrix), sides)[:, :, 0]
    spread = found.half_width / stats.t.ppf(0.975, found.freedom)
    np.testing.assert_allclose(spread, values.std(axis=0), rtol=0.1)


def test_two_groups_of_equal_days_give_welchs_interval() -> None:
    """Standard error as scipy has it (B. L. Welch, Biometrika 34, 28-35, 1947).

    Degrees of freedom are those of equal variances (F. E. Satterthwaite, Biometrics Bull. 2,
    110-114, 1946).
    """
    early, late = np.array([0.1, 0.4, -0.2, 0.3]), np.array([1.0, 1.5, 1.1, 0.7, 0.9, 1.3, 1.2])
    values = np.radians(np.concatenate([early, late]))
    told = np.zeros((values.size, 3, 3))
    told[:, EAST, EAST] = 1e9
    vector = np.zeros((values.size, 3))
    vector[:, EAST] = 1e9 * values
    number = np.arange(values.size)
    m = Moments(number, *3 * (number.astype(float),), np.full(values.size, 400), told, vector)
    found = fitted(m, changing_design(m, (number >= early.size).astype(float), (EAST,)))
    welch = stats.ttest_ind(late, early, equal_var=False)
    assert np.degrees(found.value[3]) == pytest.approx(late.mean() - early.mean())
    spread = found.half_width[3] / stats.t.ppf(0.975, found.freedom[3])
    assert found.value[3] / spread == pytest.approx(welch.statistic, rel=1e-6)
    a, b = early.size, late.size
    satterthwaite = (1 / a + 1 / b) ** 2 / (1 / (a**2 * (a - 1)) + 1 / (b**2 * (b - 1)))
    assert found.freedom[3] == pytest.approx(satterthwaite, rel=1e-6)
    assert found.chance(3) == pytest.approx(2 * stats.t.sf(welch.statistic, satterthwaite))


def test_one_day_has_no_interval() -> None:
    """A day alone says nothing of the scatter of days."""
    m = moments_of(clear_minutes(month_of(Month(days=1, cloudiness=-2.0))))
    found = fitted(m, constant_design(m))
    assert np.isinf(found.half_width).all()
    assert found.chance(EAST) == 1.0


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
    a, b = (fitted(m, constant_design(m)).value for m in (clean, dirty))
    np.testing.assert_allclose(np.degrees(a[1:]), np.degrees(b[1:]), atol=0.1)
    assert invented_months.never(np.ones(1)).tolist() == [0.0]


def test_another_response_is_weighted_as_closure_is() -> None:
    """Its fit is linear: closure and twice a column give the sum of both solutions."""
    clear = clear_minutes(month_of(Month(days=10, seed=2)))
    north = clear.columns[:, NORTH]
    own, column, both = moments_with(
        clear, np.zeros((north.size, 0)), [clear.residual, north, clear.residual + 2.0 * north]
    )
    design = constant_design(own)
    found = fitted(own, design).value
    assert equations(own, design).value == pytest.approx(found)
    assert equations(column, design).value == pytest.approx([0.0, 0.0, 1.0], abs=1e-9)
    assert equations(both, design).value == pytest.approx(
        found + np.array([0.0, 0.0, 2.0]), abs=1e-9
    )


def offset_month(offset: float) -> tuple[Moments, np.ndarray]:
    """Closure with a constant offset, fitted with a fourth regressor for it."""
    clear = clear_minutes(month_of(Month(days=20, seed=2, unrest=0.3)))
    ones = np.ones((clear.middle.size, 1))
    (moments,) = moments_with(clear, ones, [clear.residual + offset])
    return moments, np.tile(np.eye(4), (moments.day.size, 1, 1))


def test_what_is_known_beforehand_bounds_what_is_fitted() -> None:
    """An offset is found where it is free, and hardly where it is known to be small."""
    moments, design = offset_month(4.0)
    free, bound = (fitted(moments, design, np.array([0.0, 0.0, 0.0, p])) for p in (0.0, 1e6))
    assert free.value[3] == pytest.approx(4.0, abs=0.7)
    assert bound.value[3] == pytest.approx(0.0, abs=0.01)
    # known to be 0.001 W m-2 about 0: that is what its interval says
    assert bound.half_width[3] == pytest.approx(0.001 * 2.1, rel=0.2)
    assert free.half_width[3] > 10 * bound.half_width[3]
    known = np.array([0.0, 0.0, 0.0, 1e6])
    assert equations(moments, design, known).value == pytest.approx(bound.value)
