"""Edges of the rules on clock checks."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from sunledger.config import ledger_clocks as rules
from sunledger.config.ledger_view import LedgerView, ledger_view
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import parse_utc
from sunledger.config.models.checks import CheckSettings

LoadLog = Callable[[str], StationConfig]
CHECK = 'id: {0}, type: clock_check, time: "{1}", logger: main, found: {2}'


def _view(config: StationConfig, **settings: float) -> LedgerView:
    return ledger_view(config, CheckSettings(**settings), None)


@pytest.mark.parametrize(("found", "faults"), [(3605, 0), (-3605, 0), (3606, 1), (-3606, 1)])
def test_drift_of_an_hour_a_day_is_the_limit(found: int, faults: int, with_log: LoadLog) -> None:
    """The limit holds in both directions, with the error of reading two clocks on top."""
    config = with_log(
        CHECK.format("a", "2031-02-01", 0) + "\n" + CHECK.format("b", "2031-02-02", found)
    )
    assert len(list(rules.drift_impossible(_view(config)))) == faults


def test_drift_counts_from_as_left(with_log: LoadLog) -> None:
    """A clock that was set begins again; one that was not goes on from as found."""
    second = CHECK.format("b", "2031-02-02", 0)
    clock_set = with_log(CHECK.format("a", "2031-02-01", 86400) + ", left: 0\n" + second)
    assert list(rules.drift_impossible(_view(clock_set))) == []
    not_set = with_log(CHECK.format("a", "2031-02-01", 86400) + "\n" + second)
    (found,) = rules.drift_impossible(_view(not_set))
    assert "left the clock of main at +86400 s; finding it at +0 s" in found.why


def test_two_looks_within_minutes_may_differ_by_seconds(with_log: LoadLog) -> None:
    """Three seconds within a minute are how people read clocks, not a drift of 72 minutes a day."""
    config = with_log(
        CHECK.format("a", "2031-02-01 08:00", 3) + "\n" + CHECK.format("b", "2031-02-01 08:01", 0)
    )
    assert list(rules.drift_impossible(_view(config))) == []
    assert len(list(rules.drift_impossible(_view(config, clock_reading_error=0)))) == 1


def test_checks_are_compared_by_time_not_by_writing(with_log: LoadLog) -> None:
    """A check entered late is compared with its neighbours in time."""
    config = with_log(
        CHECK.format("a", "2031-02-01", 0)
        + "\n"
        + CHECK.format("b", "2031-02-11", 20000)
        + "\n"
        + CHECK.format("c", "2031-02-06", 10000)
    )
    assert list(rules.drift_impossible(_view(config))) == []


def test_corrected_check_contradicts_nothing(with_log: LoadLog) -> None:
    """A check that was replaced is not held against its replacement."""
    config = with_log(
        CHECK.format("a", "2031-02-01", 7)
        + "\n"
        + CHECK.format("b", "2031-02-01", -7)
        + ", corrects: a, reason: sign"
    )
    assert list(rules.checks_contradict(_view(config))) == []


@pytest.mark.parametrize(("as_of", "faults"), [("2031-02-01", 0), ("2031-01-31 23:59", 1)])
def test_a_check_at_now_is_not_after_it(as_of: str, faults: int, with_log: LoadLog) -> None:
    """The instant itself belongs to the past; without as_of nothing is after it."""
    config = with_log(CHECK.format("a", "2031-02-01", 3))
    view = ledger_view(config, CheckSettings(), parse_utc(as_of))
    assert len(list(rules.check_after_now(view))) == faults
    assert list(rules.check_after_now(_view(config))) == []


def test_a_check_after_now_that_was_corrected_is_let_go(with_log: LoadLog) -> None:
    """The wrong year is put right by an entry of its own, not by changing the first."""
    config = with_log(
        CHECK.format("a", "2032-02-01", 3)
        + "\n"
        + CHECK.format("b", "2031-02-01", 3)
        + ", corrects: a, reason: wrong year"
    )
    view = ledger_view(config, CheckSettings(), parse_utc("2031-03-01"))
    assert list(rules.check_after_now(view)) == []


def test_free_clock_may_be_wrong(with_log: LoadLog) -> None:
    """Only a clock kept by a time signal has a bound to exceed."""
    config = with_log(CHECK.format("a", "2031-02-01", 500))
    assert list(rules.disciplined_clock_in_error(_view(config))) == []
