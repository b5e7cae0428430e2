"""Exactly what depends on a change is executed: stages counted, month by month, in real runs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import small_project
from invented import certificate
from small_project import edit, note
from sunledger.run import groups, making, minutes
from sunledger.run.job import Choice, run
from sunledger.run.keys import HALO

MONTHS = ("2031-03", "2031-04", "2031-05")
MINUTE_STAGES = ("calibrate", "time_correct", "qc_flag")
Executed = dict[str, list[str]]


def month_of(instant: int) -> str:
    """Month of UTC of an instant."""
    return str(np.datetime64(int(instant), "s").astype("M8[M]"))


def told(real: Callable[..., Any], stage: str, month: Callable[..., str], seen: Any) -> Any:
    """A stage that is counted when it is called."""

    def stage_that_tells(*words: Any) -> Any:
        seen[stage, month(*words)] += 1
        return real(*words)

    return stage_that_tells


def executed(workflow: Path) -> Executed:
    """Run, and say which stage was executed for which months; each once a logger or month."""
    seen: Counter[tuple[str, str]] = Counter()
    with pytest.MonkeyPatch.context() as patch:
        ingest = told(making.ingest, "ingest", lambda *w: f"{w[2]} {month_of(w[3])}", seen)
        patch.setattr(making, "ingest", ingest)
        for name in MINUTE_STAGES:
            stage = told(getattr(minutes, name), name, lambda _, p: month_of(p.start + HALO), seen)
            patch.setattr(minutes, name, stage)
        year = told(
            groups.aggregated_year, "aggregate", lambda _, units, *__: units[0].period, seen
        )
        patch.setattr(groups, "aggregated_year", year)
        _, outcomes = run(workflow, Choice(), lambda *_: None)
    assert {o.done for o in outcomes} <= {"written", "unchanged"}, [o.error for o in outcomes]
    assert set(seen.values()) <= {1}
    stages = ("ingest", *MINUTE_STAGES, "aggregate")
    return {s: sorted(m for stage, m in seen if stage == s) for s in stages}


def expected(ingest: list[str], months: list[str], aggregate: bool = True) -> Executed:
    """Stages and months, the three stages of minutes alike."""
    return {
        "ingest": sorted(ingest),
        **dict.fromkeys(MINUTE_STAGES, months),
        "aggregate": ["2031"] if aggregate else [],
    }


def loggers(*months: str) -> list[str]:
    """Both loggers in some months."""
    return [f"{logger} {month}" for logger in small_project.LOGGERS for month in months]


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two hours in each of three months, run once for real; a certificate and checks in April."""
    folder = tmp_path_factory.mktemp("executions") / "project"
    workflow = small_project.write_project(folder, [f"{m}-15" for m in MONTHS], minutes=120)
    second = certificate("global_1", certificate="NC-2", date="2031-04-20")
    edit(workflow, "station/instruments", lambda i: certificates(i).append(second))
    good = small_project.level("lc-good", "2031-04-05", 0.05)
    note(workflow, good, small_project.clock("ck-a", "main", "2031-04-20", 0.0))
    assert executed(workflow) == expected(loggers(*MONTHS), list(MONTHS))
    return workflow


def certificates(instruments: dict[str, Any]) -> list[Any]:
    """Of the global pyranometer."""
    found: list[Any] = instruments["instruments"][0]["calibrations"]
    return found


@pytest.fixture
def changed(once: Path, tmp_path: Path) -> Path:
    """A copy of that project, free to be changed."""
    return small_project.copy_of(once, tmp_path / "project")


def test_nothing_changed(changed: Path) -> None:
    """No stage at all."""
    assert executed(changed) == expected([], [], aggregate=False)


def test_a_field_note(changed: Path) -> None:
    """Its month; both voltages too, whose tables hold the note."""
    note(changed, small_project.cleaning("cl-7", "2031-04-15 00:30"))
    assert executed(changed) == expected(loggers("2031-04"), ["2031-04"])


def test_a_limit_of_a_test(changed: Path) -> None:
    """All minutes, from the archived voltages: nothing is read again from the raw files."""
    edit(changed, "processing", lambda p: p.update(qc_flag={"stuck": {"least_irradiance": 8.0}}))
    assert executed(changed) == expected([], list(MONTHS))


def test_a_rule_of_aggregation(changed: Path) -> None:
    """Only the means."""
    edit(changed, "processing", lambda p: p.update(aggregate={"least_share_hourly": 0.25}))
    assert executed(changed) == expected([], [])


def test_a_new_raw_file(changed: Path) -> None:
    """The voltages of its own logger, and the minutes of its month."""
    small_project.write_raw(changed.parent / "raw", ["2031-05-20"], ["beam"], 60)
    assert executed(changed) == expected(["beam 2031-05"], ["2031-05"])


def test_a_certificate(changed: Path) -> None:
    """Sensitivities are interpolated to it from the one of April: from April on, not March."""
    third = certificate(
        "global_1",
        certificate="NC-3",
        date="2031-05-20",
        sensitivity={"as_left": 8.2, "unit": "uV W-1 m2"},
    )
    edit(changed, "station/instruments", lambda i: certificates(i).append(third))
    assert executed(changed) == expected(loggers(*MONTHS[1:]), list(MONTHS[1:]))


def test_doubt_that_runs_backwards(changed: Path) -> None:
    """Found off level in May: from the good check of April on, not March."""
    note(changed, small_project.level("lc-bad", "2031-05-20", 1.0))
    assert executed(changed) == expected(loggers(*MONTHS[1:]), list(MONTHS[1:]))


def test_a_clock_check_that_retimes(changed: Path) -> None:
    """The error found in May is spread over the time since the check of April."""
    note(changed, small_project.clock("ck-b", "main", "2031-05-20", 90.0))
    assert executed(changed) == expected(loggers(*MONTHS[1:]), list(MONTHS[1:]))
