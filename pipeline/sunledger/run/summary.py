"""The closing summary of a run, in words a person can read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from sunledger.run.job import Job
from sunledger.run.publish import Outcome

LINE_WORDS = ("kept", "repeated", "conflicting", "rejected")
MOST_FLAGS = 12


def _of_station(outcomes: Iterable[Outcome], station: str, product: str) -> list[Outcome]:
    return [o for o in outcomes if o.unit.startswith(f"{station} {product} ")]


def _line_words(outcomes: list[Outcome]) -> str:
    total: Counter[str] = Counter()
    for outcome in outcomes:
        total.update({w: outcome.accounting.get(w, 0) for w in (*LINE_WORDS, "data_lines")})
    parts = ", ".join(f"{total[word]:,} {word}" for word in LINE_WORDS)
    return f"{total['data_lines']:,} data lines: {parts}"


def _flag_words(outcomes: list[Outcome], minutes: int) -> list[str]:
    total: Counter[tuple[str, str]] = Counter()
    for outcome in outcomes:
        for quantity, flags in outcome.flags_raised.items():
            total.update({(quantity, name): n for name, n in flags.items()})
    rows = total.most_common(MOST_FLAGS)
    return [f"    {quantity:4} {name:34} {n / minutes:8.3%}" for (quantity, name), n in rows]


def station_lines(outcomes: list[Outcome], station: str, name: str) -> list[str]:
    """
    What became of one station.

    Parameters
    ----------
    outcomes : list of Outcome
        Of the whole run.
    station : str
        Its identifier.
    name : str
        Its name.

    Returns
    -------
    lines : list of str
        Lines of raw data, minutes, and shares flagged by test.
    """
    minutes = _of_station(outcomes, station, "minute")
    count = sum(o.accounting.get("minutes", 0) for o in minutes)
    lines = [f"{name} ({station})", f"  {_line_words(_of_station(outcomes, station, 'voltage'))}"]
    if count:
        lines += [f"  {count:,} minutes; share flagged, by quantity and test:"]
        lines += _flag_words(minutes, count)
    return lines


def summary(job: Job, outcomes: list[Outcome]) -> list[str]:
    """
    Closing summary.

    Parameters
    ----------
    job : Job
        What was planned.
    outcomes : list of Outcome
        What became of it.

    Returns
    -------
    lines : list of str
        Stations, then files, then what failed or was empty.
    """
    lines: list[str] = []
    for config in job.context.stations:
        station = config.station
        if any(o.unit.startswith(f"{station.id} ") for o in outcomes):
            lines += station_lines(outcomes, station.id, station.name)
    counts = Counter(o.done for o in outcomes)
    words = ("written", "unchanged", "empty", "failed")
    said = ", ".join(f"{counts[w]} {w}" for w in words if counts[w])
    lines.append(f"Files: {said or 'nothing to do'}; archive: {job.context.archive}")
    lines += [
        f"  wrote {o.path} (version {o.version}, {o.status})"
        for o in outcomes
        if o.done == "written"
    ]
    lines += [
        f"Empty: {name}: no raw file for this month, nothing written" for name in job.plan.empty
    ]
    lines += [f"Empty: {o.unit}: {o.error}" for o in outcomes if o.done == "empty"]
    lines += [f"Failed: {o.unit}: {o.error}" for o in outcomes if o.done == "failed"]
    return lines
