"""Findings of a run: made after the minutes, again only when what they read changed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import small_project
from sunledger.archive.digest import json_digest
from sunledger.archive.findings_file import (
    FindingsFile,
    findings_path,
    read_findings,
    write_findings,
)
from sunledger.archive.manifest import checked_manifest, write_manifest
from sunledger.archive.products import read_minutes
from sunledger.archive.verify import verify
from sunledger.config.resolve import resolve_period
from sunledger.run.diagnosing import (
    MONTHS_BACK,
    components_of,
    diagnosable,
    diagnose,
    earlier_days,
    earlier_verdicts,
    finding_words,
)
from sunledger.run.job import Choice, prepare, run
from sunledger.run.months import month_bounds
from sunledger.vocabulary import CONDITIONS

MONTH = "2031-06"


def rerun(workflow: Path) -> None:
    """Run once more; nothing may fail."""
    _, outcomes = run(workflow, Choice(), lambda *_: None)
    assert not [o for o in outcomes if o.done == "failed"]


def station(workflow: Path) -> Path:
    """Folder of the station in the archive."""
    return workflow.parent / "archive" / "tst"


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
    start, end = month_bounds("2031-07")
    assert days
    whole, (digest,) = earlier_days(station(project), start - 40 * 86400, start)
    assert (whole, digest) == (days, json_digest(days))
    assert earlier_days(station(project), int(days[-1][1]), start)[0] == days[-1:]
    assert earlier_days(station(project), start, start) == ([], [])
    before = read_findings(july).header
    small_project.note(project, small_project.level("lc-2", "2031-06-30 23:00:00", 0.0))
    rerun(project)
    after = read_findings(july).header
    assert after["key"] != before["key"]
    assert after["closure"] == before["closure"]
    assert end > start


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
    import sunledger.run.diagnosing as module

    honest = module.diagnosed

    def moody(month):
        if month.period == MONTH:
            raise RuntimeError("no mood")
        return honest(month)

    for month in (MONTH, "2031-07"):
        findings_path(station(project), month).unlink()
    monkeypatch.setattr(module, "diagnosed", moody)
    job = prepare(project, Choice())
    done = {o.unit: o for o in diagnose(job.context, job.plan.units)}
    assert done["tst findings 2031-06"].done == "failed"
    assert "RuntimeError: no mood" in done["tst findings 2031-06"].error
    assert done["tst findings 2031-07"].done == "written"


def test_months_without_a_file_are_not_judged(long_made: Path) -> None:
    """Nor those whose file is stale, nor other products."""
    job = prepare(long_made, Choice())
    stale = [u.name for u in job.plan.stale()]
    judged = [u.name for u, _ in diagnosable(job.context, job.plan.units)]
    assert not set(judged) & set(stale)
    assert all(" minute " in name for name in judged)


def test_findings_are_told_in_words(tmp_path: Path, made: Path) -> None:
    """Size, interval and action; a month without a file says nothing."""
    context = prepare(made, Choice(archive=tmp_path)).context
    row = {"id": "tst-x", "size": 0.5, "lower": 0.25, "upper": 0.75, "unit": "degree"}
    row["action"] = "level it"
    path = findings_path(tmp_path / "tst", MONTH)
    write_findings(path, FindingsFile({"period": MONTH}, (row,)))
    assert finding_words(context, "tst", [MONTH, "2031-07"]) == [
        "  finding tst-x: 0.5 degree, 0.25 to 0.75; level it"
    ]


def test_disturbed_minutes_and_clocks_apart_are_not_usable(made: Path) -> None:
    """Maintenance of one quantity, and residuals more than ten seconds apart."""
    job = prepare(made, Choice())
    period = resolve_period(job.context.stations[0], job.context.processing, *month_bounds(MONTH))
    first = int(np.datetime64("2031-06-29", "s").astype(np.int64))
    ds = read_minutes(station(made) / "minute" / f"tst_minute_{MONTH}.nc")
    ds = ds.sel(time=slice(first, None))
    assert components_of(ds, period).usable.mean() > 0.99
    ds["dhi_conditions"].values[5] |= CONDITIONS["maintenance"].mask
    ds["clock_residual_main"].values[7] = 20.0
    parts = components_of(ds, period)
    assert not parts.usable[[5, 7]].any()
    month = parts.middle - first
    assert month[7] - month[6] == 80.0  # the true middle follows the residual


def test_a_month_is_compared_with_those_before_it(tmp_path: Path) -> None:
    """Only what its checks compare is read, in order of months; broken files are passed over."""
    folder = tmp_path / "tst"
    told = {"nights": {"ghi": {"nights": 9}, "verdict": "x"}, "evidence": {"clear_days": 3}}
    for month in ("2030-12", "2031-01", "2031-02", "2027-01"):
        write_findings(findings_path(folder, month), FindingsFile({"verdicts": told}))
    findings_path(folder, "2031-01").write_text("broken")
    assert MONTHS_BACK == 36
    assert earlier_verdicts(folder, "2031-02") == {"2030-12": {"nights": {"ghi": {"nights": 9}}}}
    assert list(earlier_verdicts(folder, "2031-03")) == ["2030-12", "2031-02"]
    assert earlier_verdicts(folder, "2027-01") == {}


def test_a_later_month_is_judged_anew_where_an_earlier_one_changed(project: Path) -> None:
    """July reads June's verdicts; what follows from June alone changes its key, once."""
    june, july = (findings_path(station(project), m) for m in (MONTH, "2031-07"))
    key = read_findings(july).header["key"]
    file = read_findings(june)
    verdicts = {**file.header["verdicts"], "nights": {"ghi": {"nights": 30}}}
    job = prepare(project, Choice())
    write_findings(june, FindingsFile({**file.header, "verdicts": verdicts}, file.rows))
    done = {o.unit: o.done for o in diagnose(job.context, reversed(job.plan.units))}
    assert done == {"tst findings 2031-06": "unchanged", "tst findings 2031-07": "written"}
    assert read_findings(july).header["key"] != key
