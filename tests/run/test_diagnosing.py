"""Numbers of a month: from its minutes once, then from what was kept."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import small_project
from sunledger.archive.findings_file import FindingsFile, findings_path, write_findings
from sunledger.archive.minute_series import read_minutes
from sunledger.config.resolve import resolve_period
from sunledger.run import diagnosing
from sunledger.run.beside_components import beside_of, names_beside
from sunledger.run.diagnosing import (
    Minutes,
    components_of,
    diagnosable,
    finding_words,
    kept_numbers,
    make_numbers,
    names_of_components,
    numbers_key,
    resolved_month,
)
from sunledger.run.job import Choice, Job, prepare
from sunledger.run.months import month_bounds
from sunledger.vocabulary import CONDITIONS

MONTH = "2031-06"


def station(workflow: Path) -> Path:
    """Folder of the station in the archive."""
    return workflow.parent / "archive" / "tst"


def june(workflow: Path) -> tuple[Job, Minutes]:
    """The job and its first month."""
    job = prepare(workflow, Choice())
    return job, next(diagnosable(job.context, job.plan.units))


def key_of(job: Job, minutes: Minutes) -> str:
    """Key of the month's numbers."""
    return numbers_key(job.context, minutes, resolved_month(job.context, minutes))


def test_numbers_are_kept_to_the_last_bit(project: Path) -> None:
    """As they were made; under another key, damaged or deleted, they count as missing."""
    job, minutes = june(project)
    period = resolved_month(job.context, minutes)
    key = numbers_key(job.context, minutes, period)
    made = make_numbers(job.context, minutes, period, key)
    kept = kept_numbers(job.context, minutes, key)
    assert kept is not None
    assert (kept.means, kept.span, kept.told) == (made.means, made.span, made.told)
    for name, value in vars(made.moments).items():
        assert np.array_equal(value, getattr(kept.moments, name))
    assert np.array_equal(made.leans.plain, kept.leans.plain)
    assert kept_numbers(job.context, minutes, "another") is None
    (path,) = (project.parent / "archive").rglob(f"numbers/tst/{MONTH}.piece")
    path.write_bytes(path.read_bytes()[:-1])
    assert kept_numbers(job.context, minutes, key) is None
    path.unlink()
    assert kept_numbers(job.context, minutes, key) is None


def test_the_key_follows_minutes_record_and_checks(
    project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cleaning of the month changes it, one of another month does not."""
    job, minutes = june(project)
    key = key_of(job, minutes)
    assert key_of(job, minutes) == key
    assert key_of(job, replace(minutes, digest="x")) != key
    small_project.note(project, small_project.cleaning("cl-1", "2031-10-30 06:00:00"))
    assert key_of(june(project)[0], minutes) == key
    small_project.note(project, small_project.cleaning("cl-2", "2031-06-30 06:00:00"))
    assert key_of(june(project)[0], minutes) != key
    monkeypatch.setattr(diagnosing, "VERSION", -1)
    assert key_of(job, minutes) != key


def test_months_without_a_file_are_not_judged(long_made: Path) -> None:
    """Nor those whose file is stale, nor other products."""
    job = prepare(long_made, Choice())
    stale = [u.name for u in job.plan.stale()]
    judged = [m.period for m in diagnosable(job.context, job.plan.units)]
    assert not {f"tst minute {month}" for month in judged} & set(stale)


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


def test_the_series_that_are_read_are_all_that_count(made: Path) -> None:
    """Components and what lies beside them are the same from a tenth of the file."""
    job = prepare(made, Choice())
    period = resolve_period(job.context.stations[0], job.context.processing, *month_bounds(MONTH))
    path = station(made) / "minute" / f"tst_minute_{MONTH}.nc"
    whole = read_minutes(path)
    part = read_minutes(path, only=names_of_components(period) | names_beside())
    assert len(part.data_vars) < len(whole.data_vars) / 2
    a, b = (vars(components_of(ds, period)) for ds in (whole, part))
    for name, values in a.items():
        np.testing.assert_array_equal(values, b[name])
    a, b = (vars(beside_of(ds, period)) for ds in (whole, part))
    assert a["flagged"].keys() == b["flagged"].keys()
    for test, minutes in a["flagged"].items():
        np.testing.assert_array_equal(minutes, b["flagged"][test])
    np.testing.assert_array_equal(a["net_longwave"], b["net_longwave"])
    np.testing.assert_array_equal(a["rate"], b["rate"])
