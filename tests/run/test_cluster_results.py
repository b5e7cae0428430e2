"""Tasks that never came back have failed, each unit by its name."""

from __future__ import annotations

import pytest

from sunledger.run.cluster_results import outcomes_of
from sunledger.run.publish import Outcome


class Future:
    """What a cluster says of a task."""

    def __init__(self, status: str, error: Exception | None = None) -> None:
        self.status, self.error = status, error

    def result(self) -> tuple[Outcome, ...]:
        """What the task gave."""
        return (Outcome("x", "written"), Outcome("y", "written"))

    def exception(self) -> Exception | None:
        """What the task raised."""
        return self.error


@pytest.mark.parametrize(
    ("future", "done", "words"),
    [
        (Future("finished"), "written", ""),
        (Future("error", RuntimeError("worker died")), "failed", "RuntimeError: worker died"),
        (Future("cancelled"), "failed", "SunledgerError: the cluster gave it up (cancelled)"),
        (Future("lost"), "failed", "SunledgerError: the cluster gave it up (lost)"),
    ],
    ids=["finished", "error", "cancelled", "lost"],
)
def test_a_task_that_never_came_back_has_failed(future: Future, done: str, words: str) -> None:
    """Each of its units is named, with what the cluster knows."""
    outcomes = outcomes_of(future, ["x", "y"])
    assert [(o.unit, o.done, o.error) for o in outcomes] == [("x", done, words), ("y", done, words)]
