"""The engine: every stale unit once, after those it reads, whatever becomes of the others."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

import deadly
import pretended
import small_project
from sunledger.archive.verify import verify
from sunledger.run import engine
from sunledger.run.context import RunContext
from sunledger.run.crew import Crew
from sunledger.run.job import Choice, execute, prepare, run
from sunledger.run.plan import Plan
from sunledger.run.publish import Outcome
from sunledger.run.state import archive_state
from sunledger.run.unit import Unit


def hands(write: Any) -> Any:
    """One thread that writes with what is given, in place of all hands of an archivist."""

    class Hands(ThreadPoolExecutor):
        def __init__(self, _: int) -> None:
            super().__init__(1)

        def bring(self, ready: Any, _: float) -> Any:
            return self.submit(write, ready)

        def lend_a_hand(self, _: int) -> bool:
            return False

    return Hands


def unit(name: str, *after: str, stale: bool = True) -> Unit:
    """A unit named by one word."""
    return Unit("minute", name, "", "", "", {}, stale=stale, after=after)


def test_each_stale_unit_once_and_in_order(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fresh ones are not made; outcomes of those before are handed on, of fresh ones nothing."""
    seen: list[tuple[str, tuple[str, ...]]] = []

    def make(_: Any, item: Unit, before: tuple[Outcome, ...]) -> Outcome:
        seen.append((item.name, tuple(o.unit for o in before)))
        return Outcome(item.name, "failed" if item.name == "b" else "written")

    monkeypatch.setattr(engine, "run_unit", make)
    told: list[tuple[str, int, int]] = []
    plan = Plan((unit("a", stale=False), unit("b"), unit("c", "a", "b"), unit("d", "a")))
    outcomes = engine.run_in_process(
        None,  # type: ignore[arg-type]
        plan,
        lambda outcome, done, total: told.append((outcome.unit, done, total)),
    )
    assert seen == [("b", ()), ("c", ("b",)), ("d", ())]
    assert [o.done for o in outcomes] == ["failed", "written", "written"]
    assert told == [("b", 1, 3), ("c", 2, 3), ("d", 3, 3)]


def test_a_file_is_written_while_the_next_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    """The second is made while the first is still being written; what reads the first waits."""
    second_is_made, events = threading.Event(), []

    def make(_: Any, item: Unit, before: tuple[Outcome, ...]) -> Any:
        events.append(f"made {item.name}")
        if item.name == "b":
            second_is_made.set()
        return item.name

    def write(name: Any) -> Outcome:
        assert second_is_made.wait(30)
        events.append(f"written {name}")
        return Outcome(name, "written")

    monkeypatch.setattr(engine, "run_unit", make)
    monkeypatch.setattr(engine, "Archivist", hands(write))
    plan = Plan((unit("a"), unit("b"), unit("c", "a")))
    told: list[str] = []
    outcomes = engine.run_in_process(None, plan, lambda o, *_: told.append(o.unit))  # type: ignore
    assert events[:2] == ["made a", "made b"]
    assert events.index("written a") < events.index("made c")
    assert told == [o.unit for o in outcomes] == ["a", "b", "c"]


@pytest.mark.parametrize("failing", [False, True])
def test_the_rest_is_done_while_years_are_written(
    monkeypatch: pytest.MonkeyPatch, failing: bool
) -> None:
    """Once, when all minutes are in the archive; the year files are on their way by then."""
    rest_is_done, events = threading.Event(), []
    years = [Unit("aggregate", f"y{n}", "", "", "", {}, after=("m",)) for n in range(3)]

    def write(name: Any) -> Outcome:
        if name != "m":
            assert rest_is_done.wait(30)
        events.append(name)
        return Outcome(name, "failed" if failing else "written")

    def rest() -> None:
        events.append("rest")
        rest_is_done.set()

    monkeypatch.setattr(engine, "grouped", lambda *_: [(unit("m"),), tuple(years)])
    monkeypatch.setattr(engine, "run_unit", lambda _, item, __: item.name)
    monkeypatch.setattr(engine, "run_aggregates", lambda _, us, *__: iter([u.name for u in us]))
    monkeypatch.setattr(engine, "Archivist", hands(write))
    outcomes = engine.run_in_process(None, Plan((unit("m"), *years)), lambda *_: None, rest)  # type: ignore
    assert events == ["m", "rest", "y0", "y1", "y2"]
    assert [o.unit for o in outcomes] == ["m", "y0", "y1", "y2"]


def test_a_year_is_begun_while_its_minutes_come(monkeypatch: pytest.MonkeyPatch) -> None:
    """With what is there at the time; one that could not be begun is made like any other."""
    months = [unit(f"m 2031-0{n}") for n in (1, 2, 3)]
    names = ("m 2030-12", *(m.name for m in months))
    plan_years = {
        y: tuple(Unit("aggregate", f"{y}{n}", "", "", "", {}, after=names) for n in range(2))
        for y in ("good", "bad")
    }
    told: list[Any] = []

    class Year:
        def __init__(self, _: Any, units: Any) -> None:
            self.name = units[0].station[:-1]

        def advance(self, there: set[str]) -> None:
            told.append((self.name, sorted(there)))
            if self.name == "bad":
                raise ZeroDivisionError

    def aggregates(_: Any, units: Any, before: Any, ahead: Any) -> Any:
        told.append((units[0].station, ahead and ahead.name))
        return iter([Outcome(u.name, "written") for u in units])

    def make(_: Any, item: Unit, __: Any) -> Outcome:
        return Outcome(item.name, "empty" if item.name == "m 2031-02" else "written")

    groups = [*((m,) for m in months), *plan_years.values()]
    monkeypatch.setattr(engine, "grouped", lambda *_: groups)
    monkeypatch.setattr(engine, "YearInMaking", Year)
    monkeypatch.setattr(engine, "run_unit", make)
    monkeypatch.setattr(engine, "run_aggregates", aggregates)
    plan = Plan((*months, *plan_years["good"], *plan_years["bad"]))
    engine.run_in_process(None, plan, lambda *_: None)  # type: ignore[arg-type]
    assert told == [
        ("good", ["2030-12", "2031-01"]),
        ("bad", ["2030-12", "2031-01"]),
        ("good", ["2030-12", "2031-01"]),
        ("good", ["2030-12", "2031-01", "2031-03"]),
        ("good0", "good"),
        ("bad0", None),
    ]


@pytest.mark.parametrize("together", [True, False])
def test_a_year_is_made_before_the_minutes_of_the_next(
    monkeypatch: pytest.MonkeyPatch, together: bool
) -> None:
    """However voltages were cut into files: else all years of a station would be held at once."""
    voltages = [Unit("voltage", f"v{n}", "", "", "", {}) for n in range(6)]
    minutes = [unit(f"m 203{n // 3}-0{n % 3}", v.name) for n, v in enumerate(voltages)]
    years = [
        tuple(
            Unit("aggregate", f"y{y}{n}", "", "", "", {}, after=tuple(m.name for m in mine))
            for n in range(2)
        )
        for y, mine in enumerate((minutes[:3], minutes[3:]))
    ]
    made: list[str] = []

    def make(_: Any, item: Unit, __: Any) -> Outcome:
        made.append(item.name)
        return Outcome(item.name, "written")

    def all_of(_: Any, items: Any, *__: Any) -> Any:
        return (make(None, item, None) for item in items)

    first = [tuple(voltages)] if together else [(v,) for v in voltages]
    monkeypatch.setattr(engine, "grouped", lambda *_: [*first, *((m,) for m in minutes), *years])
    monkeypatch.setattr(engine, "YearInMaking", lambda *_: None)
    monkeypatch.setattr(engine, "run_unit", make)
    monkeypatch.setattr(engine, "run_group", all_of)
    monkeypatch.setattr(engine, "run_aggregates", all_of)
    plan = Plan((*voltages, *minutes, *years[0], *years[1]))
    engine.run_in_process(None, plan, lambda *_: None)  # type: ignore[arg-type]
    assert sorted(made) == sorted(u.name for u in plan.units)
    assert made.index("y00") < made.index(minutes[-1].name)


def test_what_is_written_is_told_also_when_the_rest_is_interrupted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A year file that is in the archive stands in the log of the run."""
    years = tuple(Unit("aggregate", f"y{n}", "", "", "", {}) for n in range(3))

    def rest() -> None:
        raise KeyboardInterrupt

    told: list[str] = []
    monkeypatch.setattr(engine, "grouped", lambda *_: [years])
    monkeypatch.setattr(engine, "run_aggregates", lambda _, us, *__: iter([u.name for u in us]))
    monkeypatch.setattr(engine, "Archivist", hands(lambda name: Outcome(name, "written")))
    with pytest.raises(KeyboardInterrupt):
        engine.run_in_process(None, Plan(years), lambda o, *_: told.append(o.unit), rest)  # type: ignore
    assert told == ["y0", "y1", "y2"]


@pytest.mark.parametrize(
    ("size", "order"),
    [
        (1 << 20, "v0 v1 v2 v3 v4 m0 m1 m2 v5 m3 v6 v7 m4 m5 m6 m7"),
        (40 << 20, "v0 v1 v2 m0 m1 v3 v4 m2 m3 v5 v6 m4 m5 v7 m6 m7"),
    ],
)
def test_minutes_are_made_between_the_voltages_of_a_long_group(
    monkeypatch: pytest.MonkeyPatch, size: int, order: str
) -> None:
    """As soon as those that they read are there, the sooner the more memory waiting files take."""
    months = [Unit("voltage", f"v{n}", "", "", "", {}) for n in range(8)]
    minutes = [
        unit(f"m{n}", *(v.name for v in months[max(0, n - 1) : n + 2]), "fresh") for n in range(8)
    ]
    made: list[str] = []

    def make(_: Any, item: Unit, before: tuple[Outcome, ...]) -> Any:
        made.append(item.name)
        assert {o.unit for o in before} == {n for n in item.after if n != "fresh"}
        return item.name

    def together(_: Any, items: Any) -> Any:
        for item in items:
            made.append(item.name)
            yield item.name

    monkeypatch.setattr(engine, "grouped", lambda *_: [tuple(months), *((m,) for m in minutes)])
    monkeypatch.setattr(engine, "run_unit", make)
    monkeypatch.setattr(engine, "run_group", together)
    monkeypatch.setattr(engine, "size_of", lambda _: size)
    monkeypatch.setattr(engine, "Archivist", hands(lambda name: Outcome(name, "written")))
    plan = Plan((*months, *minutes, unit("fresh", stale=False)))
    outcomes = engine.run_in_process(None, plan, lambda *_: None)  # type: ignore[arg-type]
    assert [o.unit for o in outcomes] == [u.name for u in (*months, *minutes)]
    assert made == order.split()


def test_a_changed_month_executes_its_own_units_only(
    long_project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of 33 files six are made: executions counted, not reasons."""
    made: list[str] = []

    def make(context: RunContext, item: Unit, before: tuple[Outcome, ...]) -> Outcome:
        made.append(item.name)
        return pretended.pretend_unit(context, item, before)

    def together(context: RunContext, items: Any, before: list[Outcome], _: Any) -> list[Outcome]:
        return [make(context, item, tuple(before)) for item in items]

    monkeypatch.setattr(engine, "run_unit", make)
    monkeypatch.setattr(engine, "run_aggregates", together)
    monkeypatch.setattr(engine, "run_group", lambda *_: pytest.fail("no file is shared"))
    small_project.note(long_project, small_project.cleaning("cl-7", "2031-03-15 00:30"))
    outcomes = execute(prepare(long_project, Choice()), lambda *_: None)
    assert made == [
        "tst voltage main 2031-03",
        "tst voltage beam 2031-03",
        "tst minute 2031-03",
        "tst hourly 2031",
        "tst daily 2031",
        "tst monthly 2031",
    ]
    assert [o.done for o in outcomes].count("unchanged") == 33 - 6
    made.clear()
    execute(prepare(long_project, Choice()), lambda *_: None)
    assert made == []


def test_few_units_start_no_cluster(long_project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With nothing or little to do no worker is started; a cluster that stands is used."""
    used: list[tuple[str, int]] = []

    def making(where: str) -> Any:
        def make(_: Any, plan: Plan, *more: Any) -> list[Outcome]:
            used.append((where, len(plan.stale())))
            return []

        return make

    monkeypatch.setattr("sunledger.run.job.run_on_cluster", making("cluster"))
    monkeypatch.setattr("sunledger.run.job.run_in_process", making("here"))
    execute(prepare(long_project, Choice(workers=2)), lambda *_: None)
    small_project.note(long_project, small_project.cleaning("cl-7", "2031-03-15 00:30"))
    execute(prepare(long_project, Choice(workers=2)), lambda *_: None)
    execute(prepare(long_project, Choice(workers=2, scheduler="tcp://x:1")), lambda *_: None)
    small_project.note(long_project, small_project.cleaning("cl-8", "2031-05-15 00:30"))
    execute(prepare(long_project, Choice(workers=2)), lambda *_: None)
    assert used == [("here", 0), ("here", 6), ("cluster", 6), ("cluster", 9)]


@pytest.mark.slow
def test_a_cluster_survives(tmp_path: Path) -> None:
    """A killed worker's unit is tried elsewhere; each that fails fails alone, with its cause."""
    names = ("once", "memory", "vanished", "bug", "good", "always")
    plan = Plan((*map(unit, names), unit("reader", "always"), unit("other", "good")))
    with Crew(2) as crew:
        crew.client().register_plugin(deadly.Deadly(tmp_path))
        context: Any = None
        outcomes = engine.run_on_cluster(context, plan, lambda *_: None, crew)
    found = {o.unit: (o.done, o.cause) for o in outcomes}
    assert found == {
        "once": ("written", ""),
        "memory": ("failed", "out of memory"),
        "vanished": ("failed", "raw file vanished"),
        "bug": ("failed", "bug"),
        "good": ("written", ""),
        "always": ("failed", "worker lost"),
        "reader": ("failed", "read one that failed"),
        "other": ("written", ""),
    }
    tries = (tmp_path / "once").read_text().split()
    assert len(tries) == len(set(tries)) >= 2
    assert "died" in outcomes[5].error
    assert outcomes[6].error == "not made: always failed"


def alive(group: int) -> list[str]:
    """Processes of a group that have not ended."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            name, _, rest = path.read_text().rpartition(") ")
        except OSError:
            continue
        state, _, process_group = rest.split()[:3]
        if int(process_group) == group and state != "Z":
            found.append(name)
    return found


@pytest.mark.slow
def test_interrupted_from_the_keyboard(project: Path) -> None:
    """Ctrl-C in the midst of a cluster: it ends, leaves nothing partial, and a rerun is the same.

    The whole group of processes gets the signal, as from a terminal.
    """
    note = small_project.cleaning("cl-9", "2031-06-29 12:00")
    small_project.note(project, note, small_project.cleaning("cl-8", "2031-07-01 12:00"))
    archive = project.parent / "archive"
    words = [sys.executable, "-m", "sunledger.cli", "run", str(project), "--workers", "2"]
    process = subprocess.Popen(
        words,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        stderr=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        text=True,
        start_new_session=True,
    )
    assert process.stderr is not None
    while not process.stderr.readline().startswith("1/"):
        assert process.poll() is None
    os.killpg(process.pid, signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "Stopped; nothing partial is left" in said
    assert "Traceback" not in said
    assert list(archive.rglob("*.partial")) == []
    for _ in range(200):  # helpers of the system's libraries end a little after their parent
        if not alive(process.pid):
            break
        time.sleep(0.1)
    assert alive(process.pid) == []
    state = archive_state(archive).run
    assert state is not None
    assert state.how == "interrupted"
    planned, outcomes = run(project, Choice(), lambda *_: None)
    assert 0 < len(planned.plan.stale()) < len(planned.plan.units)
    assert {o.done for o in outcomes} <= {"written", "unchanged"}
    assert verify(archive) == ()
