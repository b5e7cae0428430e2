"""Voltage units that share large files: brought together, read once, the same files made."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import small_project
from sunledger.archive.digest import file_sha256
from sunledger.config.models.workflow import MonthRange
from sunledger.run import engine, groups
from sunledger.run.groups import grouped
from sunledger.run.guarding import published
from sunledger.run.job import Choice, prepare, run
from sunledger.run.unit import FileShare, Unit
from sunledger.stages import streams

MONTHS = ("2031-03", "2031-04", "2031-05", "2031-06")


def quiet(*_: object) -> None:
    """Progress that nobody watches."""


def _unit(month: str, *files: tuple[str, int], logger: str = "main", kind: str = "voltage") -> Unit:
    shares = tuple(FileShare(name, 10, 0, months) for name, months in files)
    return Unit(kind, "tst", kind, month, "", {}, logger=logger, shares=shares)  # type: ignore[arg-type]


def test_what_goes_together() -> None:
    """Large files of one logger, also where one file after the other links them."""
    a = [_unit(m, ("grown", 5)) for m in MONTHS]
    small = _unit("2031-07", ("day", 2))
    other = _unit("2031-03", ("grown", 5), logger="beam")
    minute = _unit("2031-03", kind="minute")
    assert grouped([a[0], small, a[1], other, a[2], minute, a[3]]) == [
        tuple(a), (small,), (other,), (minute,),
    ]  # fmt: skip
    linked = [
        _unit("2031-01", ("x", 3)),
        _unit("2031-02", ("y", 3)),
        _unit("2031-03", ("x", 3), ("y", 3), ("z", 1)),
        _unit("2031-04", ("y", 3)),
    ]
    assert [sorted(u.period for u in group) for group in grouped(linked)] == [
        [u.period for u in linked]
    ]
    assert grouped([]) == []
    pair = [_unit("2031-07", ("x", 2)), _unit("2031-08", ("x", 2))]
    assert grouped(pair) == [(pair[0],), (pair[1],)]
    assert grouped(pair, groups.ANY) == [tuple(pair)]
    still_open = replace(pair[1], settings={"status": "open"})
    assert grouped([pair[0], still_open], groups.ANY) == [(pair[0],), (still_open,)]


@pytest.fixture
def growing_project(tmp_path: Path) -> Path:
    """Every logger's days of four months in one file each."""
    days = [f"{month}-{day}" for month in MONTHS for day in (10, 11)]
    workflow = small_project.write_project(tmp_path / "grown", days, minutes=720)
    raw = workflow.parent / "raw"
    for logger in ("main", "beam"):
        parts = sorted(raw.glob(f"{logger}_*.csv"))
        texts = [p.read_text(encoding="utf-8") for p in parts]
        whole = texts[0] + "".join(t.split("\n", 1)[1] for t in texts[1:])
        for part in parts:
            part.unlink()
        (raw / f"{logger}_grown.csv").write_text(whole, encoding="utf-8")
    small_project.edit(workflow, "workflow", lambda w: w.update(stages=["ingest"]))
    return workflow


def _opens(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    opened: list[str] = []
    checked = streams.checked_path

    def counting(path: Path, root: Path) -> Path:
        opened.append(path.name)
        return checked(path, root)

    monkeypatch.setattr(streams, "checked_path", counting)
    return opened


def _digests(archive: Path) -> dict[str, str]:
    return {p.name: file_sha256(p) for p in sorted(archive.rglob("*.nc"))}


def test_each_file_is_opened_once(growing_project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Once by the index because it is new, once for all its months; then not at all."""
    opened = _opens(monkeypatch)
    prepare(growing_project, Choice())
    assert sorted(opened) == ["beam_grown.csv", "main_grown.csv"]
    opened.clear()
    _, outcomes = run(growing_project, Choice(), quiet)
    assert sorted(opened) == ["beam_grown.csv", "main_grown.csv"]
    names = [f"tst voltage {g} {m}" for g in ("main", "beam") for m in MONTHS]
    assert {o.unit: o.done for o in outcomes} == dict.fromkeys(names, "written")
    assert {o.accounting["kept"] for o in outcomes} == {1440}
    opened.clear()
    assert prepare(growing_project, Choice()).plan.stale() == ()
    assert opened == []


def test_only_files_that_bear_on_the_months_are_opened(
    growing_project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file of other months is known by the index and left closed."""
    raw = growing_project.parent / "raw"
    small_project.write_raw(raw, ["2031-09-10"], ["main"], minutes=60)
    prepare(growing_project, Choice())
    opened = _opens(monkeypatch)
    only = Choice(months=MonthRange(first="2031-03", last="2031-06"))
    run(growing_project, only, quiet)
    assert sorted(opened) == ["beam_grown.csv", "main_grown.csv"]


def test_the_same_files_as_month_by_month(
    growing_project: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Byte for byte, in this process and on a cluster."""
    run(growing_project, Choice(archive=tmp_path / "a"), quiet)
    run(growing_project, Choice(archive=tmp_path / "c", workers=2), quiet)
    monkeypatch.setattr(engine, "grouped", lambda units, large: [(u,) for u in units])
    run(growing_project, Choice(archive=tmp_path / "b", workers=1), quiet)
    assert len(_digests(tmp_path / "a")) == 8
    assert _digests(tmp_path / "a") == _digests(tmp_path / "b") == _digests(tmp_path / "c")


def test_what_changes_while_it_is_read_fails(growing_project: Path) -> None:
    """Months given before are there; the others are named with the reason."""
    job = prepare(growing_project, Choice())
    raw = growing_project.parent / "raw" / "main_grown.csv"
    lines = raw.read_text(encoding="utf-8").splitlines(keepends=True)
    raw.write_text("".join(lines[: len(lines) // 2 + 1]), encoding="utf-8")
    units = [u for u in job.plan.units if u.logger == "main"]
    outcomes = [published(ready) for ready in groups.run_group(job.context, units)]
    assert [o.unit for o in outcomes] == [u.name for u in units]
    assert [o.done for o in outcomes] == ["written", "written", "failed", "failed"]
    assert "has changed since it was indexed" in outcomes[3].error


def test_months_of_small_files_are_tried_by_themselves(
    growing_project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What cannot be read together is read month by month, where files are no larger than that."""
    job = prepare(growing_project, Choice())
    units = [u for u in job.plan.units if u.logger == "main"]

    def refusing(*_: Any) -> Any:
        raise OSError("gone")

    monkeypatch.setattr(groups, "ingest_growing", refusing)
    together = [published(ready) for ready in groups.run_group(job.context, units)]
    assert {(o.done, o.error) for o in together} == {("failed", "gone")}
    small = [replace(u, shares=tuple(replace(s, months=2) for s in u.shares)) for u in units]
    alone = [published(ready) for ready in groups.run_group(job.context, small)]
    assert [(o.unit, o.done) for o in alone] == [(u.name, "written") for u in units]


@pytest.mark.parametrize("step", ["forget_days", "ready_voltage"])
def test_one_month_that_fails_stops_no_other(
    growing_project: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    """Its error is in its own outcome, whatever part of its making fails."""
    real = getattr(groups, step)

    def refusing(context: Any, unit: Unit, *readings: Any) -> Any:
        if unit.period == "2031-04":
            raise OSError("no space left")
        return real(context, unit, *readings)

    monkeypatch.setattr(groups, step, refusing)
    _, outcomes = run(growing_project, Choice(workers=1), quiet)
    failed = {o.unit: o.error for o in outcomes if o.done == "failed"}
    assert failed == {f"tst voltage {g} 2031-04": "no space left" for g in ("main", "beam")}
    assert {o.done for o in outcomes if "04" not in o.unit} == {"written"}
