"""Findings made by workers: the same as made here, and only where many are stale."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from sunledger.run import judging
from sunledger.run.diagnosing import stale_findings
from sunledger.run.job import Choice, prepare, run
from sunledger.run.judging import MANY_FINDINGS, judge


def findings(archive: Path) -> dict[str, bytes]:
    """Bytes of all files of findings."""
    return {
        str(p.relative_to(archive)): p.read_bytes()
        for p in archive.rglob("*findings*")
        if p.is_file()
    }


def test_stale_is_decided_without_making(project: Path) -> None:
    """None after a run; a file that was taken away counts, and is not made by asking."""
    job = prepare(project, Choice())
    assert stale_findings(job.context, job.plan.units) == {}
    gone = next((project.parent / "archive").rglob("*findings*2031-06.csv"))
    gone.unlink()
    assert stale_findings(job.context, job.plan.units) == {"tst": 1}
    assert not gone.exists()


@pytest.mark.slow
def test_a_cluster_makes_the_same(project: Path) -> None:
    """Byte for byte what was made in the run's own process."""
    archive = project.parent / "archive"
    before = findings(archive)
    assert len(before) == 4
    for name in before:
        (archive / name).unlink()
    job = prepare(project, Choice())
    outcomes = judging.diagnose_on_cluster(job.context, job.plan.units, 2, None)
    assert [(o.unit, o.done) for o in outcomes] == [
        ("tst findings 2031-06", "written"),
        ("tst findings 2031-07", "written"),
    ]
    assert findings(archive) == before


@pytest.mark.parametrize(
    ("stale", "workers", "scheduler", "where"),
    [
        ({"a": MANY_FINDINGS - 1, "b": 1}, 2, None, ["a", "b"]),
        ({"a": MANY_FINDINGS - 1, "b": 1}, 1, "tcp://x:1", ["a", "b"]),
        ({"a": MANY_FINDINGS - 1, "b": 1}, 1, None, "here"),
        ({"a": MANY_FINDINGS - 2, "b": 1}, 2, None, "here"),
        ({"a": 10 * MANY_FINDINGS}, 2, None, "here"),
    ],
    ids=["workers", "scheduler", "one worker", "few", "one station"],
)
def test_where(
    project: Path,
    monkeypatch: pytest.MonkeyPatch,
    stale: Any,
    workers: int,
    scheduler: Any,
    where: Any,
) -> None:
    """Workers get the stations with a stale month, when there are several and much to do."""
    job = prepare(project, Choice())
    units = [replace(job.plan.units[0], station=s) for s in ("a", "b", "fresh")]
    monkeypatch.setattr(judging, "stale_findings", lambda *_: Counter(stale))
    monkeypatch.setattr(judging, "diagnose", lambda *_: "here")
    monkeypatch.setattr(
        judging, "diagnose_on_cluster", lambda _, mine, *__: [u.station for u in mine]
    )
    assert judge(job.context, units, workers, scheduler) == where


def test_a_run_judges(project: Path) -> None:
    """What was taken away is there again after a run in which no unit was stale."""
    archive = project.parent / "archive"
    before = findings(archive)
    for name in before:
        (archive / name).unlink()
    _, outcomes = run(project, Choice(workers=2), lambda *_: None)
    assert {o.done for o in outcomes} == {"unchanged"}
    assert findings(archive) == before
