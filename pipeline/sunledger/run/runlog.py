"""The log of a run: one line of JSON an event, so that a run can be followed and told afterwards.

Events are timed by what passed since the start of the run; when it began, the system's time of the
lock file tells.
"""

from __future__ import annotations

import json
import os
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sunledger.archive.listing import BOOKKEEPING
from sunledger.run.publish import Outcome
from sunledger.run.tally import place_of, tally_of
from sunledger.run.unit import Unit

FOLDER = "runs"
KEPT = 50
"""Logs of earlier runs that are kept."""


class RunLog:
    """
    The log of one run.

    Parameters
    ----------
    path : Path
        File of the log.
    units : tuple of Unit
        Stale units.
    """

    def __init__(self, path: Path, units: tuple[Unit, ...]) -> None:
        self._path, self._begin = path, time.perf_counter()
        self._places = {unit.name: place_of(unit) for unit in units}
        self._counts: Counter[str] = Counter()

    def write(self, event: str, **fields: Any) -> None:
        """
        Add a line.

        Parameters
        ----------
        event : str
            ``started``, ``unit`` or ``ended``.
        **fields : object
            What there is to say of it.
        """
        elapsed = round(time.perf_counter() - self._begin, 3)
        line = json.dumps({"event": event, "elapsed": elapsed, **fields}, ensure_ascii=False)
        with self._path.open("a", encoding="utf-8") as handle:
            handle.write(line + "\n")

    def unit(self, outcome: Outcome) -> None:
        """
        Tell what became of a unit.

        Parameters
        ----------
        outcome : Outcome
            Of a unit of the run.
        """
        station, stage = self._places[outcome.unit]
        self._counts[outcome.done] += 1
        rest = {"version": outcome.version, "error": outcome.error, "cause": outcome.cause}
        self.write(
            "unit",
            unit=outcome.unit,
            station=station,
            stage=stage,
            done=outcome.done,
            seconds=round(outcome.seconds, 3),
            **{name: value for name, value in rest.items() if value},
        )

    def ended(self, how: str, error: str = "") -> None:
        """
        Close the log.

        Parameters
        ----------
        how : str
            ``done``, ``some failed``, ``interrupted`` or ``stopped by an error``.
        error : str
            Of the last, the error.
        """
        self.write(
            "ended", how=how, counts=dict(self._counts), **({"error": error} if error else {})
        )

    @property
    def how(self) -> str:
        """
        How a run ended that came to its end.

        Returns
        -------
        how : str
            ``done`` or ``some failed``.
        """
        return "some failed" if self._counts["failed"] else "done"


def log_paths(archive: Path) -> list[Path]:
    """
    Logs of an archive's runs.

    Parameters
    ----------
    archive : Path
        Folder of the archive.

    Returns
    -------
    paths : list of Path
        The newest last.
    """
    return sorted((archive / BOOKKEEPING / FOLDER).glob("*.jsonl"))


@contextmanager
def run_log(
    archive: Path, units: tuple[Unit, ...], workers: int, about: dict[str, Any]
) -> Iterator[RunLog]:
    """
    Log a run, however it ends.

    Parameters
    ----------
    archive : Path
        Folder of the archive, held by this run.
    units : tuple of Unit
        Stale units.
    workers : int
        Units made at a time.
    about : dict
        What else to say of the run.

    Yields
    ------
    log : RunLog
        To be told of each unit.
    """
    before = log_paths(archive)
    for old in before[: -KEPT + 1]:
        old.unlink(missing_ok=True)
    number = int(before[-1].stem) + 1 if before else 1
    path = archive / BOOKKEEPING / FOLDER / f"{number:06}.jsonl"
    path.parent.mkdir(parents=True, exist_ok=True)
    log = RunLog(path, units)
    totals = [
        {"station": station, "stage": stage, "total": count.total}
        for (station, stage), count in tally_of(units, workers).counts.items()
    ]
    log.write("started", process=os.getpid(), workers=workers, totals=totals, **about)
    try:
        yield log
    except KeyboardInterrupt:
        log.ended("interrupted")
        raise
    except Exception as error:
        log.ended("stopped by an error", f"{type(error).__name__}: {error}")
        raise
    log.ended(log.how)


def read_log(path: Path) -> list[dict[str, Any]]:
    """
    Events of a run.

    Parameters
    ----------
    path : Path
        Its log.

    Returns
    -------
    events : list of dict
        In order; a last line that is not whole yet is left out.
    """
    lines = path.read_text(encoding="utf-8").split("\n")
    return [json.loads(line) for line in lines[:-1] if line]
