"""The engine: stale units in parallel through Dask, each after those it reads."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from typing import Any

from sunledger.run.context import RunContext
from sunledger.run.groups import grouped, run_aggregates, run_group
from sunledger.run.making import run_unit
from sunledger.run.plan import Plan
from sunledger.run.publish import Outcome
from sunledger.run.unit import Unit

Progress = Callable[[Outcome, int, int], None]

# Dask's nanny asks the allocator to give memory back at once, which makes every numpy temporary
# fault its pages in again: measured 1.2 times slower. 256 MiB is more than a month ever frees.
_KEEP_MEMORY = str(256 * 1024 * 1024)
# The usual port may be taken by another run on the same machine; nobody else may look on.
_ANY_PORT = "127.0.0.1:0"
_ENVIRON = {
    "MALLOC_TRIM_THRESHOLD_": _KEEP_MEMORY,
    "MALLOC_MMAP_THRESHOLD_": _KEEP_MEMORY,
    "POLARS_MAX_THREADS": "1",
    "OMP_NUM_THREADS": "1",
}


def run_in_process(context: RunContext, plan: Plan, progress: Progress) -> list[Outcome]:
    """
    Make the stale units of a plan one after the other in this process.

    Parameters
    ----------
    context : RunContext
        The run.
    plan : Plan
        Units in an order in which each stands after those it reads.
    progress : callable
        Told of each outcome, how many are done, and how many there are.

    Returns
    -------
    outcomes : list of Outcome
        In the order of the plan.
    """
    done: dict[str, Outcome] = {}
    stale = plan.stale()
    for group in grouped(stale):
        needed = dict.fromkeys(name for unit in group for name in unit.after)
        for outcome in _made(context, group, [done[n] for n in needed if n in done]):
            done[outcome.unit] = outcome
            progress(outcome, len(done), len(stale))
    return [done[unit.name] for unit in stale]


@contextlib.contextmanager
def _client(workers: int, scheduler: str | None) -> Iterator[Any]:
    import dask
    from distributed import Client, LocalCluster

    if scheduler is not None:
        with Client(scheduler) as client:
            yield client
        return
    settings = {"distributed.nanny.pre-spawn-environ": _ENVIRON}
    with (
        dask.config.set(settings),
        LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            dashboard_address=_ANY_PORT,
        ) as cluster,
        Client(cluster) as client,
    ):
        yield client


def run_on_cluster(
    context: RunContext, plan: Plan, progress: Progress, workers: int, scheduler: str | None
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
    workers : int
        Worker processes of one thread each: threads of a worker never share a NetCDF handle.
    scheduler : str or None
        Address of an existing cluster.

    Returns
    -------
    outcomes : list of Outcome
        In the order of the plan.
    """
    from distributed import as_completed

    stale = plan.stale()
    with _client(workers, scheduler) as client:
        shared = client.scatter(context, broadcast=True, hash=False)
        futures: dict[str, Any] = {}
        for group in grouped(stale):
            needed = dict.fromkeys(name for unit in group for name in unit.after)
            before = {futures[n].key: futures[n] for n in needed if n in futures}
            future = client.submit(_task, shared, group, *before.values(), pure=False)
            futures |= dict.fromkeys((u.name for u in group), future)
        members: dict[str, list[str]] = {}
        for name, future in futures.items():
            members.setdefault(future.key, []).append(name)
        done: dict[str, Outcome] = {}
        for future in as_completed({f.key: f for f in futures.values()}.values()):
            for outcome in _outcomes_of(future, members[future.key]):
                done[outcome.unit] = outcome
                progress(outcome, len(done), len(stale))
    return [done[unit.name] for unit in stale]


def _task(
    context: RunContext, group: tuple[Unit, ...], *before: tuple[Outcome, ...]
) -> tuple[Outcome, ...]:
    needed = {name for unit in group for name in unit.after}
    read = [o for outcomes in before for o in outcomes if o.unit in needed]
    return tuple(_made(context, group, read))


def _made(context: RunContext, group: tuple[Unit, ...], before: list[Outcome]) -> list[Outcome]:
    if len(group) > 1 and group[0].kind == "aggregate":
        return run_aggregates(context, group, before)
    if len(group) > 1:
        return run_group(context, group)
    return [run_unit(context, group[0], tuple(before))]


def _outcomes_of(future: Any, names: list[str]) -> tuple[Outcome, ...]:
    """Outcomes of a task; of one whose worker died too often, or that reads one, all failed."""
    if future.status == "finished":
        outcomes: tuple[Outcome, ...] = future.result()
        return outcomes
    why = f"the cluster gave it up ({future.status})"
    if future.status == "error":
        error = future.exception()
        why = f"{type(error).__name__}: {error}"
    return tuple(Outcome(name, "failed", error=why) for name in names)
