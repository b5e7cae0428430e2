"""Calendar months of UTC; the standard library's calendar is the reference."""

from __future__ import annotations

from calendar import monthrange, timegm

from hypothesis import given
from hypothesis import strategies as st

from sunledger.run.months import month_bounds, months_touched

YEARS, MONTHS = st.integers(1971, 2199), st.integers(1, 12)


@given(YEARS, MONTHS)
def test_bounds_are_those_of_the_calendar(year: int, month: int) -> None:
    """From the first midnight, for as many days as the month has."""
    start, end = month_bounds(f"{year}-{month:02}")
    assert start == timegm((year, month, 1, 0, 0, 0))
    assert end - start == monthrange(year, month)[1] * 86400


@given(YEARS, MONTHS)
def test_a_month_touches_itself_alone(year: int, month: int) -> None:
    """Half-open: neither the second before nor the one after."""
    label = f"{year}-{month:02}"
    start, end = month_bounds(label)
    assert months_touched(start, end) == [label]
    assert len(months_touched(start - 1, end)) == 2
    assert len(months_touched(start, end + 1)) == 2


def test_months_come_in_order_across_a_year() -> None:
    """December and January."""
    start, end = month_bounds("2031-11")[0], month_bounds("2032-02")[1]
    assert months_touched(start, end) == ["2031-11", "2031-12", "2032-01", "2032-02"]


def test_nothing_is_touched_by_nothing() -> None:
    """An empty interval and one that ends before it begins."""
    assert months_touched(1000, 1000) == []
    assert months_touched(1000, 0) == []


def test_before_1970() -> None:
    """Seconds below zero belong to the months before."""
    assert months_touched(-1, 0) == ["1969-12"]
