"""A whole job: only what changed is made, versions and the record, the lock, what is refused."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import xarray as xr

import pretended
import small_project
from small_project import edit, mtimes, note, products
from sunledger.archive.change_pages import write_change_pages
from sunledger.archive.changes import read_record
from sunledger.archive.digest import logical_digest
from sunledger.config.models.workflow import MonthRange
from sunledger.errors import ArchiveError, ConfigError
from sunledger.run import engine, job
from sunledger.run.job import Choice, check, newest_reading, prepare, run
from sunledger.run.lock import archive_lock
from sunledger.run.publish import Outcome

UP_TO_FLAGS = ["ingest", "calibrate", "time_correct", "qc_flag"]
ISSUED = "1951257600"  # 2031-11-01 00:00 UTC, on which the whole project was made
JUNE = Choice(months=MonthRange(first="2031-06", last="2031-06"))


def quiet(*_: Any) -> None:
    """Progress that nobody watches."""


def done(outcomes: list[Outcome]) -> dict[str, str]:
    """Name without the station → what became of it."""
    return {o.unit.partition(" ")[2]: o.done for o in outcomes}


def counted(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the units that the engine makes from now on, in the order made."""
    made: list[str] = []
    real = engine._of_group

    def count(context: Any, group: Any, *more: Any) -> Any:
        made.extend(unit.name.partition(" ")[2] for unit in group)
        return real(context, group, *more)

    monkeypatch.setattr(engine, "_of_group", count)
    return made


def test_pages_of_changes_follow_an_interrupted_run(
    project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was written until then stands in them: no later run would have a reason to look."""
    folder = project.parent / "archive" / "tst"
    before = (folder / "CHANGES.txt").read_text()

    def interrupt(*_: Any) -> None:
        raise KeyboardInterrupt

    note(project, small_project.cleaning("cl-i", "2031-06-10 10:30"))
    with monkeypatch.context() as patch:
        patch.setattr(job, "judge", interrupt)
        with pytest.raises(KeyboardInterrupt):
            run(project, Choice(), quiet)
    pages = {name: (folder / name).read_bytes() for name in ("CHANGES.txt", "changes.csv")}
    assert pages["CHANGES.txt"].decode() != before
    write_change_pages(folder)
    assert pages == {name: (folder / name).read_bytes() for name in pages}
    _, outcomes = run(project, Choice(), quiet)
    assert set(done(outcomes).values()) == {"unchanged"}


def test_nothing_changed_nothing_made(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second run executes no unit and touches no file."""
    before, made = mtimes(project.parent / "archive"), counted(monkeypatch)
    planned, outcomes = run(project, Choice(), quiet)
    assert made == []
    assert planned.plan.stale() == ()
    assert set(done(outcomes).values()) == {"unchanged"}
    assert mtimes(project.parent / "archive") == before


@dataclass(frozen=True)
class Noted:
    """A project after a note in June, and what it was before."""

    workflow: Path
    executed: list[str]
    outcomes: list[Outcome]
    old: dict[str, bytes]
    old_times: dict[str, int]

    @property
    def archive(self) -> Path:
        """Its archive."""
        return self.workflow.parent / "archive"

    @property
    def record(self) -> Path:
        """Its change record."""
        return self.archive / "tst" / "changes.jsonl"


@pytest.fixture(scope="module")
def noted(made: Path, tmp_path_factory: pytest.TempPathFactory) -> Noted:
    """The small project after a cleaning in June was noted and run; not to be changed."""
    workflow = small_project.copy_of(made, tmp_path_factory.mktemp("noted") / "project")
    archive = workflow.parent / "archive"
    old, old_times = products(archive), mtimes(archive)
    note(workflow, small_project.cleaning("cl-9", "2031-06-29 12:00"))
    with pytest.MonkeyPatch.context() as patch:
        executed = counted(patch)
        _, outcomes = run(workflow, Choice(), quiet)
    return Noted(workflow, executed, outcomes, old, old_times)


def test_a_note_executes_its_month_only(noted: Noted) -> None:
    """Executions counted; files of the other month keep their time of change."""
    monthly = ["voltage main 2031-06", "voltage beam 2031-06", "minute 2031-06"]
    assert noted.executed == [*monthly, "hourly 2031", "daily 2031", "monthly 2031"]
    july = {n: t for n, t in noted.old_times.items() if "2031-07" in n}
    assert len(july) == 8  # findings and their table among them
    assert {n: t for n, t in mtimes(noted.archive).items() if n in july} == july


def test_a_note_makes_a_second_version(noted: Noted) -> None:
    """The old file and manifest stay in superseded/; the record names the cause."""
    assert {o.version for o in noted.outcomes if o.unit[4:] in noted.executed} == {2}
    new = products(noted.archive)
    for end in ("nc", "nc.json"):
        kept = f"tst/minute/superseded/tst_minute_2031-06_v1.{end}"
        assert new[kept] == noted.old[f"tst/minute/tst_minute_2031-06.{end}"]
    last = [e for e in read_record(noted.record).entries if e.product == "minute"][-1]
    assert (last.period, last.version, last.action) == ("2031-06", 2, "revised")
    assert "conditions: new maintenance global_1 cl-9" in last.cause


def test_a_rebuild_with_the_record_gives_the_same_bytes(noted: Noted, tmp_path: Path) -> None:
    """Raw files, configuration and change record are all it takes; nothing is added to them."""
    (tmp_path / "tst").mkdir()
    (tmp_path / "tst" / "changes.jsonl").write_bytes(noted.record.read_bytes())
    run(noted.workflow, Choice(archive=tmp_path), quiet)
    current = {n: b for n, b in products(noted.archive).items() if "superseded" not in n}
    assert products(tmp_path) == current
    assert (tmp_path / "tst" / "changes.jsonl").read_bytes() == noted.record.read_bytes()


def test_a_rebuild_without_the_record_says_the_same(noted: Noted, tmp_path: Path) -> None:
    """Another version, the same logical digest."""
    workflow = small_project.copy_of(noted.workflow, tmp_path / "project")
    edit(workflow, "workflow", lambda w: w.update(stages=UP_TO_FLAGS))
    run(workflow, Choice(months=JUNE.months, archive=tmp_path / "without"), quiet)
    name = "tst/minute/tst_minute_2031-06.nc"
    again = tmp_path / "without" / name
    assert logical_digest(again) == logical_digest(noted.archive / name)
    assert again.read_bytes() != (noted.archive / name).read_bytes()  # version 1, not 2


def test_a_setting_no_stage_read_is_not_in_a_file(project: Path, tmp_path: Path) -> None:
    """After a change of aggregation, voltages and minutes of a rebuild are still the old bytes."""
    archive = project.parent / "archive"
    edit(project, "processing", lambda p: p.update(aggregate={"least_share_hourly": 0.25}))
    edit(project, "workflow", lambda w: w.update(stages=UP_TO_FLAGS))
    run(project, Choice(months=JUNE.months, archive=tmp_path / "again"), quiet)
    old = products(archive)
    assert {n: old[n] for n in products(tmp_path / "again")} == products(tmp_path / "again")


def test_an_open_month_closes(project: Path, made: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Open: no version, to the last complete day, in no year file. Closed: an extension.

    In the end the archive says what the one says that was made at once; byte for byte where its
    change record is the same.
    """
    monkeypatch.setenv("SOURCE_DATE_EPOCH", ISSUED)
    step_by_step = project.parent / "steps"
    edit(project, "workflow", lambda w: w.update(as_of="2031-07-02 06:00"))
    _, outcomes = run(project, Choice(archive=step_by_step), quiet)
    july = next(o for o in outcomes if o.unit == "tst minute 2031-07")
    assert (july.status, july.version, july.accounting["minutes"]) == ("open", 0, 1440)
    minute = step_by_step / "tst/minute/tst_minute_2031-07.nc"
    with xr.open_dataset(minute) as ds:
        assert str(ds["time"].values[-1]) == "2031-07-01T23:59:00.000000000"
    with xr.open_dataset(step_by_step / "tst/daily/tst_daily_2031.nc") as ds:
        assert set(ds["time"].dt.month.values) == {6}
    record = step_by_step / "tst" / "changes.jsonl"
    assert "2031-07" not in record.read_text()

    edit(project, "workflow", lambda w: w.update(as_of="2031-11-01"))
    planned, _ = run(project, Choice(archive=step_by_step), quiet)
    reasons = {u.name[4:]: u.reasons for u in planned.plan.stale()}
    assert "status: open -> provisional" in reasons["minute 2031-07"]
    assert "status: open -> provisional" in reasons["voltage beam 2031-07"]
    assert "voltage beam 2031-06" not in reasons
    assert reasons["daily 2031"] == ("minutes of 2031-07: new",)
    daily = [e for e in read_record(record).entries if e.product == "daily"]
    assert [(e.version, e.action) for e in daily] == [(1, "created"), (1, "extended")]
    other = made.parent / "archive"
    assert products(step_by_step).keys() == products(other).keys()
    for name in products(other):
        if "2031-06" in name:
            assert (step_by_step / name).read_bytes() == (other / name).read_bytes()
        elif name.endswith(".nc"):
            assert logical_digest(step_by_step / name) == logical_digest(other / name)


@pytest.mark.slow
def test_two_workers_give_the_bytes_of_one(project: Path, made: Path) -> None:
    """Manifests and change record are the same too, whatever order the units came in."""
    other = project.parent / "other"
    _, outcomes = run(project, Choice(archive=other, workers=2), quiet)
    assert list(done(outcomes)) == [u.name[4:] for u in prepare(project, Choice()).plan.units]
    assert set(done(outcomes).values()) == {"written"}
    assert products(other) == products(made.parent / "archive")
    lines = [
        (a / "tst/changes.jsonl").read_text().splitlines() for a in (other, made.parent / "archive")
    ]
    assert sorted(lines[0]) == sorted(lines[1])


def test_a_finished_review_restates(project: Path) -> None:
    """Status follows the review at once; same version, same values, said in the record."""
    edit(project, "workflow", lambda w: w.update(stages=["ingest"]))
    later = [small_project.clock(f"ck-{n}-2", n, "2031-10-20", 0.0) for n in small_project.LOGGERS]
    note(project, *later)
    edit(project, "station/review", lambda r: r.update(waived_certificates=["2031-06"]))
    run(project, JUNE, quiet)
    edit(project, "station/review", lambda r: r.update(finished_months=["2031-06"]))
    planned, outcomes = run(project, JUNE, quiet)
    june = [o for o in outcomes if o.unit.endswith("2031-06")]
    assert {(o.status, o.version) for o in june} == {("final", 2)}
    assert {u.reasons for u in planned.plan.stale()} == {("status: provisional -> final",)}
    record = read_record(project.parent / "archive/tst/changes.jsonl").entries
    assert (record[-1].action, record[-1].status) == ("restated", "final")


def test_a_second_run_is_refused_before_it_plans(project: Path) -> None:
    """The refusal comes from run itself, and nothing is made."""
    note(project, small_project.cleaning("cl-9", "2031-06-29 12:00"))
    before = mtimes(project.parent / "archive")
    with archive_lock(project.parent / "archive"), pytest.raises(ArchiveError, match="holds it"):
        run(project, Choice(), quiet)
    assert mtimes(project.parent / "archive") == before


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda w: w.update(raw="nowhere"), "raw: no such folder"),
        (lambda w: w.update(months={"first": "2031-13", "last": "2031-13"}), "months"),
        (lambda w: w.update(stations=["nowhere"]), "nowhere"),
    ],
    ids=["raw", "months", "station"],
)
def test_a_wrong_workflow_is_refused(project: Path, change: Any, words: str) -> None:
    """The file and the entry are named."""
    edit(project, "workflow", change)
    with pytest.raises(ConfigError, match=words) as caught:
        check(project)
    assert caught.value.faults[0].severity == "error"


def test_an_unknown_station_is_refused(project: Path) -> None:
    """The known ones are listed."""
    with pytest.raises(ConfigError, match=r"stations: no such station; allowed: tst \(got xyz\)"):
        prepare(project, Choice(stations=("xyz", "tst")))


def test_now_is_the_newest_reading(project: Path) -> None:
    """Without as_of: the newest label, freed of the zone."""
    edit(project, "workflow", lambda w: w.pop("as_of"))
    planned = prepare(project, Choice())
    assert planned.context.as_of == 1940716800  # 2031-07-02 00:00 UTC: labels mark the end
    assert planned.context.issued == "2031-07-02"


def test_now_without_any_reading(project: Path) -> None:
    """No raw file: nothing to do, and the beginning of time."""
    loaded, _ = check(project)
    empty = {"tst": {name: job.FileIndex() for name in small_project.LOGGERS}}
    assert newest_reading(loaded, empty) == 0


def test_files_of_nobody_are_named(project: Path) -> None:
    """A file that matches no logger, and one that is no table."""
    raw = project.parent / "raw"
    (raw / "stranger.txt").write_text("?")
    (raw / "main_x.csv").write_bytes(bytes(range(256)) * 20)
    problems = prepare(project, Choice()).raw_problems
    assert [p.split(":")[0] for p in problems] == ["main_x.csv", "stranger.txt"]
    assert "matches no logger" in problems[1]


def test_an_index_is_kept_between_runs(long_project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second plan opens no raw file."""
    from sunledger.run import file_index

    def opened(*_: Any) -> None:
        pytest.fail("a raw file was opened")

    monkeypatch.setattr(file_index, "read_file", opened)
    assert pretended.stale(long_project) == {}
    index = json.loads(
        (long_project.parent / "archive/.sunledger/index_tst_main.json").read_text("utf-8")
    )
    assert len(index["files"]) == len(pretended.MONTHS)
