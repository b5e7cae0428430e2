"""The engine: stale units in parallel through Dask, each after those it reads."""

from __future__ import annotations

import pickle
import time
import uuid
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future
from functools import partial
from pathlib import Path
from typing import Any

from sunledger.archive.kept import keep, keeping
from sunledger.run.archivist import Archivist, brought, size_of
from sunledger.run.cluster_results import outcomes_of, results_of
from sunledger.run.context import RunContext
from sunledger.run.crew import Crew, same
from sunledger.run.diagnosing import prepare_numbers
from sunledger.run.groups import ANY, grouped, run_aggregates, run_group
from sunledger.run.guarding import guarded
from sunledger.run.making import run_unit
from sunledger.run.memory import give_back
from sunledger.run.plan import Plan
from sunledger.run.publish import Outcome, Publication, Ready
from sunledger.run.unit import Unit
from sunledger.run.years import YearInMaking

Progress = Callable[[Outcome, int, int], None]

_AWAITING, _HELD = 3, 64 << 20
"""Files held in memory while another is written, beside the one that is being made; one only where
they take more. [1, byte]"""
KEPT = 24 << 20
"""Voltages held in memory for the minutes that read them next. [byte]"""
WAVE = 256
"""Groups submitted at a time, each wave while the one before is at work."""


def nothing_more(*_: object) -> None:
    """Of a run that has nothing to do beside its units, and nobody to tell."""


def run_in_process(
    context: RunContext,
    plan: Plan,
    progress: Progress,
    meanwhile: Callable[[], None] = nothing_more,
) -> list[Outcome]:
    """
    Make the stale units of a plan one after the other in this process.

    A file is written and checked while the next is made.

    Parameters
    ----------
    context : RunContext
        The run.
    plan : Plan
        Units in an order in which each stands after those it reads.
    progress : callable
        Told of each outcome, how many are done, and how many there are.
    meanwhile : callable
        Called once, when all minutes are in the archive and the last year files are being written.

    Returns
    -------
    outcomes : list of Outcome
        In the order of the plan.
    """
    stale = plan.stale()
    with keeping(KEPT), Archivist(len(stale)) as archivist:
        turn = _InTurn(context, stale, progress, archivist)
        done = turn.made(grouped(stale, ANY), meanwhile)
    return [done[unit.name] for unit in stale]


class _InTurn:
    """Groups made one after the other, each file brought in while the next is made."""

    def __init__(
        self,
        context: RunContext,
        stale: Sequence[Unit],
        progress: Progress,
        archivist: Archivist,
    ) -> None:
        self.context, self.progress, self.archivist = context, progress, archivist
        self.of_plan = {unit.name: unit for unit in stale}
        self.done: dict[str, Outcome] = {}
        self.begun: set[str] = set()
        self.writing: deque[tuple[str, Ready, Future[Outcome]]] = deque()
        self.readers: dict[str, list[tuple[Unit, ...]]] = {}
        self.asked: list[tuple[Unit, ...]] = []
        self.ahead: dict[str, YearInMaking | None] = {}
        self.spent_ahead: dict[str, float] = {}

    def made(
        self, groups: Sequence[tuple[Unit, ...]], meanwhile: Callable[[], None]
    ) -> dict[str, Outcome]:
        for group in groups:
            for name in _read_by(group):
                self.readers.setdefault(name, []).append(group)
        for group in groups:
            if not self._readable(group):
                self._land(0)
            self._make(group)
            self._make_readers()
        while any(kind != "aggregate" for kind, *_ in self.writing):
            self._land(len(self.writing) - 1)
        try:
            meanwhile()
        finally:
            self._land(0)
        return self.done

    def _readable(self, group: tuple[Unit, ...]) -> bool:
        return all(n in self.done for n in _read_by(group) if n in self.of_plan)

    def _make(self, group: tuple[Unit, ...]) -> None:
        if group[0].name in self.begun:
            return
        self.begun.add(group[0].name)
        before = [self.done[n] for n in _read_by(group) if n in self.done]
        kind, ahead = group[0].kind, self.ahead.pop(group[0].name, None)
        made = _of_group(self.context, group, before, ahead)
        for ready, seconds in _Timed(made, self.spent_ahead.pop(group[0].name, 0.0)):
            self.writing.append((kind, ready, self.archivist.bring(ready, seconds)))
            del ready  # what is written is let go while the next is made
            few = sum(size_of(waiting) for _, waiting, _ in self.writing) > _HELD
            self._land(1 if few else _AWAITING, 1)
            if len(group) > 1:
                self._make_readers()

    def _make_readers(self) -> None:
        """
        Minutes and years whose files are all there, between the voltages of later months.

        Voltages take longer to write than to make, minutes to make than to write; and of a year
        that was begun nothing is held until those after it.
        """
        asked, self.asked = self.asked, []
        for group in asked:
            if self._readable(group):
                self._make(group)

    def _land(self, most: int, left: int = 0) -> None:
        """Wait for all but some, and write files meanwhile, as long as more than some wait."""
        while len(self.writing) > most:
            kind, ready, future = self.writing.popleft()
            while not future.done() and self.archivist.lend_a_hand(left):
                pass
            outcome = future.result()
            if kind == "voltage" and outcome.done == "written" and isinstance(ready, Publication):
                keep(Path(outcome.path), ready.spec)
            self.done[outcome.unit] = outcome
            readers = self.readers.get(outcome.unit, [])
            self.asked += readers
            self.progress(outcome, len(self.done), len(self.of_plan))
            _prepare_numbers(self.context, self.of_plan[outcome.unit], ready, outcome)
            for group in readers:
                if group[0].kind == "aggregate" and len(group) > 1:
                    self._advance(group, ready, outcome)

    def _advance(self, group: tuple[Unit, ...], ready: Ready, outcome: Outcome) -> None:
        """
        A year, as far as its minutes are there: while others are being written there is time.

        Should it fail, the year that is made after the last month meets it again and tells it.
        """
        first = group[0].name
        names = {name: name.rpartition(" ")[2] for name in _read_by(group)}
        lacking = {month for name, month in names.items() if not self._is_there(name)}
        there = set(names.values()) - lacking

        def begun() -> YearInMaking | None:
            year = self.ahead[first] if first in self.ahead else YearInMaking(self.context, group)
            if year is not None and isinstance(ready, Publication) and self._is_there(outcome.unit):
                year.hand_over(Path(outcome.path), ready.spec)
            if year is not None:
                year.advance(there)
            return year

        begin = time.perf_counter()
        made = guarded(first, begun)
        spent = self.spent_ahead.get(first, 0.0) + time.perf_counter() - begin
        self.spent_ahead[first] = spent
        self.ahead[first] = None if isinstance(made, Outcome) else made

    def _is_there(self, name: str) -> bool:
        if name not in self.of_plan:
            return True
        return name in self.done and self.done[name].done in ("written", "unchanged")


class _Timed:
    """
    Each with the time that it took to come; of the first some is spent already.

    A generator would hold each while the next is made.
    """

    def __init__(self, made: Iterable[Ready], spent: float = 0.0) -> None:
        self._made, self._spent = iter(made), spent

    def __iter__(self) -> _Timed:
        return self

    def __next__(self) -> tuple[Ready, float]:
        begin = time.perf_counter() - self._spent
        self._spent = 0.0
        return next(self._made), time.perf_counter() - begin


def run_on_cluster(
    context: RunContext, plan: Plan, progress: Progress, crew: Crew
) -> list[Outcome]:
    """
    Make the stale units of a plan on a Dask cluster.

    Parameters
    ----------
    context : RunContext
        The run; its folders must be the same on every worker.
    plan : Plan
        Units in an order in which each stands after those it reads.
    progress : callable
        Told of each outcome, how many are done, and how many there are.
    crew : Crew
        Its workers.

    Returns
    -------
    outcomes : list of Outcome
        In the order of the plan.
    """
    stale = plan.stale()
    done: dict[str, Outcome] = {}

    def tell(outcomes: Iterable[Outcome]) -> None:
        for outcome in outcomes:
            done[outcome.unit] = outcome
            progress(outcome, len(done), len(stale))

    client = crew.client()
    # One unit that kills its workers drags down those waiting behind it: the second try is alone,
    # so that only the guilty one fails.
    for group in _all_at_once(client, context, grouped(stale), done, tell):
        tell(_alone(client, context, group, done))
    return [done[unit.name] for unit in stale]


def _all_at_once(
    client: Any,
    context: RunContext,
    groups: list[tuple[Unit, ...]],
    done: dict[str, Outcome],
    tell: Callable[[Iterable[Outcome]], None],
) -> list[tuple[Unit, ...]]:
    """Submit wave by wave; returns the groups that gave no result, in the order of the plan."""
    from distributed import as_completed

    # a task, since scattered data are lost for good with the workers that hold them
    shared = client.submit(same, context, pure=False)
    flying: dict[Any, tuple[Unit, ...]] = {}
    lost: set[str] = set()
    finished = as_completed()

    def land(most: int) -> None:
        while finished.count() > most:
            batch = list(finished.next_batch())
            for future, outcomes in zip(batch, results_of(client, batch), strict=True):
                group = flying.pop(future)
                if isinstance(outcomes, BaseException):
                    lost.update(unit.name for unit in group)
                else:
                    tell(outcomes)

    for first in range(0, len(groups), WAVE):
        wave = _submitted(client, shared, groups[first : first + WAVE], flying, (done, lost))
        flying |= wave
        finished.update(list(wave))
        land(WAVE)
    land(0)
    return [group for group in groups if group[0].name in lost]


def _submitted(
    client: Any,
    shared: Any,
    groups: Iterable[tuple[Unit, ...]],
    flying: dict[Any, tuple[Unit, ...]],
    known: tuple[dict[str, Outcome], set[str]],
) -> dict[Any, tuple[Unit, ...]]:
    """
    Submit groups as one graph: a fraction of what one submission each costs.

    What a group reads is a task of the graph, a future of an earlier wave, or told already. A group
    that reads a lost one is lost itself.
    """
    done, lost = known
    task_of = {unit.name: future for future, group in flying.items() for unit in group}
    graph: dict[str, tuple[Any, ...]] = {}
    by_key: dict[str, tuple[Unit, ...]] = {}
    wave = uuid.uuid4().hex
    for number, group in enumerate(groups):
        read = _read_by(group)
        if not lost.isdisjoint(read):
            lost.update(unit.name for unit in group)
            continue
        key = f"units-{wave}-{number}"
        # packed, so that the scheduler hands it on without looking into it
        packed = pickle.dumps((group, [done[n] for n in read if n in done]))
        tasks = dict.fromkeys(task_of[n] for n in read if n in task_of)
        graph[key] = (_unpacked_task, shared, packed, *tasks)
        task_of |= dict.fromkeys((unit.name for unit in group), key)
        by_key[key] = group
    futures = client.get(graph, list(graph), sync=False)
    return {future: by_key[future.key] for future in futures}


def _alone(
    client: Any, context: RunContext, group: tuple[Unit, ...], done: dict[str, Outcome]
) -> tuple[Outcome, ...]:
    from distributed import wait

    before = tuple(done[n] for n in _read_by(group) if n in done)
    future = client.submit(_task, context, group, before, pure=False)
    wait(future)
    return outcomes_of(future, [unit.name for unit in group])


def _read_by(group: tuple[Unit, ...]) -> tuple[str, ...]:
    """Names of the units that a group reads."""
    return tuple(dict.fromkeys(name for unit in group for name in unit.after))


def _unpacked_task(
    context: RunContext, packed: bytes, *before: tuple[Outcome, ...]
) -> tuple[Outcome, ...]:
    group, told = pickle.loads(packed)
    return _task(context, group, tuple(told), *before)


def _task(
    context: RunContext, group: tuple[Unit, ...], *before: tuple[Outcome, ...]
) -> tuple[Outcome, ...]:
    give_back()  # of the task before, in holes of another size
    needed = {name for unit in group for name in unit.after}
    read = [o for outcomes in before for o in outcomes if o.unit in needed]
    by_name = {unit.name: unit for unit in group}
    outcomes = []
    for ready, seconds in _Timed(_of_group(context, group, read)):
        outcome = brought(ready, seconds)
        outcomes.append(outcome)
        _prepare_numbers(context, by_name[outcome.unit], ready, outcome)
        del ready
    return tuple(outcomes)


def _of_group(
    context: RunContext,
    group: tuple[Unit, ...],
    before: list[Outcome],
    ahead: YearInMaking | None = None,
) -> Iterable[Ready]:
    if len(group) > 1 and group[0].kind == "aggregate":
        return run_aggregates(context, group, before, ahead)
    if len(group) > 1:
        return run_group(context, group)
    return (run_unit(context, unit, tuple(before)) for unit in group)


def _prepare_numbers(context: RunContext, unit: Unit, ready: Ready, outcome: Outcome) -> None:
    """
    What minutes say for the findings, by whoever made them, while they are still in memory.

    Should it fail, the judge that comes after all minutes meets it again and tells it.
    """
    if outcome.done in ("written", "unchanged"):
        file = ready.spec if isinstance(ready, Publication) else None
        guarded(unit.name, partial(prepare_numbers, context, unit, file))
