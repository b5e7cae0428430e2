"""The open month: a new day reads and makes that day and its halo, and the file is the same."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

import rich_project
import small_project
from sunledger.run import days, minutes
from sunledger.run.job import Choice, prepare, run
from sunledger.run.keys import HALO
from sunledger.stages import ingest as ingest_stage

DAY = 86400
FIRST = 1939766400  # 2031-06-21 00:00 UTC
DAYS = tuple(f"2031-06-{n}" for n in range(21, 28))


def open_until(workflow: Path, day: int) -> None:
    """Now is the end of a day."""
    small_project.edit(workflow, "workflow", lambda w: w.update(as_of=f"2031-06-{day + 1}"))


@dataclass
class Seen:
    """What a run read and made."""

    files: list[str] = field(default_factory=list)
    days: list[int] = field(default_factory=list)


def watched(workflow: Path, archive: str = "archive") -> Seen:
    """Run once; names of the raw files that ingest read, and days that went through the stages."""
    seen = Seen()
    real_file, real_stages = days.read_file, minutes.flagged

    def read(raw: Any, *words: Any) -> Any:
        seen.files.append(raw.name)
        return real_file(raw, *words)

    def flag(readings: Any, period: Any) -> Any:
        span = range(period.start + HALO, period.end - HALO, DAY)
        seen.days += [21 + (start - FIRST) // DAY for start in span]
        return real_stages(readings, period)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(days, "read_file", read)
        patch.setattr(ingest_stage, "read_file", read)
        patch.setattr(minutes, "flagged", flag)
        _, outcomes = run(workflow, Choice(archive=workflow.parent / archive), lambda *_: None)
    assert {o.done for o in outcomes} <= {"written", "unchanged"}, [o.error for o in outcomes]
    return seen


def both(day: int) -> list[str]:
    """Raw files of both loggers of a day."""
    return [small_project.raw_name(logger, f"2031-06-{day}") for logger in small_project.LOGGERS]


@pytest.fixture(scope="module")
def yesterday(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A project whose open month was run up to 26 June."""
    folder = tmp_path_factory.mktemp("days") / "project"
    workflow = small_project.write_project(folder, DAYS[:-1], minutes=180, as_of="2031-06-27")
    seen = watched(workflow)
    assert seen.days == list(range(1, 27))
    assert sorted(seen.files) == sorted(n for d in range(21, 27) for n in both(d))
    return workflow


@pytest.fixture
def today(yesterday: Path, tmp_path: Path) -> Path:
    """A copy of it to which the files of 27 June have come."""
    workflow = small_project.copy_of(yesterday, tmp_path / "project")
    small_project.write_raw(workflow.parent / "new", DAYS, minutes=180)
    for name in both(27):
        (workflow.parent / "new" / name).rename(workflow.parent / "raw" / name)
    open_until(workflow, 27)
    return workflow


def test_a_new_day(today: Path) -> None:
    """Its files are read, it and the day in whose halo it lies are made; the bytes are the same."""
    seen = watched(today)
    assert sorted(seen.files) == sorted(both(27))
    assert seen.days == [26, 27]
    afresh = watched(today, "afresh")
    assert afresh.days == list(range(1, 28))
    archives = [small_project.products(today.parent / a) for a in ("archive", "afresh")]
    assert len(archives[0]) == 6
    assert archives[0] == archives[1]


def test_a_late_file(today: Path) -> None:
    """What comes in for a day long past is made with the days around it, and nothing else."""
    watched(today)
    late = today.parent / "raw" / "beam_late.csv"
    small_project.day_table("beam", "2031-06-23", slice(400, 420)).assign(
        stamp=lambda t: t["stamp"].str.replace(" 01:", " 15:")
    ).to_csv(late, index=False, float_format="%.5f")
    seen = watched(today)
    assert seen.files == ["beam_late.csv"]
    assert seen.days == [22, 23, 24]
    watched(today, "afresh")
    archives = [small_project.products(today.parent / a) for a in ("archive", "afresh")]
    assert archives[0] == archives[1]


def test_pieces_may_be_lost_or_damaged(today: Path) -> None:
    """They are made anew; the file is the same."""
    watched(today)
    whole = small_project.products(today.parent / "archive")
    job = prepare(today, Choice())
    unit = next(u for u in job.plan.units if u.kind == "minute")
    kept = sorted(days.pieces_folder(job.context, unit).iterdir())
    assert len(kept) == 27
    kept[0].unlink()
    kept[1].write_bytes(kept[1].read_bytes()[:-100])
    for path in (today.parent / "archive" / "tst" / "minute").iterdir():
        path.unlink()
    assert len(watched(today).days) == 2
    assert small_project.products(today.parent / "archive") == whole


def test_a_changed_limit_makes_all_days(today: Path) -> None:
    """And pieces of the old limit go."""
    watched(today)
    small_project.edit(
        today, "processing", lambda p: p.update(qc_flag={"stuck": {"least_irradiance": 8.0}})
    )
    seen = watched(today)
    assert (seen.files, seen.days) == ([], list(range(1, 28)))
    job = prepare(today, Choice())
    unit = next(u for u in job.plan.units if u.kind == "minute")
    assert len(list(days.pieces_folder(job.context, unit).iterdir())) == 27


def test_a_month_that_ends_is_made_whole(today: Path) -> None:
    """Without what was kept, which goes."""
    watched(today)
    small_project.edit(today, "workflow", lambda w: w.update(as_of="2031-07-02"))
    seen = watched(today)
    assert sorted(seen.files) == sorted(n for d in range(21, 28) for n in both(d))
    assert seen.days == list(range(1, 31))
    assert list((today.parent / "archive" / ".sunledger" / "pieces").rglob("*.piece")) == []


def test_a_primary_that_changes_within_the_month(tmp_path: Path) -> None:
    """The twin logs means alone: days of one kind beside days of the other are made whole."""
    turn = "2031-06-25"
    workflow = rich_project.write_project(
        tmp_path / "project", days=("2031-06-24", turn, "2031-06-26", "2031-06-27"), as_of=turn
    )
    small_project.edit(
        workflow, "station/station", lambda s: s["primary"][0].update({"from": turn})
    )
    watched(workflow)
    for day in (25, 26):
        open_until(workflow, day)
        watched(workflow)
    open_until(workflow, 27)
    assert watched(workflow).days == [27, *range(1, 28)]
    watched(workflow, "afresh")
    minute = [
        (workflow.parent / a / "tst/minute/tst_minute_2031-06.nc").read_bytes()
        for a in ("archive", "afresh")
    ]
    assert minute[0] == minute[1]
