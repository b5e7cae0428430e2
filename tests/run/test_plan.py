"""What is stale and why: exactly what depends on a change, over any distance, in plain words."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

import pretended
import small_project
from invented import certificate
from pretended import MONTHS, months, stale
from small_project import edit, note
from sunledger.config.models.workflow import MonthRange
from sunledger.run.job import Choice, prepare

AGGREGATES = ["hourly 2031", "daily 2031", "monthly 2031"]


def between(first: str, last: str) -> list[str]:
    """Months of the long project from the first to the last."""
    return [m for m in MONTHS if first <= m <= last]


def test_a_whole_archive_is_fresh(long_project: Path) -> None:
    """Right after a run nothing is stale, nothing is empty, nothing is remarked."""
    plan = prepare(long_project, Choice()).plan
    assert plan.stale() == ()
    assert (plan.empty, plan.remarks) == ((), ())
    assert len(plan.units) == 10 * 3 + 3  # two loggers and the minutes, three aggregates


def test_units_stand_after_those_they_read(long_project: Path) -> None:
    """The order of the plan lets each unit find what it reads."""
    seen: set[str] = set()
    planned = {u.name for u in prepare(long_project, Choice()).plan.units}
    for unit in prepare(long_project, Choice()).plan.units:
        assert set(unit.after) & planned <= seen
        seen.add(unit.name)


def test_without_an_archive_all_is_stale(long_project: Path, tmp_path: Path) -> None:
    """In an empty folder every unit has the same plain reason."""
    reasons = stale(long_project, Choice(archive=tmp_path / "other"))
    assert len(reasons) == 33
    assert set(reasons.values()) == {("no such file yet",)}


def test_a_field_note_stales_its_month_and_the_year(long_project: Path) -> None:
    """A cleaning in March changes March alone, and the year files that hold March."""
    note(long_project, small_project.cleaning("cl-7", "2031-03-15 00:30"))
    reasons = stale(long_project)
    assert months(reasons, "minute") == ["2031-03"]
    assert months(reasons, "voltage") == ["2031-03", "2031-03"]  # their tables hold the event
    assert [n for n in reasons if n.endswith("2031")] == AGGREGATES
    assert "conditions: new maintenance global_1 cl-7" in reasons["minute 2031-03"]
    assert "history.event: new cl-7 cleaning" in reasons["voltage main 2031-03"]
    assert reasons["daily 2031"][0] == "minutes of 2031-03: changed"


def test_a_limit_stales_minutes_and_no_voltages(long_project: Path) -> None:
    """A setting of the tests is named with its old and new value."""
    edit(
        long_project,
        "processing",
        lambda p: p.update(qc_flag={"stuck": {"least_irradiance": 8.0}}),
    )
    reasons = stale(long_project)
    assert months(reasons, "voltage") == []
    assert months(reasons, "minute") == list(MONTHS)
    assert reasons["minute 2031-05"] == ("processing.qc_flag.stuck.least_irradiance: 5.0 -> 8.0",)
    assert [n for n in reasons if n.endswith("2031")] == AGGREGATES


def test_a_rule_of_aggregation_stales_aggregates_only(long_project: Path) -> None:
    """Minutes do not read it."""
    edit(long_project, "processing", lambda p: p.update(aggregate={"least_share_daily": 0.5}))
    reasons = stale(long_project)
    assert list(reasons) == AGGREGATES
    assert set(reasons.values()) == {("aggregate.least_share_daily: 0.9 -> 0.5",)}


def test_a_check_of_the_record_stales_nothing(long_project: Path) -> None:
    """How often a level check is due is a remark to the keeper; no product reads it."""
    edit(long_project, "processing", lambda p: p.update(checks={"cleaning_plan": 40}))
    assert stale(long_project) == {}


@pytest.mark.parametrize("name", ["network", "station/station"])
def test_a_description_stales_every_file_that_repeats_it(long_project: Path, name: str) -> None:
    """Every file carries the names of station and network."""
    edit(long_project, name, lambda s: s.update(name="Another Ridge (invented)"))
    reasons = stale(long_project)
    assert len(reasons) == 33
    said = "another version of a stage, or of the station's description"
    assert {words for n, words in reasons.items() if n not in AGGREGATES} == {(said,)}
    assert reasons["daily 2031"][:2] == (
        "minutes of 2031-01: changed",
        "minutes of 2031-02: changed",
    )


def test_a_layout_stales_voltages_and_minutes(long_project: Path) -> None:
    """What counts as missing decides what is read, so the minutes follow the voltages."""

    def more_missing(station: Any) -> None:
        station["loggers"]["main"]["layouts"][0]["missing"] = ["", "gone"]

    edit(long_project, "station/station", more_missing)
    reasons = stale(long_project)
    assert months(reasons, "voltage main") == list(MONTHS)
    assert months(reasons, "voltage beam") == []
    assert months(reasons, "minute") == list(MONTHS)
    assert reasons["minute 2031-02"] == ("layouts.main[0].missing: new gone",)


def test_doubt_runs_back_to_the_last_good_check_and_not_before(long_project: Path) -> None:
    """Found 1 degree off in June: doubtful since the good check of April, not in March."""
    note(long_project, small_project.level("lc-good", "2031-04-05", 0.05))
    pretended.pretend(long_project)
    note(long_project, small_project.level("lc-bad", "2031-06-20", 1.0))
    reasons = stale(long_project)
    doubtful = "conditions: new level_doubtful global_1 lc-bad"
    assert [m for m in months(reasons, "minute") if doubtful in reasons[f"minute {m}"]] == (
        between("2031-04", "2031-06")
    )
    # later months name it as the last check before them; earlier ones do not change
    assert months(reasons, "minute") == between("2031-04", "2031-10")
    assert reasons["minute 2031-08"] == (
        "history.levelling[global_1].levelling_id: lc-good -> lc-bad",
        "history.levelling[global_1].levelling_time: 2031-04-05 00:00 -> 2031-06-20 00:00",
        "history.levelling[global_1].tilt_found: 0.05 -> 1.0",
    )


def test_a_good_check_casts_no_doubt(long_project: Path) -> None:
    """The same check within tolerance changes no month before its own."""
    note(long_project, small_project.level("lc-fine", "2031-06-20", 0.05))
    assert months(stale(long_project), "minute") == between("2031-06", "2031-10")


def test_a_certificate_stales_back_to_the_one_before(long_project: Path) -> None:
    """A sensitivity interpolated to a certificate of July changes since that of April."""
    second = certificate("global_1", certificate="NC-2", date="2031-04-20")
    third = certificate(
        "global_1",
        certificate="NC-3",
        date="2031-07-20",
        sensitivity={"as_left": 8.2, "unit": "uV W-1 m2"},
    )

    def add(item: dict[str, Any]) -> Any:
        return lambda i: i["instruments"][0]["calibrations"].append(item)

    edit(long_project, "station/instruments", add(second))
    pretended.pretend(long_project)
    edit(long_project, "station/instruments", add(third))
    reasons = stale(long_project)
    assert months(reasons, "minute") == between("2031-04", "2031-10")
    may = reasons["minute 2031-05"]
    assert "coefficients[global_1].sensitivity_points: new 8.2 at 2031-07-20 00:00" in may
    assert "history.calibration: new NC-3" in may


def test_latest_before_does_not_look_ahead(long_project: Path) -> None:
    """With that policy a certificate changes nothing before its own date."""
    edit(long_project, "processing", lambda p: p["calibrate"].update(policy="latest_before"))
    pretended.pretend(long_project)
    later = certificate(
        "global_1",
        certificate="NC-3",
        date="2031-07-20",
        sensitivity={"as_left": 8.2, "unit": "uV W-1 m2"},
    )
    edit(
        long_project,
        "station/instruments",
        lambda i: i["instruments"][0]["calibrations"].append(later),
    )
    assert months(stale(long_project), "minute") == between("2031-07", "2031-10")


def test_a_clock_check_stales_what_it_retimes(long_project: Path) -> None:
    """The drift since the check before is spread over the time between the two."""
    note(long_project, small_project.clock("ck-a", "main", "2031-04-20", 0.0))
    pretended.pretend(long_project)
    note(long_project, small_project.clock("ck-b", "main", "2031-08-20", 90.0))
    reasons = stale(long_project)
    assert months(reasons, "minute") == between("2031-04", "2031-10")
    assert "history.clock_check: new ck-b" in reasons["minute 2031-05"]
    assert "loggers[main].segments[0].error_end: 0.0 -> 90.0" in reasons["minute 2031-05"]


def test_a_new_raw_file_stales_what_it_bears_on(long_project: Path) -> None:
    """A second file for March: that month's voltages of its logger, minutes, year files."""
    small_project.write_raw(long_project.parent / "raw", ["2031-03-20"], ["main"], minutes=60)
    reasons = stale(long_project)
    assert list(reasons) == ["voltage main 2031-03", "minute 2031-03", *AGGREGATES]
    assert reasons["minute 2031-03"] == ("raw file main_20310320.csv: new",)


def test_a_raw_file_near_the_end_bears_on_two_months(long_project: Path) -> None:
    """Readings within the reach of the tests beyond a month's end count for it too."""
    small_project.write_raw(long_project.parent / "raw", ["2031-03-01"], ["main"], minutes=60)
    reasons = stale(long_project)
    assert months(reasons, "minute") == ["2031-02", "2031-03"]


def test_a_changed_raw_file_is_named(long_project: Path) -> None:
    """Its content counts; its time of change alone does not."""
    raw = long_project.parent / "raw" / "beam_20310515.csv"
    os.utime(raw, (1, 1))
    assert stale(long_project) == {}
    raw.write_bytes(raw.read_bytes().rsplit(b"\n", 2)[0] + b"\n")
    reasons = stale(long_project)
    assert list(reasons) == ["voltage beam 2031-05", "minute 2031-05", *AGGREGATES]
    assert reasons["voltage beam 2031-05"] == ("raw file beam_20310515.csv: changed",)


def test_one_of_several_raw_files_vanishes(long_project: Path) -> None:
    """The month is made again without it."""
    small_project.write_raw(long_project.parent / "raw", ["2031-03-20"], ["main"], minutes=60)
    pretended.pretend(long_project)
    (long_project.parent / "raw" / "main_20310320.csv").unlink()
    reasons = stale(long_project)
    assert list(reasons) == ["voltage main 2031-03", "minute 2031-03", *AGGREGATES]
    assert reasons["minute 2031-03"] == ("raw file main_20310320.csv: gone",)


def test_a_month_without_raw_files_any_more_is_named(long_project: Path) -> None:
    """Its minutes stay published and are not in the year files; every plan says so again."""
    for logger in ("main", "beam"):
        (long_project.parent / "raw" / f"{logger}_20310515.csv").unlink()
    said = ("tst minute 2031-05: published, but no raw file bears on it any more",)
    assert prepare(long_project, Choice()).plan.remarks == said
    assert prepare(long_project, Choice()).plan.remarks == said
    reasons = stale(long_project)
    assert list(reasons) == AGGREGATES
    assert reasons["daily 2031"][0] == "minutes of 2031-05: gone"


def test_a_month_without_data_is_empty(long_project: Path) -> None:
    """Asked for by name, it is named; nothing else is planned."""
    plan = prepare(long_project, Choice(months=MonthRange(first="2031-11", last="2031-12"))).plan
    assert plan.units == ()
    assert plan.empty == ("tst 2031-11", "tst 2031-12")


def test_a_month_of_which_no_day_is_complete(long_project: Path) -> None:
    """It has raw data, but the run's date lies in its first day: said as it is."""
    edit(long_project, "workflow", lambda w: w.update(as_of="2031-05-01 12:00"))
    plan = prepare(long_project, Choice(months=MonthRange(first="2031-05", last="2031-05"))).plan
    assert plan.empty == ()
    assert plan.remarks[0] == "tst 2031-05: no day of it is complete at the run's date"


def test_months_asked_for_bring_only_the_voltages_they_read(long_project: Path) -> None:
    """One month in the middle: it reads hours beyond its ends, but no month beyond those."""
    other = Choice(
        months=MonthRange(first="2031-05", last="2031-05"), archive=long_project.parent / "other"
    )
    reasons = stale(long_project, other)
    assert months(reasons, "voltage main") == between("2031-04", "2031-06")
    assert months(reasons, "voltage beam") == between("2031-04", "2031-06")
    assert months(reasons, "minute") == ["2031-05"]
    assert [n for n in reasons if n.endswith("2031")] == AGGREGATES


def test_a_stale_month_not_asked_for_is_not_forgotten(long_project: Path) -> None:
    """A year file made from an old month is made again when that month is."""
    edit(
        long_project,
        "processing",
        lambda p: p.update(qc_flag={"stuck": {"least_irradiance": 8.0}}),
    )
    pretended.pretend(long_project, Choice(months=MonthRange(first="2031-05", last="2031-05")))
    reasons = stale(long_project)
    assert months(reasons, "minute") == [m for m in MONTHS if m != "2031-05"]
    assert [n for n in reasons if n.endswith("2031")] == AGGREGATES


def test_a_file_does_not_claim_the_months_between_its_labels(tmp_path: Path) -> None:
    """Two months in one file with nothing between them are two months, not six."""
    folder = tmp_path / "p"
    workflow = small_project.write_project(folder, ["2031-02-10", "2031-07-10"], minutes=60)
    for logger in small_project.LOGGERS:
        first, second = sorted((folder / "raw").glob(f"{logger}_*.csv"))
        first.write_text(first.read_text() + second.read_text().partition("\n")[2])
        second.unlink()
    plan = prepare(workflow, Choice()).plan
    assert [u.period for u in plan.units if u.kind == "minute"] == ["2031-02", "2031-07"]
    assert plan.empty == ()


def test_a_file_of_one_line_has_a_month(long_project: Path) -> None:
    """A month with a single reading is planned like any other."""
    small_project.write_raw(long_project.parent / "raw", ["2030-12-10"], ["main"], minutes=1)
    assert months(stale(long_project), "minute") == ["2030-12"]


def test_the_last_label_of_a_month_opens_no_month(tmp_path: Path) -> None:
    """Labels mark the end: one of 1 July 00:00 UTC belongs to June."""
    workflow = small_project.write_project(tmp_path / "p", ["2031-06-30"])
    plan = prepare(workflow, Choice()).plan
    assert [u.period for u in plan.units if u.kind == "minute"] == ["2031-06"]


def test_a_damaged_manifest_stales_its_file(long_project: Path) -> None:
    """A file that nothing vouches for is made again, with that reason."""
    path = long_project.parent / "archive/tst/minute/tst_minute_2031-05.nc.json"
    path.write_bytes(path.read_bytes()[:-40])
    assert stale(long_project)["minute 2031-05"] == ("its manifest is missing or damaged",)


def test_many_reasons_are_counted(long_project: Path) -> None:
    """At most five are spelled out."""
    days = [f"2031-03-{d}" for d in range(16, 24)]
    small_project.write_raw(long_project.parent / "raw", days, ["main"], minutes=5)
    words = stale(long_project)["minute 2031-03"]
    assert len(words) == 6
    assert words[-1] == "and 3 more"


def test_stages_end_where_the_workflow_says(long_project: Path, tmp_path: Path) -> None:
    """Without the flags there are voltages only; without aggregation no year files."""
    kinds = {}
    for last in (1, 4):
        stages = ["ingest", "calibrate", "time_correct", "qc_flag"][:last]
        edit(long_project, "workflow", lambda w, s=stages: w.update(stages=s))
        plan = prepare(long_project, Choice(archive=tmp_path / "other")).plan
        kinds[last] = {u.kind for u in plan.units}
    assert kinds == {1: {"voltage"}, 4: {"voltage", "minute"}}
