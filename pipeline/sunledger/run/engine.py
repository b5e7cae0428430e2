"""The engine: stale units in parallel through Dask, each after those it reads."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from typing import Any

from sunledger.run.context import RunContext
from sunledger.run.making import run_unit
from sunledger.run.plan import Plan
from sunledger.run.publish import Outcome
from sunledger.run.unit import Unit

Progress = Callable[[Outcome, int, int], None]

# Dask's nanny asks the allocator to give memory back at once, which makes every numpy temporary
# fault its pages in again: measured 1.2 times slower. 256 MiB is more than a month ever frees.
_KEEP_MEMORY = str(256 * 1024 * 1024)
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
    for unit in stale:
        before = tuple(done[name] for name in unit.after if name in done)
        done[unit.name] = run_unit(context, unit, before)
        progress(done[unit.name], len(done), len(stale))
    return list(done.values())


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
            n_workers=workers, threads_per_worker=1, processes=True, dashboard_address=None
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
        for unit in stale:
            before = tuple(futures[name] for name in unit.after if name in futures)
            futures[unit.name] = client.submit(_task, shared, unit, *before, pure=False)
        names = {future.key: name for name, future in futures.items()}
        done: dict[str, Outcome] = {}
        for future in as_completed(futures.values()):
            outcome = _outcome_of(future, names[future.key])
            done[outcome.unit] = outcome
            progress(outcome, len(done), len(stale))
    return [done[unit.name] for unit in stale]


def _task(context: RunContext, unit: Unit, *before: Outcome) -> Outcome:
    return run_unit(context, unit, before)


def _outcome_of(future: Any, name: str) -> Outcome:
    """Outcome of a task; one whose worker died too often, or that reads one, has failed."""
    if future.status == "finished":
        outcome: Outcome = future.result()
        return outcome
    error = future.exception() if future.status == "error" else future.status
    return Outcome(name, "failed", error=f"{type(error).__name__}: {error}")
