"""Normal equations of days that have terms of their own."""

from __future__ import annotations

import numpy as np
import pytest

from sunledger.diagnosis.closure_equations import NOISE, OF_DAYS, DayTerms, Equations

RNG = np.random.default_rng(8)
DAY = np.repeat(np.arange(6), [2, 1, 3, 1, 2, 2])
COLUMNS = RNG.normal(0.0, 300.0, (DAY.size, 40, 3))
RESPONSE = RNG.normal(0.0, 5.0, (DAY.size, 40))
MATRIX = np.einsum("pmi,pmj->pij", COLUMNS, COLUMNS)
PRODUCTS = np.einsum("pmi,pm->pi", COLUMNS, RESPONSE)
DESIGN = np.tile(np.eye(3), (DAY.size, 1, 1))


def equations(prior: np.ndarray | None = None) -> Equations:
    """Of three constants."""
    return Equations(DayTerms(DAY, MATRIX / NOISE), DESIGN, PRODUCTS, prior)


def of_all_minutes(response: np.ndarray) -> np.ndarray:
    """Generalised least squares with the covariance of all minutes written out."""
    left, right = np.zeros((3, 3)), np.zeros(3)
    for day in range(6):
        z = COLUMNS[day == DAY].reshape(-1, 3)
        covariance = z @ np.diag(OF_DAYS**2) @ z.T + NOISE * np.eye(len(z))
        weighed = np.linalg.solve(covariance, z)
        left += z.T @ weighed
        right += weighed.T @ response[day == DAY].ravel()
    return np.linalg.solve(left, right)


def test_values_are_those_of_the_whole_covariance() -> None:
    """Of the response and of another one with the same weights."""
    found = equations()
    assert found.value == pytest.approx(of_all_minutes(RESPONSE), rel=1e-8)
    other = RESPONSE + 3.0 * COLUMNS[:, :, 1]
    products = np.einsum("pmi,pm->pi", COLUMNS, other)
    assert found.value_of(products) == pytest.approx(of_all_minutes(other), rel=1e-8)


def test_only_what_is_asked_for_has_a_spread() -> None:
    """The others are not computed; those that are do not depend on it."""
    every, freedom = equations().spreads(range(3))
    one, of_one = equations().spreads([1])
    assert np.isnan(one).tolist() == [True, False, True]
    assert (one[1], of_one[1]) == (every[1], freedom[1])
    assert np.all(freedom > 1.0)


def test_sums_of_days() -> None:
    """Also where each day is one piece."""
    values = np.arange(DAY.size, dtype=float)
    assert DayTerms(DAY, MATRIX).by_day(values).tolist() == [1, 2, 12, 6, 15, 19]
    alone = DayTerms(np.arange(DAY.size), MATRIX)
    assert alone.by_day(values).tolist() == values.tolist()


def test_what_is_known_beforehand_pulls_toward_nothing() -> None:
    """Without limit where it is known without doubt, and the misfit grows."""
    free, bound = equations(), equations(np.full(3, 1e12))
    assert np.abs(bound.value).max() < 1e-4 * np.abs(free.value).max()
    assert free.misfit < bound.misfit <= 0.0
