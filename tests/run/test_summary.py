"""The closing summary: figures add up, shares are of minutes with a value, nothing is left out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sunledger.run.job import Choice, Job, prepare
from sunledger.run.plan import Plan
from sunledger.run.publish import Outcome
from sunledger.run.summary import final_lines, station_lines, summary


@pytest.fixture(scope="module")
def job(long_made: Path) -> Job:
    """The long project's job, with a plan of its own."""
    planned = prepare(long_made, Choice())
    plan = Plan((), ("tst 2031-11",), ("tst minute 2031-05: a remark",))
    return Job(planned.context, plan, (), 1, None, ("x.csv: no table",))


def voltage(kept: int, rejected: int) -> Outcome:
    """A voltage unit with its lines."""
    lines = {"kept": kept, "repeated": 1, "conflicting": 0, "rejected": rejected}
    return Outcome(
        "tst voltage main 2031-06",
        "written",
        "a/v.nc",
        1,
        "final",
        lines | {"data_lines": sum(lines.values())},
    )


def minutes(count: int, present: int, **flags: int) -> Outcome:
    """A minute unit with its flags."""
    return Outcome(
        "tst minute 2031-06",
        "unchanged",
        "a/m.nc",
        2,
        "provisional",
        {"minutes": count, "present": {"ghi": present}},
        {"ghi": flags},
    )


def test_lines_and_shares() -> None:
    """Sums over months; shares of the minutes with a value, largest first, without `missing`."""
    outcomes = [
        voltage(1000, 3),
        voltage(2000, 0),
        minutes(1000, 500, stuck_value=5, missing=500),
        minutes(1000, 500, stuck_value=5, above_rare_maximum=100, missing=500),
    ]
    assert station_lines(outcomes, "tst", "Test Ridge") == [
        "Test Ridge (tst)",
        "  3,005 data lines: 3,000 kept, 2 repeated, 0 conflicting, 3 rejected",
        "  2,000 minutes; of those with a value, share and number flagged by each test:",
        "    ghi: 1,000 with a value (50.0%)",
        "      above_rare_maximum                  10.000%        100",
        "      stuck_value                          1.000%         10",
    ]


def test_no_value_at_all_divides_by_nothing() -> None:
    """A station without calibration has minutes and no value."""
    lines = station_lines([minutes(1000, 0, missing=1000, stuck_value=2)], "tst", "T")
    assert "    ghi: 0 with a value (0.0%)" in lines


def test_another_station_is_not_counted() -> None:
    """Not even one whose identifier begins alike."""
    other = Outcome("tst2 voltage main 2031-06", "written", accounting={"kept": 9, "data_lines": 9})
    assert "0 data lines" in station_lines([other], "tst", "T")[1]


def test_everything_is_said(job: Job) -> None:
    """Written files with version and status, raw files, empty months, remarks, failures."""
    outcomes = [
        voltage(10, 0),
        minutes(1000, 1000),
        Outcome("tst minute 2031-07", "empty", error="no reading falls into it"),
        Outcome("tst daily 2031", "failed", error="not made: tst minute 2031-08 failed"),
    ]
    lines = summary(job, outcomes)
    assert lines[0] == "Test Ridge (invented) (tst)"
    said = f"Files: 1 written, 1 unchanged, 1 empty, 1 failed; archive: {job.context.archive}"
    assert lines[lines.index(said) :] == [
        said,
        "  wrote a/v.nc (version 1, final)",
        "Raw file x.csv: no table",
        "Empty: tst 2031-11: no raw file for this month, nothing written",
        "Note: tst minute 2031-05: a remark",
        "Empty: tst minute 2031-07: no reading falls into it",
        "Failed: tst daily 2031: not made: tst minute 2031-08 failed",
    ]


def test_nothing_to_do(job: Job) -> None:
    """No outcome: no station, and a line that says so."""
    assert summary(job, [])[0] == f"Files: nothing to do; archive: {job.context.archive}"


def test_months_in_a_row_that_lack_the_same_share_their_lines(job: Job) -> None:
    """Each provisional month appears, open and final ones do not."""
    (config,) = job.context.stations
    made = [
        replace(minutes(1, 1), unit=f"tst minute {month}", status=status)
        for month, status in (
            ("2099-01", "provisional"),
            ("2099-02", "provisional"),
            ("2099-03", "final"),
            ("2099-04", "open"),
        )
    ]
    lines = final_lines(config, made)
    assert lines[0] == "  2099-01 to 2099-02: provisional until there is"
    assert len([line for line in lines if "a finished review" in line]) == 1
    assert all(line.startswith("    ") for line in lines[1:])
