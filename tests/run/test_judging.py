"""Findings of a run: judged anew only where the numbers that they read have changed."""

from __future__ import annotations

import pickle
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import small_project
from sunledger.archive.findings_file import (
    FindingsFile,
    findings_path,
    read_findings,
    write_findings,
)
from sunledger.archive.manifest import checked_manifest, write_manifest
from sunledger.archive.verify import verify
from sunledger.config.models.workflow import MonthRange
from sunledger.run import diagnosing, judging
from sunledger.run.job import Choice, prepare, run
from sunledger.run.judging import judge

MONTH = "2031-06"
MONTHS = ("2031-06", "2031-07", "2031-08")
Judged = dict[str, list[str]]


def rerun(workflow: Path, choice: Choice | None = None) -> None:
    """Run once more; nothing may fail."""
    _, outcomes = run(workflow, choice or Choice(), lambda *_: None)
    assert not [o.error for o in outcomes if o.done == "failed"]


def station(workflow: Path) -> Path:
    """Folder of the station in the archive."""
    return workflow.parent / "archive" / "tst"


def findings(archive: Path) -> dict[str, bytes]:
    """Bytes of all files of findings."""
    files = sorted(archive.rglob("tst_findings_*"))
    return {p.name: p.read_bytes() for p in files if ".sunledger" not in p.parts}


def judged(workflow: Path, choice: Choice | None = None) -> Judged:
    """Run, and say of which months minutes were gone through, and which were judged anew."""
    seen: Counter[tuple[str, str]] = Counter()
    computes, compares = diagnosing.numbers_of, judging.compared

    def compute(month: Any) -> Any:
        seen["minutes", month.period] += 1
        return computes(month)

    def compare(month: Any, told: Any) -> Any:
        seen["series", month.period] += 1
        return compares(month, told)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(diagnosing, "numbers_of", compute)
        patch.setattr(judging, "compared", compare)
        rerun(workflow, choice)
    assert set(seen.values()) <= {1}
    return {what: sorted(m for w, m in seen if w == what) for what in ("minutes", "series")}


def test_every_month_has_its_findings(made: Path) -> None:
    """Named by the digest of the minutes they were made of; the archive stays sound."""
    file = read_findings(findings_path(station(made), MONTH))
    assert file.header["verdicts"]["evidence"]["clear_days"] <= 3
    assert findings_path(station(made), "2031-07").exists()
    assert verify(made.parent / "archive") == ()


def test_nothing_is_made_twice(project: Path) -> None:
    """A second run changes no file."""
    before = small_project.mtimes(project.parent / "archive")
    rerun(project)
    assert small_project.mtimes(project.parent / "archive") == before


def test_a_new_level_check_judges_its_months_anew(project: Path) -> None:
    """The record is read too, so that its entry changes the key; the bytes else stay."""
    before = read_findings(findings_path(station(project), MONTH))
    small_project.note(project, small_project.level("lc-2", "2031-06-30 06:00:00", 0.0))
    rerun(project)
    after = read_findings(findings_path(station(project), MONTH))
    assert after.header["key"] != before.header["key"]
    small_project.note(project, small_project.cleaning("cl-1", "2031-10-30 06:00:00"))
    rerun(project)
    assert read_findings(findings_path(station(project), MONTH)) == after


def test_later_months_read_the_days_since_the_last_check(project: Path) -> None:
    """June's days are read by July, until a check at the turn of the month parts them."""
    june, july = (findings_path(station(project), m) for m in (MONTH, "2031-07"))
    days = read_findings(june).header["closure"]
    assert days
    before = read_findings(july).header
    small_project.note(project, small_project.level("lc-2", "2031-06-30 23:00:00", 0.0))
    rerun(project)
    after = read_findings(july).header
    assert after["key"] != before["key"]
    assert after["closure"] == before["closure"]


def test_what_was_altered_or_removed_comes_back(project: Path) -> None:
    """An altered file and a lost table are found by verify and made again by the next run."""
    path = findings_path(station(project), MONTH)
    whole, table = path.read_bytes(), path.with_suffix(".csv").read_bytes()
    path.write_bytes(whole[:-5])
    path.with_suffix(".csv").unlink()
    assert {f.kind for f in verify(project.parent / "archive", content=False)} == {"altered"}
    rerun(project)
    assert (path.read_bytes(), path.with_suffix(".csv").read_bytes()) == (whole, table)


def test_the_manifest_holds_the_same_table(project: Path) -> None:
    """After a first run, after minutes made again, and after a diagnosis made again."""
    product = station(project) / "minute" / f"tst_minute_{MONTH}.nc"
    path = findings_path(station(project), MONTH)

    def agree() -> None:
        rows = read_findings(path).rows
        assert checked_manifest(product).findings == rows
        assert verify(project.parent / "archive", content=False) == ()

    agree()
    row = {"id": "x", "name": "level_step", "size": 0.5}
    header = read_findings(path).header
    write_findings(path, FindingsFile(header, (row,)))
    (fault,) = verify(project.parent / "archive", content=False)
    assert (fault.kind, fault.path) == ("contradiction", f"tst/minute/{product.name}.json")
    assert f"its findings are not those of {path.name}" in fault.why
    path.unlink()
    path.with_suffix(".csv").unlink()
    (fault,) = verify(project.parent / "archive", content=False)
    assert f"{path.name} is missing" in fault.why
    rerun(project)
    agree()
    bare = replace(checked_manifest(product), findings=None)
    write_manifest(product, bare)
    assert verify(project.parent / "archive", content=False) == ()
    rerun(project)
    agree()
    small_project.note(project, small_project.clock("ck-9", "main", "2031-06-30 12:00:00", 30.0))
    rerun(project)
    agree()


def test_a_month_that_fails_stops_no_other(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its cause is told; the other month is judged."""
    honest = judging.compared

    def moody(month: Any, told: Any) -> Any:
        if month.period == MONTH:
            raise RuntimeError("no mood")
        return honest(month, told)

    for month in (MONTH, "2031-07"):
        findings_path(station(project), month).unlink()
    monkeypatch.setattr(judging, "compared", moody)
    job = prepare(project, Choice())
    done = {o.unit: o for o in judge(job.context, job.plan.units)}
    assert done["tst findings 2031-06"].done == "failed"
    assert "RuntimeError: no mood" in done["tst findings 2031-06"].error
    assert done["tst findings 2031-07"].done == "written"


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A day in each of three months since the checks of February, run once; not to be changed."""
    folder = tmp_path_factory.mktemp("judging") / "project"
    stages = ["ingest", "calibrate", "time_correct", "qc_flag"]
    days = [f"{m}-15" for m in MONTHS]
    workflow = small_project.write_project(folder, days, stages=stages)
    assert judged(workflow) == {"minutes": list(MONTHS), "series": list(MONTHS)}
    files = [read_findings(findings_path(station(workflow), m)) for m in MONTHS]
    assert [len(file.header["closure"]) for file in files] == [1, 0, 0]
    return workflow


@pytest.fixture
def three(once: Path, tmp_path: Path) -> Path:
    """A copy of that project, free to be changed."""
    return small_project.copy_of(once, tmp_path / "project")


def afresh(workflow: Path, folder: Path) -> dict[str, bytes]:
    """Findings of a whole run into an empty archive."""
    rerun(workflow, Choice(archive=folder))
    return findings(folder)


def altered(workflow: Path, logger: str, change: Callable[[list[str]], list[str]]) -> None:
    """Change the columns of the raw lines of June."""
    path = workflow.parent / "raw" / small_project.raw_name(logger, "2031-06-15")
    first, *lines = path.read_text().splitlines()
    rows = [",".join(change(line.split(","))) for line in lines]
    path.write_text("\n".join([first, *rows, ""]))


def test_nothing_changed(three: Path) -> None:
    """No minutes are read and nothing is judged."""
    assert judged(three) == {"minutes": [], "series": []}


def test_changed_numbers_cost_later_months_no_minutes(three: Path, tmp_path: Path) -> None:
    """The direct of June rises by 1 %: later months are judged from numbers, as if afresh."""
    before = findings(station(three))
    altered(three, "beam", lambda c: [c[0], f"{float(c[1] or 0) * 1.01:.5f}", *c[2:]])
    assert judged(three) == {"minutes": ["2031-06"], "series": list(MONTHS)}
    after = findings(station(three))
    assert after == afresh(three, tmp_path / "afresh")
    assert {n for n in after if after[n] != before[n] and n.endswith("jsonl")} == {
        f"tst_findings_{m}.jsonl" for m in MONTHS
    }


def test_the_same_numbers_cost_later_months_nothing(three: Path, tmp_path: Path) -> None:
    """Another air temperature is in the minutes of June, and in nothing that July reads."""
    digest = read_findings(findings_path(station(three), MONTH)).header["minutes"]
    altered(three, "main", lambda c: [*c[:-1], f"{float(c[-1]) + 0.5:.5f}"])
    assert judged(three) == {"minutes": ["2031-06"], "series": ["2031-06"]}
    assert read_findings(findings_path(station(three), MONTH)).header["minutes"] != digest
    assert findings(station(three)) == afresh(three, tmp_path / "afresh")


def test_a_month_that_comes_late_and_one_that_goes(three: Path, tmp_path: Path) -> None:
    """May is added behind the others, June's raw files vanish: as if afresh in the end."""
    small_project.write_raw(three.parent / "raw", ["2031-05-15"])
    assert judged(three) == {"minutes": ["2031-05"], "series": ["2031-05", *MONTHS]}
    for logger in small_project.LOGGERS:
        (three.parent / "raw" / small_project.raw_name(logger, "2031-06-15")).unlink()
    assert judged(three) == {"minutes": [], "series": ["2031-07", "2031-08"]}
    left = findings(station(three))
    assert {n: b for n, b in left.items() if MONTH not in n} == afresh(three, tmp_path / "without")


def test_whatever_the_order(three: Path, tmp_path: Path) -> None:
    """Months run one by one, the last first, and at the end all: as if at once."""
    given = findings(station(three))
    archive = tmp_path / "one by one"
    for month in reversed(MONTHS):
        rerun(three, Choice(archive=archive, months=MonthRange(first=month, last=month)))
    assert judged(three, Choice(archive=archive)) == {"minutes": [], "series": list(MONTHS[1:])}
    assert findings(archive) == given


def test_kept_numbers_may_be_deleted(three: Path) -> None:
    """Then minutes are read again, where something is judged anew, and nowhere else."""
    before = findings(station(three))
    kept = sorted((three.parent / "archive").rglob("numbers/tst/*.piece"))
    assert [p.stem for p in kept] == list(MONTHS)
    for path in kept:
        path.unlink()
    assert judged(three) == {"minutes": [], "series": []}
    findings_path(station(three), MONTH).unlink()
    assert judged(three) == {"minutes": [MONTH], "series": [MONTH]}
    assert findings(station(three)) == before


def test_a_withdrawn_month_is_compared_with_none(three: Path) -> None:
    """Nobody should use it, so neither do the months behind it."""
    product = station(three) / "minute" / f"tst_minute_{MONTH}.nc"
    write_manifest(product, replace(checked_manifest(product), status="withdrawn"))
    assert judged(three) == {"minutes": [], "series": ["2031-07", "2031-08"]}
    august = Choice(months=MonthRange(first="2031-08", last="2031-08"))
    assert judged(three, august) == {"minutes": [], "series": []}


class Few:
    """Workers that are at hand, and count what they are given."""

    alone = False

    def __init__(self) -> None:
        self.given: list[tuple[str, int]] = []

    def each(self, function: Any, shared: Any, items: Any) -> list[Any]:
        """The last first, each from a copy as it would arrive elsewhere."""
        self.given.append((function.__name__, len(items)))
        made = [function(shared, pickle.loads(pickle.dumps(item))) for item in reversed(items)]
        return made[::-1]


@pytest.mark.parametrize("kept", [True, False], ids=["numbers kept", "numbers deleted"])
def test_workers_judge_the_same_in_any_order(
    three: Path, monkeypatch: pytest.MonkeyPatch, kept: bool
) -> None:
    """Numbers first where they lack, then the months, none of which waits for another."""
    monkeypatch.setattr(judging, "MANY", 3)
    monkeypatch.setattr(judging, "PART", 2)
    given, few, archive = findings(station(three)), Few(), three.parent / "archive"
    for path in [*station(three).glob("findings/*"), *archive.rglob("numbers/tst/*.piece")]:
        if path.parent.name == "findings" or not kept:
            path.unlink()
    job = prepare(three, Choice())
    outcomes = judge(job.context, job.plan.units, crew=few)
    assert [o.unit for o in outcomes] == [f"tst findings {month}" for month in MONTHS]
    assert {o.done for o in outcomes} == {"written"}
    assert few.given == [("_make_numbers", 0 if kept else 3), ("_all_judged", 2)]
    assert findings(station(three)) == given
    assert {o.done for o in judge(job.context, prepare(three, Choice()).plan.units, crew=few)} == {
        "unchanged"
    }
    assert len(few.given) == 2
