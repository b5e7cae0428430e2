"""Brings finished files into the archive while the next are made, with all hands that are free."""

from __future__ import annotations

import logging
import time
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from types import TracebackType

from sunledger.run.guarding import guarded, published
from sunledger.run.publish import Entered, Outcome, Publication, Ready, completed, entered
from sunledger.run.side_process import SideProcess, SideProcessError, can_be_copied

log = logging.getLogger(__name__)

FEWEST = 3
"""Files from which on a process for them is worth its start."""
LARGEST = 64 << 20
"""Values of a file that the process gets; a larger one would be held twice. [byte]"""


@dataclass
class _Task:
    """A file that waits, the time spent on it so far, and what will become of it."""

    file: Entered
    seconds: float
    outcome: Future[Outcome] = field(default_factory=Future)

    def done_by(self, complete: Callable[[Entered], Outcome]) -> None:
        begin = time.perf_counter()
        try:
            outcome = guarded(self.file.publication.unit, partial(complete, self.file))
            spent = self.seconds + time.perf_counter() - begin
            self.outcome.set_result(replace(outcome, seconds=spent))
        except BaseException as error:
            self.outcome.set_exception(error)
            raise


class Archivist:
    """
    Brings what is made into the archive; entries stand in the order in which it is handed in.

    Where this process can be copied, the copy packs, writes and checks the files, so that nobody
    waits for the other's interpreter; else a thread does. Should the copy be lost, the thread goes
    on.

    Parameters
    ----------
    files : int
        How many are expected.
    """

    def __init__(self, files: int) -> None:
        # made before the first thread of this process
        self._beside = _copied() if files >= FEWEST and can_be_copied() else None
        self._thread = ThreadPoolExecutor(1, "archive")
        self._waiting: deque[_Task] = deque()

    def __enter__(self) -> Archivist:
        """
        Begin.

        Returns
        -------
        archivist : Archivist
            Nothing is brought in yet.
        """
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """
        Wait for all that was handed in.

        Parameters
        ----------
        kind, error, trace : type, BaseException, traceback
            Of what ended the run, if it was an error.
        """
        try:
            self._thread.shutdown()
        finally:  # interrupted once more, the copy is not to stay with the lock of the archive
            if self._beside is not None:
                self._beside.close()

    def bring(self, ready: Ready, seconds: float) -> Future[Outcome]:
        """
        Enter a file into the change record, and have it written.

        Parameters
        ----------
        ready : Outcome or Publication
            What making the unit gave.
        seconds : float
            Time that making it took. [s]

        Returns
        -------
        outcome : Future of Outcome
            With the time of both.
        """
        begin = time.perf_counter()
        file = ready if isinstance(ready, Outcome) else _entered(ready)
        seconds += time.perf_counter() - begin
        if isinstance(file, Outcome):
            told: Future[Outcome] = Future()
            told.set_result(replace(file, seconds=seconds))
            return told
        task = _Task(file, seconds)
        self._waiting.append(task)
        self._thread.submit(self._next_by, self._completed)
        return task.outcome

    def lend_a_hand(self, left: int) -> bool:
        """
        Write a file here that still waits, while the copy of this process writes another.

        Parameters
        ----------
        left : int
            Files that are to stay for the copy.

        Returns
        -------
        done : bool
            False where too few wait, or nobody works beside this thread.
        """
        if self._beside is None or len(self._waiting) <= left:
            return False
        return self._next_by(completed)

    def _next_by(self, complete: Callable[[Entered], Outcome]) -> bool:
        try:
            task = self._waiting.popleft()
        except IndexError:  # somebody else was faster
            return False
        task.done_by(complete)
        return True

    def _completed(self, file: Entered) -> Outcome:
        if self._beside is None or size_of(file.publication) > LARGEST:
            return completed(file)
        try:
            return self._beside.ask(file)
        except SideProcessError as gone:
            log.warning("the process that writes files is gone (%s); this one goes on", gone)
            self._beside.close()
            self._beside = None
            return completed(file)  # whatever the other left half done


def _copied() -> SideProcess[Entered, Outcome] | None:
    try:
        return SideProcess(_guarded)
    except SideProcessError as refused:
        log.warning("no process to write files beside this one (%s); a thread does it", refused)
        return None


def _entered(ready: Publication) -> Entered | Outcome:
    return guarded(ready.unit, partial(entered, ready))


def _guarded(file: Entered) -> Outcome:
    return guarded(file.publication.unit, partial(completed, file))


def size_of(ready: Ready) -> int:
    """
    Memory that a file takes while it waits.

    Parameters
    ----------
    ready : Outcome or Publication
        What making a unit gave.

    Returns
    -------
    size : int
        Of its series. [byte]
    """
    return ready.spec.nbytes if isinstance(ready, Publication) else 0


def brought(ready: Ready, seconds: float) -> Outcome:
    """
    Bring what a unit gave into the archive, at once.

    Parameters
    ----------
    ready : Outcome or Publication
        What making the unit gave.
    seconds : float
        Time that making it took. [s]

    Returns
    -------
    outcome : Outcome
        With the time of both.
    """
    begin = time.perf_counter()
    outcome = published(ready)
    return replace(outcome, seconds=seconds + time.perf_counter() - begin)
