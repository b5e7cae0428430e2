"""Closure of whole days as numbers that a later month reads."""

from __future__ import annotations

import json

import numpy as np
import pytest

from diagnosed_months import month
from invented_months import Month
from sunledger.diagnosis.closure_days import joined, moments_of_rows, rows_of
from sunledger.diagnosis.closure_fit import constant_design, fitted

JUNE = month(Month(days=12, cloudiness=0.1)).moments
FIRST = float(np.datetime64("2031-06-01", "s").astype(np.int64))


def test_days_as_numbers_give_the_same_fit() -> None:
    """Through JSON: to nine digits, in one row a day."""
    rows = json.loads(json.dumps(rows_of(JUNE)))
    again = moments_of_rows(rows)
    assert (again.days, again.day.size) == (JUNE.days, JUNE.days)
    assert again.minutes.sum() == JUNE.minutes.sum()
    a, b = (fitted(m, constant_design(m)) for m in (JUNE, again))
    np.testing.assert_allclose(a.value, b.value, rtol=1e-6)
    np.testing.assert_allclose(a.half_width, b.half_width, rtol=1e-6)
    assert rows_of(again) == rows


def test_times_stay_as_they_are() -> None:
    """Ten digits of a time are not cut to nine."""
    again = moments_of_rows(rows_of(JUNE))
    assert again.first[0] == JUNE.first[0]
    assert again.last[-1] == JUNE.last[-1]
    assert again.middle[0] == pytest.approx(
        np.average(JUNE.middle[JUNE.day == 0], weights=JUNE.minutes[JUNE.day == 0]), abs=0.5
    )


def test_days_before_a_start_are_left_out() -> None:
    """And where none is left there are no moments."""
    rows = rows_of(JUNE)
    assert moments_of_rows(rows, FIRST + 5 * 86400).days == JUNE.days - 5
    assert moments_of_rows(rows, np.inf) is None
    assert moments_of_rows([]) is None
    assert rows_of(month(Month(days=2, cloudiness=5.0)).moments) == []


def test_joined_is_as_of_one_month() -> None:
    """Two halves give the fit of the whole."""
    rows = rows_of(JUNE)
    whole, halves = moments_of_rows(rows), (moments_of_rows(rows[:6]), moments_of_rows(rows[6:]))
    both = joined(*halves)
    np.testing.assert_array_equal(both.day, whole.day)
    np.testing.assert_allclose(
        fitted(both, constant_design(both)).half_width,
        fitted(whole, constant_design(whole)).half_width,
    )
    assert joined(None, whole) is whole


def test_a_day_parted_by_the_end_of_a_month_stays_one() -> None:
    """Far from Greenwich the month ends at noon: both parts are one draw of the weather."""
    pieces = np.flatnonzero(JUNE.day == 5)
    assert pieces.size > 2
    at = pieces[1]

    def part(where):
        columns = {n: getattr(JUNE, n)[where] for n in JUNE.__dataclass_fields__ if n != "breaks"}
        columns["day"] = columns["day"] - columns["day"][0]
        return type(JUNE)(**columns)

    both = joined(part(slice(None, at)), part(slice(at, None)))
    np.testing.assert_array_equal(both.day, JUNE.day)
