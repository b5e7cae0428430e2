"""Causes that the record rules out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import invented
from checks_on_record import clock, level
from diagnosed_months import month
from invented_months import Month
from sunledger.diagnosis.ruled_out import Lapse, checks_around, ruled_out

PLAIN = Month(start="2031-06-01", days=30, cloudiness=5.0)


def at(day: str) -> float:
    """Seconds of a day."""
    return float(np.datetime64(day, "s").astype(np.int64))


LAPSE = Lapse(at("2031-06-14"), at("2031-06-15"), 0.8, 0.8)


def test_without_a_record_nothing_is_ruled_out() -> None:
    """A check before alone does not either."""
    assert ruled_out(month(PLAIN), LAPSE) == {}
    assert ruled_out(month(PLAIN, [clock("c1", "2031-05-20", 0.0)]), LAPSE) == {}


def test_clock_checks_around_a_change_rule_the_clock_out() -> None:
    """0.8 degree are 280 s at this latitude; a clock that moved 4 s cannot have done it."""
    given = month(PLAIN, [clock("c1", "2031-05-20", 12.0, 0.0), clock("c2", "2031-07-10", 4.0)])
    assert ruled_out(given, LAPSE) == {"clock": "c1 and c2: 4 s"}


def test_a_clock_that_moved_is_not_ruled_out() -> None:
    """Nor is one that was set just when the change happened, nor where little is needed."""
    moved = month(PLAIN, [clock("c1", "2031-05-20", 0.0), clock("c2", "2031-07-10", 150.0)])
    assert ruled_out(moved, LAPSE) == {}
    three = [clock("c1", "2031-05-20", 0.0), clock("c2", "2031-07-10", 1.0)]
    within = month(PLAIN, [*three, clock("c3", "2031-06-14 12:00", 0.0)])
    assert ruled_out(within, LAPSE) == {}
    steady = month(PLAIN, three)
    assert ruled_out(steady, Lapse(LAPSE.after, LAPSE.before, 0.004, 0.9)) == {}


def test_a_clock_kept_by_a_signal_is_ruled_out() -> None:
    """Whatever the checks say."""
    every = tuple(invented.SENSITIVITY)
    kept = invented.logger(every, clock={"discipline": "time_signal", "bound": 1.0})
    config = invented.station_config(loggers={"main": kept})
    given = month(PLAIN)
    disciplined = replace(given, config=config)
    assert ruled_out(disciplined, LAPSE) == {"clock": "the clock of main keeps time by a signal"}


@pytest.mark.parametrize(("found", "out"), [(0.1, True), (0.8, False)])
def test_level_checks_around_a_change_rule_a_lean_out(found: float, out: bool) -> None:
    """Where what was left and what was found are less than half of it."""
    given = month(PLAIN, [level("l1", "2031-05-20", 0.9, 0.1), level("l2", "2031-07-10", found)])
    assert ("lean" in ruled_out(given, LAPSE)) is out


def test_checks_around_a_month_are_the_nearest() -> None:
    """One before, those within, one behind, of each logger and position."""
    times = ("2031-03-01", "2031-05-20", "2031-06-10", "2031-07-10", "2031-08-10")
    clocks = [clock(f"c{n}", t, 0.0) for n, t in enumerate(times)]
    given = month(PLAIN, [*clocks, level("l1", "2031-02-01", 0.0)])
    around = checks_around(given.config, given.resolved)
    assert [c.id for c in around] == ["l1", "c1", "c2", "c3"]
