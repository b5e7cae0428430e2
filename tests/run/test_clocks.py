"""Which months a file holds and reads by each clock, across the turn of month and year."""

from __future__ import annotations

from typing import Any

import pytest

from invented import station_config
from sunledger.config.models.base import parse_utc
from sunledger.run.clocks import (
    clock_words,
    closed_until,
    months_held,
    months_read,
    time_base,
    window,
)


def station(**changes: Any) -> Any:
    """The invented station at 10.2 degree east."""
    return station_config(**changes).station


NEPAL = {"local_standard_time": "+05:45", "longitude": 85.3}
WEST = {"local_standard_time": "-03:30", "longitude": -52.7}
YEAR = [f"2031-{m:02d}" for m in range(1, 13)]
AFTER = parse_utc("2032-03-01")


def test_the_station_says_its_standard_time() -> None:
    """Else that of the nearest meridian of full hours."""
    assert time_base("local", station(**NEPAL)).offset == 20700
    assert time_base("local", station()).offset == 3600
    assert time_base("local", station(longitude=-52.7)).offset == -4 * 3600
    assert time_base("", station(**NEPAL)).bounds("2031", 60)[0] == parse_utc("2031-01-01")


def test_files_name_their_clock() -> None:
    """The variable that holds it, and the clock in words."""
    assert clock_words("", station()) == ("", "")
    words = ("local_standard_time", "local standard time (UTC+05:45)")
    assert clock_words("local", station(**NEPAL)) == words
    assert clock_words("local", station(**WEST))[1].endswith("(UTC-03:30)")
    assert clock_words("solar", station())[0] == "true_solar_time"


@pytest.mark.parametrize(
    ("part", "place", "month", "months"),
    [
        ("", NEPAL, "2031-01", ["2030-12", "2031-01", "2031-02"]),
        ("local", NEPAL, "2031-01", ["2030-12", "2031-01"]),
        ("local", WEST, "2031-12", ["2031-12", "2032-01"]),
        ("local", WEST, "2031-02", ["2031-02", "2031-03"]),
        ("solar", NEPAL, "2031-03", ["2031-02", "2031-03"]),
        ("solar", WEST, "2031-12", ["2031-12", "2032-01"]),
    ],
)
def test_months_read(part: str, place: dict[str, Any], month: str, months: list[str]) -> None:
    """Those that a month of the clock touches, over the turn of the year as well."""
    base = time_base(part, station(**place))
    assert months_read(base, month, station(**place)) == months


def test_a_month_that_goes_on_waits_for_the_next() -> None:
    """In the west the last hours of a month lie in the next one of UTC."""
    until = parse_utc("2031-06-01")
    known = YEAR[:5]
    for part, place, held in (
        ("", WEST, known),
        ("local", WEST, known[:-1]),
        ("local", NEPAL, known),
        ("solar", WEST, known[:-1]),
    ):
        base = time_base(part, station(**place))
        assert months_held(base, "2031", known, station(**place), until) == tuple(held)


def test_only_months_of_the_year_with_minutes() -> None:
    """The neighbours of the year are read, not held."""
    known = ["2030-12", "2031-01", "2031-03", "2032-01"]
    base = time_base("local", station(**NEPAL))
    held = months_held(base, "2031", known, station(**NEPAL), AFTER)
    assert held == ("2031-01", "2031-03")


def test_windows_lie_on_whole_intervals() -> None:
    """Of the finest grid."""
    base = time_base("solar", station())
    start, end = window(base, "2031-03", station())
    assert (start % 60, end % 60) == (0, 0)
    assert abs(start - parse_utc("2031-03-01")) < 3600


@pytest.mark.parametrize(
    ("as_of", "until"),
    [("2031-06-30", "2031-06-01"), ("2031-07-01", "2031-07-01"), ("2031-07-02", "2031-07-01")],
)
def test_closed_until(context: Any, as_of: str, until: str) -> None:
    """The month of the run's date is open."""
    from dataclasses import replace

    now = replace(context, as_of=parse_utc(as_of))
    assert closed_until(now) == parse_utc(until)
