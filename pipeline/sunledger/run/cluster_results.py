"""What tasks of a cluster gave, or why they gave nothing."""

from __future__ import annotations

import contextlib
from asyncio import CancelledError
from collections.abc import Sequence
from typing import Any

from sunledger.errors import SunledgerError
from sunledger.run.causes import cause_of
from sunledger.run.publish import Outcome

_LOST = (
    "each worker that tried it died: killed from outside, or by the system or the cluster because"
    " its memory ran out (see the cluster's log)"
)


def results_of(client: Any, futures: list[Any]) -> list[tuple[Outcome, ...] | BaseException]:
    """
    Outcomes of tasks, fetched together as long as nothing is wrong with one.

    Parameters
    ----------
    client : distributed.Client
        Of the cluster.
    futures : list of distributed.Future
        Tasks that have ended, each of a group of units.

    Returns
    -------
    results : list
        Outcomes of a group, or why there are none.
    """
    if all(future.status == "finished" for future in futures):
        with contextlib.suppress(Exception, CancelledError):
            found: list[tuple[Outcome, ...] | BaseException] = client.gather(futures)
            return found
    return [_result_of(future) for future in futures]


def _result_of(future: Any) -> tuple[Outcome, ...] | BaseException:
    if future.status == "error":
        error: BaseException = future.exception()
        return error
    if future.status != "finished":
        return SunledgerError(f"the cluster gave it up ({future.status})")
    try:
        outcomes: tuple[Outcome, ...] = future.result()
    except (Exception, CancelledError) as gone:  # its worker died with the result
        return gone
    return outcomes


def outcomes_of(future: Any, names: Sequence[str]) -> tuple[Outcome, ...]:
    """
    Outcomes of a task; of one whose worker died too often all failed.

    Parameters
    ----------
    future : distributed.Future
        A task that has ended.
    names : sequence of str
        Of its units.

    Returns
    -------
    outcomes : tuple of Outcome
        One a unit.
    """
    found = _result_of(future)
    if not isinstance(found, BaseException):
        return found
    cause = cause_of(found)
    why = _LOST if cause == "worker lost" else f"{type(found).__name__}: {found}"
    return tuple(Outcome(name, "failed", error=why, cause=cause) for name in names)
