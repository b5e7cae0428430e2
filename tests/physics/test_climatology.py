"""Normals by hand, by an independent library, and what is withheld."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from sunledger.physics.climatology import MONTH_DAYS, mean_of_year, monthly_normals

NAN = np.nan


def test_by_hand():
    """10, 20, 60: mean 30, deviation sqrt((400 + 100 + 900) / 2), anomalies -20, -10, 30."""
    table = np.tile([[10.0], [20.0], [60.0]], 12)
    got = monthly_normals(table, 3)
    assert_allclose(got.mean, 30.0)
    assert_allclose(got.std, np.sqrt(700.0))
    assert_allclose(got.anomaly[:, 4], [-20.0, -10.0, 30.0])
    assert got.years.tolist() == [3] * 12


def test_against_pandas():
    """Thirty years with gaps."""
    rng = np.random.default_rng(1)
    table = rng.gamma(4.0, 40.0, (30, 12))
    table[rng.random(table.shape) < 0.1] = NAN
    got = monthly_normals(table, 1)
    frame = pd.DataFrame(table)
    assert_allclose(got.mean, frame.mean())
    assert_allclose(got.std, frame.std())
    assert_allclose(got.anomaly, frame - frame.mean())


@pytest.mark.parametrize(("least", "stands"), [(8, True), (9, False)])
def test_too_few_years(least, stands):
    """Nothing is guessed: no normal, and no anomaly from it; the count is told."""
    table = np.ones((10, 12))
    table[:2, 6] = NAN
    got = monthly_normals(table, least)
    assert np.isfinite(got.mean[6]) == stands
    assert np.isfinite(got.anomaly[5, 6]) == stands
    assert got.years[6] == 8
    assert np.isfinite(got.mean[5])


def test_one_year_has_no_deviation():
    """Nor has none."""
    got = monthly_normals(np.full((1, 12), 5.0), 1)
    assert_allclose(got.mean, 5.0)
    assert np.isnan(got.std).all()
    assert np.isnan(monthly_normals(np.full((1, 12), NAN), 1).mean).all()


def test_a_year_weighs_its_months():
    """By their lengths; 365.2425 days in the mean; one missing month leaves none."""
    assert MONTH_DAYS.sum() == pytest.approx(365.2425)
    only = np.where(np.arange(12) == 0, 365.2425, 0.0)
    assert mean_of_year(only) == pytest.approx(31.0)
    assert np.isnan(mean_of_year(np.where(np.arange(12) == 3, NAN, 1.0)))


def test_refusals():
    """Other tables, and no year asked for."""
    with pytest.raises(ValueError, match=r"shape \(year, 12\) \(got \(3, 11\)\)"):
        monthly_normals(np.ones((3, 11)), 1)
    with pytest.raises(ValueError, match=r"at least 1 \(got 0\)"):
        monthly_normals(np.ones((3, 12)), 0)
