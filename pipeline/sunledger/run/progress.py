"""Telling a person how far a run is: bars by station and stage on a terminal, else plain lines."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from sunledger.run.publish import Outcome
from sunledger.run.tally import Count, Tally, duration, place_of, tally_of
from sunledger.run.unit import Unit

if TYPE_CHECKING:
    from rich.progress import Progress

MOST_BARS = 12
"""Stations and stages shown at a time; more would push one another off the screen."""
PAUSE = 0.1
"""Least time between two drawings of the bars. [s]"""


class Lines:
    """One plain line a unit, with the time remaining."""

    def __init__(self) -> None:
        self._tally = Tally()
        self._places: dict[str, tuple[str, str]] = {}

    def planned(self, units: tuple[Unit, ...], workers: int) -> None:
        """
        Take notice of what will be made.

        Parameters
        ----------
        units : tuple of Unit
            Stale units.
        workers : int
            Units made at a time.
        """
        self._tally = tally_of(units, workers)
        self._places = {unit.name: place_of(unit) for unit in units}

    def _counted(self, outcome: Outcome) -> tuple[tuple[str, str], Count]:
        place = self._places.get(outcome.unit, (outcome.unit.split()[0], ""))
        return place, self._tally.add(place, outcome.done == "failed", outcome.seconds)

    def _left(self) -> str:
        remaining = self._tally.remaining() if self._places else None
        return "" if remaining is None else f"about {duration(remaining)} left"

    def __call__(self, outcome: Outcome, done: int, total: int) -> None:
        self._counted(outcome)
        words = f"{done}/{total} {outcome.unit}: {outcome.done}"
        words += f" ({outcome.error})" if outcome.error else ""
        left = self._left() if done < total else ""
        sys.stderr.write(words + (f"; {left}\n" if left else "\n"))


class Bars(Lines):
    """A bar for all units and one for each station and stage at work, on a terminal."""

    def __init__(self, screen: Progress) -> None:
        super().__init__()
        self._screen = screen
        self._all = screen.add_task("planning", total=None, left="")
        self._shown: dict[tuple[str, str], Any] = {}
        self._drawn = 0.0

    def __call__(self, outcome: Outcome, done: int, total: int) -> None:
        place, count = self._counted(outcome)
        self._screen.update(
            self._all, description=outcome.unit, completed=done, total=total, left=self._left()
        )
        if place not in self._shown and len(self._shown) < MOST_BARS:
            self._shown[place] = self._screen.add_task(" ".join(place), left="")
        if place in self._shown:
            self._screen.update(self._shown[place], completed=count.done, total=count.total)
            if count.done >= count.total:
                self._screen.remove_task(self._shown.pop(place))
        self._draw()

    def _draw(self) -> None:
        if (now := time.monotonic()) - self._drawn >= PAUSE:
            self._drawn = now
            self._screen.refresh()


@contextmanager
def progress_of() -> Iterator[Lines]:
    """
    Something to call with each outcome of a run.

    Yields
    ------
    tell : Lines
        Takes an outcome, how many units are done, and how many there are.
    """
    if not sys.stderr.isatty():
        yield Lines()
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[left]}"),
    )
    # drawn as units end, since a thread that draws would keep the run from copying its process
    with Progress(
        *columns, console=Console(stderr=True), transient=True, auto_refresh=False
    ) as screen:
        yield Bars(screen)
