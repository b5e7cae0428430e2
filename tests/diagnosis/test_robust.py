"""Robust regression: against SciPy's, and with gross errors."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from sunledger.diagnosis.robust import (
    BISQUARE,
    HUBER,
    bisquare_weights,
    huber_fit,
    huber_weights,
    median_of,
    robust_weights,
    spread,
)


def line_with_outliers(seed: int = 3) -> tuple[np.ndarray, np.ndarray]:
    """Two hundred points of 2 + 3 x with unit noise, a tenth of them 50 off."""
    rng = np.random.default_rng(seed)
    x = rng.uniform(-1, 1, 200)
    y = 2.0 + 3.0 * x + rng.normal(size=200)
    y[:20] += 50.0
    return np.stack([np.ones(200), x], axis=1), y


def test_huber_loss_is_that_of_scipy() -> None:
    """The same coefficients as `scipy.optimize.least_squares` with loss huber, at a fixed scale."""
    columns, y = line_with_outliers()
    theirs = least_squares(
        lambda b: y - columns @ b, np.zeros(2), loss="huber", f_scale=HUBER, xtol=1e-14, ftol=1e-14
    )
    np.testing.assert_allclose(huber_fit(columns, y, sigma=1.0), theirs.x, atol=1e-5)


@pytest.mark.parametrize("size", [1, 2, 3, 10, 1001])
def test_median_is_that_of_numpy(size: int) -> None:
    """Bit for bit, for odd and even numbers; NaN where a value is missing."""
    values = np.random.default_rng(size).normal(size=size)
    assert median_of(values) == np.median(values)
    values[0] = np.nan
    assert np.isnan(median_of(values))


def test_gross_errors_get_no_weight() -> None:
    """The twenty points far off count nothing, the rest nearly all."""
    columns, y = line_with_outliers()
    weights = robust_weights(columns, y)
    assert weights[:20].max() == 0.0
    assert weights[20:].mean() > 0.85


def test_weights_are_bounded_where_they_say() -> None:
    """Huber's fall beyond 1.345 standard deviations, the bisquare's end at 4.685."""
    r = np.array([0.0, HUBER, 2 * HUBER, BISQUARE, 10.0])
    np.testing.assert_allclose(huber_weights(r, 1.0), [1, 1, 0.5, HUBER / BISQUARE, HUBER / 10])
    weights = bisquare_weights(r, 1.0)
    assert weights[0] == 1.0
    np.testing.assert_array_equal(weights[3:], 0.0)


def test_spread_is_the_standard_deviation_of_normal_errors() -> None:
    """Within sampling; never 0, so that it can divide."""
    assert spread(np.random.default_rng(1).normal(0, 2.5, 20000)) == pytest.approx(2.5, rel=0.03)
    assert spread(np.zeros(5)) > 0
    assert spread(np.zeros(0)) > 0


def test_an_exact_line_comes_out_exactly() -> None:
    """Without noise the coefficients are exact."""
    x = np.linspace(0, 1, 9)
    columns = np.stack([np.ones(9), x], axis=1)
    np.testing.assert_allclose(huber_fit(columns, 2.0 - 5.0 * x), [2.0, -5.0], atol=1e-12)


def test_huber_fit_of_the_stack_loss_data() -> None:
    """
    Intercept and coefficients of air flow, water temperature and acid concentration.

    Data: K. A. Brownlee, Statistical Theory and Methodology, 2nd ed. (1965), p. 454. Coefficients
    as general statistics packages print them for Huber's loss with the median absolute deviation
    as scale (W. N. Venables and B. D. Ripley, Modern Applied Statistics with S, 4th ed.); to the
    fourth decimal, value from memory.
    """
    air = [80, 80, 75, 62, 62, 62, 62, 62, 58, 58, 58, 58, 58, 58, 50, 50, 50, 50, 50, 56, 70]
    water = [27, 27, 25, 24, 22, 23, 24, 24, 23, 18, 18, 17, 18, 19, 18, 18, 19, 19, 20, 20, 20]
    acid = [89, 88, 90, 87, 87, 87, 93, 93, 87, 80, 89, 88, 82, 93, 89, 86, 72, 79, 80, 82, 91]
    loss = [42, 37, 37, 28, 18, 18, 19, 20, 15, 14, 14, 13, 11, 12, 8, 7, 8, 8, 9, 15, 15]
    columns = np.stack([np.ones(21), air, water, acid], axis=1).astype(float)
    found = huber_fit(columns, np.array(loss, dtype=float))
    np.testing.assert_allclose(found, [-41.0265, 0.8294, 0.9261, -0.1278], atol=5e-5)
