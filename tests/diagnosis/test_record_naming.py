"""East-west changes with what the record rules out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from checks_on_record import clock, level
from diagnosed_months import month
from invented_months import Month, step_at
from sunledger.diagnosis.checks import diagnosed
from sunledger.diagnosis.record_naming import by_record
from sunledger.diagnosis.watchdog import CAUSES, changes

WHEN = float(np.datetime64("2031-06-16", "s").astype(np.int64))
LEANING = Month(start="2031-06-01", seed=4, cloudiness=0.2, east=step_at(WHEN, -0.6))
CHECKED = [clock("c1", "2031-05-20", 0.0), clock("c2", "2031-07-10", 2.0)]


def test_a_step_that_no_clock_made_is_one_of_the_level() -> None:
    """0.6 degree to the west; the same onset, in degrees."""
    given = month(LEANING, CHECKED)
    (step,), _ = changes(given)
    named = by_record(given, step)
    assert (step.name, named.name) == ("clock_or_east_lean_step", "level_step")
    assert (named.onset, named.target) == (step.onset, step.target)
    assert named.lower < 0.6 < named.upper
    assert named.unit == "degree"
    assert "toward west" in named.action
    assert named.cannot_tell == ()
    assert named.evidence["ruled_out"] == {"clock": "c1 and c2: 2 s"}


def test_without_checks_both_causes_stay() -> None:
    """And where the record contradicts the data."""
    given = month(LEANING)
    (step,), _ = changes(given)
    assert by_record(given, step) is step
    levels = [level("l1", "2031-05-20", 0.0), level("l2", "2031-07-10", 0.0)]
    both = month(LEANING, [*CHECKED, *levels])
    assert by_record(both, step) is step
    clock_alone = by_record(month(LEANING, levels), step)
    assert clock_alone.name == "clock_or_east_lean_step"
    assert clock_alone.action.endswith(f"the record leaves {CAUSES[1]} alone")


@pytest.mark.parametrize(
    ("entries", "name"), [(None, "clock_or_east_lean_step"), (CHECKED, "level_step")]
)
def test_a_month_says_it_once(entries: list[dict[str, object]] | None, name: str) -> None:
    """Watch over the clock and the search for causes find the same step."""
    found = [f for f in diagnosed(month(LEANING, entries))[0] if f.onset]
    assert [f.name for f in found if "step" in f.name] == [name]


def test_other_findings_are_left_alone() -> None:
    """Nothing is known of them here."""
    (step,), _ = changes(month(LEANING))
    other = replace(step, name="level_step")
    assert by_record(month(LEANING, CHECKED), other) is other
