"""Telling a person how far a run is: a bar on a terminal, plain lines elsewhere."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from sunledger.run.publish import Outcome


@contextmanager
def progress_of() -> Iterator[Callable[[Outcome, int, int], None]]:
    """
    Something to call with each outcome of a run.

    Yields
    ------
    tell : callable
        Takes an outcome, how many units are done, and how many there are.
    """
    if not sys.stderr.isatty():
        yield _plain
        return
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("planning", total=None)

        def tell(outcome: Outcome, done: int, total: int) -> None:
            bar.update(task, completed=done, total=total, description=outcome.unit)

        yield tell


def _plain(outcome: Outcome, done: int, total: int) -> None:
    words = f"{done}/{total} {outcome.unit}: {outcome.done}"
    sys.stderr.write(words + (f" ({outcome.error})\n" if outcome.error else "\n"))
