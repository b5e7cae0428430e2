"""Workers of a run: one Dask cluster for its index, its units and its findings."""

from __future__ import annotations

import logging
import os
import pickle
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from types import TracebackType
from typing import Any, TypeVar

log = logging.getLogger(__name__)

Item = TypeVar("Item")
Shared = TypeVar("Shared")
Result = TypeVar("Result")

# Dask's nanny asks the allocator to give memory back at once, which makes every numpy temporary
# fault its pages in again: measured 1.2 times slower. An array of a month of minutes stays below
# the first limit and is reused; the text of a raw file lies above and is given back. One heap for
# the threads of a worker, of which one works, leaves fewer holes than one for each.
_OWN_PAGES, _FREE_PAGES = str(1 << 20), str(16 << 20)
# The usual port may be taken by another run on the same machine; nobody else may look on.
_ANY_PORT = "127.0.0.1:0"
_ENVIRON = {
    "MALLOC_MMAP_THRESHOLD_": _OWN_PAGES,
    "MALLOC_TRIM_THRESHOLD_": _FREE_PAGES,
    "MALLOC_ARENA_MAX": "1",
    "POLARS_MAX_THREADS": "1",
    "OMP_NUM_THREADS": "1",
}
# Units handed to a worker before it asks for them: one at a time, the scheduler would spend more on
# asking than on anything else; many would all be lost with a worker that dies.
_AHEAD = 8
_LOOK, _LOOKS = 20.0, 3  # s; one that did not come back between so many looks does not come
_CLUSTER = {
    "distributed.nanny.pre-spawn-environ": _ENVIRON,
    "distributed.scheduler.worker-saturation": _AHEAD,
    "distributed.worker.profile.enabled": False,
    # A machine that slept would lose all its workers on waking, and wait for ever; one that dies
    # on this machine is seen to die.
    "distributed.scheduler.worker-ttl": None,
}


def default_workers() -> int:
    """
    Workers of a run that is not told how many.

    Returns
    -------
    workers : int
        As many as this process may use cores. On two cores one: it makes files while a copy of its
        process writes others, and takes 0.7 of the time of two.
    """
    if hasattr(os, "sched_getaffinity"):
        cores = len(os.sched_getaffinity(0))
    else:
        cores = os.cpu_count() or 1
    return cores if cores > 2 else 1


class Crew:
    """
    Workers that are started when they are first asked for, and end with the run.

    Parameters
    ----------
    workers : int
        Worker processes of one thread each: threads of a worker never share a NetCDF handle.
    scheduler : str or None
        Address of an existing cluster, instead of processes of its own.
    """

    def __init__(self, workers: int, scheduler: str | None = None) -> None:
        self._workers, self._scheduler = workers, scheduler
        self._stack = ExitStack()
        self._client: Any = None

    def __enter__(self) -> Crew:
        """
        Begin a run.

        Returns
        -------
        crew : Crew
            Nothing is started yet.
        """
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """
        Stop what was started.

        Parameters
        ----------
        kind, error, trace : type, BaseException, traceback
            Of what ended the run, if it was an error.
        """
        self._stack.__exit__(kind, error, trace)

    @property
    def alone(self) -> bool:
        """
        Whether there is nobody to give work to.

        Returns
        -------
        alone : bool
            One worker and no cluster: everything is done in this process.
        """
        return self._workers == 1 and self._scheduler is None

    def at_most(self, tasks: int) -> None:
        """
        Start no more workers than there are tasks.

        Parameters
        ----------
        tasks : int
            At least one. Workers that are started already stay.
        """
        self._workers = min(self._workers, max(tasks, 1))

    def client(self) -> Any:
        """
        The client of the cluster.

        Returns
        -------
        client : distributed.Client
            The same each time.
        """
        if self._client is None:
            from distributed import Client

            where = self._scheduler
            if where is None:
                where = self._stack.enter_context(local_cluster(self._workers))
                self._stack.enter_context(_watched(where, self._workers))
            self._client = self._stack.enter_context(Client(where))
        return self._client

    def each(
        self, function: Callable[[Shared, Item], Result], shared: Shared, items: Sequence[Item]
    ) -> list[Result]:
        """
        Results of a function for each of some items.

        Parameters
        ----------
        function : callable
            Of what all items share, and the item; it may be tried twice.
        shared : object
            Sent to the workers once.
        items : sequence
            Each a task.

        Returns
        -------
        results : list
            In order. What a worker gave no result for is tried in this process, so that an error
            is raised here.
        """
        from distributed import wait

        client = self.client()
        held = client.submit(same, shared, pure=False)
        packed = [pickle.dumps((function, item)) for item in items]
        futures = client.map(_unpacked, packed, [held] * len(items), pure=False)
        wait(futures)
        return [
            future.result() if future.status == "finished" else function(shared, item)
            for future, item in zip(futures, items, strict=True)
        ]


def _unpacked(packed: bytes, shared: Any) -> Any:
    function, item = pickle.loads(packed)
    return function(shared, item)


def same(shared: Shared) -> Shared:
    """
    What was given: as a task it stays with the cluster when a worker that holds it dies.

    Parameters
    ----------
    shared : object
        Anything.

    Returns
    -------
    shared : object
        The same.
    """
    return shared


@contextmanager
def _watched(cluster: Any, wanted: int) -> Iterator[None]:
    """
    Start workers in place of those that are gone for good.

    A worker that dies is started again, but not one that dies before it has told that it runs: with
    all of them gone so, the run would wait for ever.
    """
    over = threading.Event()

    def watch() -> None:
        looks: deque[set[str]] = deque(maxlen=_LOOKS)
        while not over.wait(_LOOK):
            looks.append(set(cluster.scheduler.workers))
            missing = wanted - len(looks[-1])
            # one that is only starting again comes under another address meanwhile
            if missing > 0 and len(looks) == _LOOKS and all(look == looks[0] for look in looks):
                log.warning("%d of %d workers are gone; started anew", missing, wanted)
                cluster.scale(len(cluster.worker_spec) + missing)
                looks.clear()  # they take a while to come

    thread = threading.Thread(target=watch, name="crew", daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def local_cluster(workers: int) -> Any:
    """
    Worker processes that leave Ctrl-C to this one.

    Parameters
    ----------
    workers : int
        How many.

    Returns
    -------
    cluster : distributed.LocalCluster
        Each worker of one thread.

    Notes
    -----
    A terminal sends it to all; blocked here, it is blocked in every process and thread that the
    cluster starts now or later, and waits for this thread until the cluster stands.
    """
    from multiprocessing import resource_tracker

    import dask
    from distributed import LocalCluster

    resource_tracker.ensure_running()  # which unblocks the signal when it starts
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        with dask.config.set(_CLUSTER):
            return LocalCluster(
                n_workers=workers,
                threads_per_worker=1,
                processes=True,
                dashboard_address=_ANY_PORT,
                # what it would say of a dead worker, outcomes say in plain words
                silence_logs=logging.CRITICAL,
            )
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
