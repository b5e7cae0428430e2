"""Rows of tables say what the archive holds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drawn_minutes import minutes
from sunledger.archive.changes import Entry
from sunledger.archive.findings_file import FindingsFile
from sunledger.report import facts_tables
from sunledger.report.month import StationMonth

T0 = 1932768000.0
EMPTY = StationMonth("osr", "2031-04", "t", None, None, {}, {}, None, (), (), {})


def test_lines_by_logger() -> None:
    """In the order of loggers, with all five numbers."""
    said = {"data_lines": 1200, "kept": 1190, "repeated": 5, "conflicting": 3, "rejected": 2}
    rows = list(facts_tables.arrival_rows(replace(EMPTY, lines={"main": said})))
    assert rows == [("main", "1,200", "1,190", "5", "3", "2")]


def test_events_are_ordered_and_of_the_month() -> None:
    """Level and clock checks stand among events, sorted by time."""
    tables = {
        "levelling": {
            "levelling_time": [T0 + 7200],
            "levelled_position": ["global_1"],
            "tilt_found": [0.4],
            "tilt_left": [np.nan],
            "levelling_note": ["a foot was loose"],
        },
        "clock_check": {
            "clock_check_time": [T0, T0 - 86400],
            "clock_check_logger": ["main", "main"],
            "clock_error_found": [-2.5, 9.0],
            "clock_error_left": [0.0, 0.0],
        },
    }
    rows = list(facts_tables.event_rows(replace(EMPTY, tables=tables)))
    assert rows == [
        ("2031-04-01 00:00", "clock check", "main", "-2.5 s", "0 s", ""),
        ("2031-04-01 02:00", "level check", "global_1", "0.4°", "–", "a foot was loose"),
    ]


def test_findings_say_size_and_action() -> None:
    """With interval, effect and what cannot be told apart."""
    row = {
        **{"name": "level_step", "target": "global_1", "size": 0.8, "lower": 0.7, "upper": 0.9},
        **{"unit": "degree", "effect": 1.2, "action": "level it", "cannot_tell": ["a", "b"]},
    }
    (cells,) = facts_tables.finding_rows(replace(EMPTY, findings=FindingsFile({}, (row,))))
    assert cells[1:] == (*("global_1", "0.8 degree (0.7 to 0.9)", "1.2 W m-2", "level it", "a; b"),)


def test_the_newest_version_comes_first() -> None:
    """With the size of what changed, each in its unit; only quantities are told."""
    first = Entry("minute", "2031-04", 1, "provisional", "created", "2031-06-01", "s", "new", "d")
    size = {"ghi": {"mean": 1.25}, "air_temperature": {"mean": -0.5}}
    size |= {"ghi_uncertainty": {"mean": 3.0}, "clock_residual_main": {"mean": 9.0}}
    second = replace(first, version=2, action="revised", cause="certificate", size_of_change=size)
    rows = list(facts_tables.change_rows(replace(EMPTY, changes=(first, second))))
    words = "air_temperature -0.5 K; ghi +1.25 W m-2"
    assert rows[0] == (2, "2031-06-01", "provisional", "revised", "certificate", words)
    assert rows[1][-1] == "–"


def test_an_empty_month_has_no_rows() -> None:
    """No data, no rows, no error."""
    for rows in (
        facts_tables.watchdog_rows,
        facts_tables.completeness_rows,
        facts_tables.finding_rows,
        facts_tables.event_rows,
        facts_tables.mean_rows,
        facts_tables.change_rows,
    ):
        assert list(rows(EMPTY)) == []
    assert facts_tables.gap_table(EMPTY) == (("Cause",), [])


def test_gaps_have_a_column_for_each_quantity_that_lacks_any() -> None:
    ds = minutes()
    ds["dhi"][:7] = np.nan
    heads, rows = facts_tables.gap_table(replace(EMPTY, minutes=ds))
    assert heads == ("Cause", "dhi")
    ((cause, count),) = rows
    assert (cause.split(":")[0], count) == ("unknown", "7")


def test_the_watchdog_tells_all_that_a_term_may_be() -> None:
    """Value with half its interval; a month without evidence says so by its absence."""
    terms = {"east_degree": [0.5, 0.1], "as_clock_error_s": [-120.0, 24.0]}
    verdicts = {"constant_terms": terms, "changes": {"verdict": "no change"}}
    found = FindingsFile({"verdicts": verdicts})
    rows = list(facts_tables.watchdog_rows(replace(EMPTY, findings=found)))
    assert [row[:2] for row in rows] == [
        ("East-west term", "+0.50° ± 0.10°"),
        ("The same as a clock error", "-120.00 s ± 24.00 s"),
        ("Changes since the last check", "no change"),
    ]


def test_the_watchdog_tells_since_when_a_change_counts() -> None:
    """As clock error and as lean, with the check; a record without one says so."""
    told = {
        "east_step_s": [-120.0, 40.0],
        "east_step_degree": [0.34, 0.11],
        "east_drift_s_per_day": [-6.2, 3.1],
        "data_from": "2031-03-02 06:10",
        "since": {"kind": "clock check", "id": "osr-021", "time": 1},
        "verdict": "changed",
    }
    for since, words in ((told["since"], "since clock check osr-021"), ({}, "no check before")):
        found = FindingsFile({"verdicts": {"changes": told | {"since": since}}})
        step, drift, verdict = facts_tables.watchdog_rows(replace(EMPTY, findings=found))
        assert step[1] == "-120 s ± 40 s, +0.34° ± 0.11°"
        assert step[2].startswith(words)
        assert drift[1:] == ("-6.2 s ± 3.1 s a day", "data from 2031-03-02 06:10")
        assert verdict[1] == "changed"


def test_means_stand_beside_the_same_month_of_other_years(monkeypatch: pytest.MonkeyPatch) -> None:
    """Other months are not of the history; the uncertainty is the month's own."""
    own = {"2029-04": (190.0, 4.0), "2030-04": (210.0, 4.0), "2030-05": (900.0, 4.0)}
    means = {"ghi": own | {"2031-04": (205.0, 4.04)}, "dni": {"2031-04": (99.94, np.nan)}}
    monkeypatch.setattr(facts_tables, "monthly_means", lambda _: means)
    assert list(facts_tables.mean_rows(EMPTY)) == [
        ("ghi", "205.0", "4.0", "200.0 of 2", "W m-2"),
        ("dni", "99.9", "–", "none yet", "W m-2"),
    ]
