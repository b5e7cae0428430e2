"""The state of an archive at any time: what it holds, and the run going on or the last one."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from sunledger.archive.listing import published, station_folders
from sunledger.run.lock import holder
from sunledger.run.runlog import log_paths, read_log
from sunledger.run.tally import Tally, duration, tally_from


@dataclass(frozen=True)
class Held:
    """
    Files of one station and product.

    Parameters
    ----------
    station, product : str
        Whose.
    first, last : str
        First and last month or year.
    statuses : dict
        Status → number of files.
    """

    station: str
    product: str
    first: str
    last: str
    statuses: dict[str, int]


@dataclass(frozen=True)
class LastRun:
    """
    The run going on, or the last one.

    Parameters
    ----------
    how : str
        ``running``, ``done``, ``some failed``, ``interrupted``, ``stopped by an error`` or
        ``killed``.
    holder : str
        Process of a run going on.
    elapsed : float
        From its start to its last event. [s]
    remaining : float or None
        Of a run going on. [s]
    stations : tuple of str
        Progress by stage, one line a station.
    failed : tuple of str
        Units that failed, with their causes.
    """

    how: str
    holder: str
    elapsed: float
    remaining: float | None
    stations: tuple[str, ...]
    failed: tuple[str, ...]


@dataclass(frozen=True)
class State:
    """
    State of an archive.

    Parameters
    ----------
    run : LastRun or None
        None where no run was logged.
    held : tuple of Held
        What it holds.
    """

    run: LastRun | None
    held: tuple[Held, ...]

    def plain(self) -> dict[str, Any]:
        """
        The same for scripts.

        Returns
        -------
        plain : dict
            Plain data.
        """
        return asdict(self)


def archive_state(archive: Path) -> State:
    """
    State of an archive; nothing is changed, and a run going on is not disturbed.

    Parameters
    ----------
    archive : Path
        Folder of the archive.

    Returns
    -------
    state : State
        What it holds by station and product, and how the last run is going or went.

    Raises
    ------
    ArchiveError
        If there is no such folder.
    """
    held = tuple(h for folder in station_folders(archive) for h in _held(folder))
    logs = log_paths(archive)
    return State(_last_run(read_log(logs[-1]), holder(archive)) if logs else None, held)


def _held(folder: Path) -> list[Held]:
    files: dict[str, list[tuple[str, str]]] = {}
    for file in published(folder):
        about = (file.manifest.period, file.manifest.status)
        files.setdefault(file.recorded_product, []).append(about)
    return [
        Held(
            folder.name,
            product,
            min(period for period, _ in row),
            max(period for period, _ in row),
            dict(Counter(status for _, status in row)),
        )
        for product, row in files.items()
    ]


def _last_run(events: list[dict[str, Any]], held_by: str | None) -> LastRun | None:
    if not events:
        return None
    tally, failed = _tally(events)
    last = events[-1]
    how = str(last["how"]) if last["event"] == "ended" else "running" if held_by else "killed"
    going = how == "running"
    return LastRun(
        how,
        held_by or "" if going else "",
        float(last["elapsed"]),
        tally.remaining() if going else None,
        tuple(tally.lines()),
        tuple(failed),
    )


def _tally(events: list[dict[str, Any]]) -> tuple[Tally, list[str]]:
    started = events[0]
    tally, failed = tally_from(started["totals"], int(started["workers"])), []
    for event in events[1:]:
        if event["event"] == "unit":
            bad = event["done"] == "failed"
            tally.add((event["station"], event["stage"]), bad, float(event["seconds"]))
            if bad:
                failed.append(f"{event['unit']}: {event['error']} [{event.get('cause', '')}]")
    return tally, failed


def state_lines(state: State) -> list[str]:
    """
    The state in words.

    Parameters
    ----------
    state : State
        From :func:`archive_state`.

    Returns
    -------
    lines : list of str
        The run, then what the archive holds.
    """
    lines = _run_lines(state.run) if state.run else ["No run was logged"]
    for held in state.held:
        statuses = ", ".join(f"{n} {word}" for word, n in sorted(held.statuses.items()))
        span = held.first if held.first == held.last else f"{held.first} to {held.last}"
        lines.append(f"{held.station} {held.product}: {span}: {statuses}")
    return lines


def _run_lines(run: LastRun) -> list[str]:
    if run.how == "running":
        left = "" if run.remaining is None else f"; about {duration(run.remaining)} left"
        first = f"Running ({run.holder}); last event after {duration(run.elapsed)}{left}"
    elif run.how == "killed":
        first = f"The last run was killed; its last event came after {duration(run.elapsed)}"
    else:
        first = f"Last run: {run.how} after {duration(run.elapsed)}"
    return [first, *(f"  {s}" for s in run.stations), *(f"  Failed: {f}" for f in run.failed)]
