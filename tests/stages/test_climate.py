"""Tables by year and month: months in their places, years from months."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from sunledger.stages.climate import climate, table_of

NAN = np.nan


def months(first: str, past: str) -> np.ndarray:
    """Starts of months. [s]"""
    return np.arange(first, past, dtype="M8[M]").astype("M8[s]").astype(np.int64)


def test_months_stand_in_their_places() -> None:
    """A gap and months of other years leave nothing behind; also before 1970."""
    times = months("1968-11", "1970-03")
    times = np.delete(times, 3)  # February 1969
    values = times.astype("M8[s]").astype("M8[M]").astype(np.int64).astype(float)
    table = table_of(times, values, 1969, 1970)
    assert_array_equal(table[0], [-12, NAN, *range(-10, 0)])
    assert_array_equal(table[1], [0, 1, *[NAN] * 10])


@pytest.mark.parametrize(("year", "days"), [(2031, 28), (2032, 29)])
def test_a_mean_of_a_year(year: int, days: int) -> None:
    """Of its own months, leap or not."""
    table = np.where(np.arange(12) == 1, 366.0 if days == 29 else 365.0, 0.0)[None, :]
    got = climate(table, year, 0.8, "mean")
    assert got.annual.tolist() == [pytest.approx(float(days))]
    assert got.years.tolist() == [year]


def test_sums_and_ratios() -> None:
    """Hours of sunshine add up; a year of ratios is none."""
    table = np.tile(np.arange(12.0), (3, 1))
    total = climate(table, 2031, 1.0, "sum")
    assert total.annual.tolist() == [66.0] * 3
    assert total.annual_normal == 66.0
    none = climate(table, 2031, 1.0, "none")
    assert np.isnan(none.annual).all()
    assert np.isnan(none.annual_normal)
    assert none.normals.mean.tolist() == list(range(12))


@pytest.mark.parametrize(("share", "stands"), [(0.8, True), (0.81, False), (0.0, True)])
def test_share_of_the_years(share: float, stands: bool) -> None:
    """Four of five years are 80 %; one at least is always asked for."""
    table = np.ones((5, 12))
    table[0] = NAN
    got = climate(table, 2031, share, "mean")
    assert np.isfinite(got.annual_normal) == stands
    assert np.isnan(climate(np.full((2, 12), NAN), 2031, 0.0, "mean").annual_normal)
