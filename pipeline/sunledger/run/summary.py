"""The closing summary of a run, in words a person can read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from itertools import groupby
from typing import get_args

from sunledger.config.loading import StationConfig
from sunledger.run.diagnosing import finding_words
from sunledger.run.findings import finding_lines
from sunledger.run.job import Job
from sunledger.run.publish import Done, Outcome
from sunledger.run.status import lacking_for_final

LINE_WORDS = ("kept", "repeated", "conflicting", "rejected")


def _of_station(outcomes: Iterable[Outcome], station: str, product: str) -> list[Outcome]:
    return [o for o in outcomes if o.unit.startswith(f"{station} {product} ")]


def _line_words(outcomes: list[Outcome]) -> str:
    total: Counter[str] = Counter()
    for outcome in outcomes:
        total.update({w: outcome.accounting.get(w, 0) for w in (*LINE_WORDS, "data_lines")})
    parts = ", ".join(f"{total[word]:,} {word}" for word in LINE_WORDS)
    return f"{total['data_lines']:,} data lines: {parts}"


def _shares(outcomes: list[Outcome], minutes: int) -> list[str]:
    """Per quantity: minutes with a value, and of these the share that each test flags."""
    present: Counter[str] = Counter()
    flags: dict[str, Counter[str]] = {}
    for outcome in outcomes:
        present.update(outcome.accounting.get("present", {}))
        for quantity, raised in outcome.flags_raised.items():
            flags.setdefault(quantity, Counter()).update(raised)
    lines = []
    for quantity, count in present.items():
        lines.append(f"    {quantity}: {count:,} with a value ({count / minutes:.1%})")
        rest = {n: c for n, c in flags.get(quantity, Counter()).items() if n != "missing"}
        for name, n in sorted(rest.items(), key=lambda item: -item[1]):
            lines.append(f"      {name:34} {n / max(count, 1):8.3%} {n:>10,}")
    return lines


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
    voltages = _of_station(outcomes, station, "voltage")
    lines = [f"{name} ({station})", f"  {_line_words(voltages)}", *finding_lines(voltages)]
    products = {o.unit.rpartition(" ")[0].partition(" ")[2] for o in outcomes}
    for product in sorted(p for p in products if p.split()[0] in ("minute", "series")):
        made = _of_station(outcomes, station, product)
        if count := sum(o.accounting.get("minutes", 0) for o in made):
            what = "minutes" if product == "minute" else f"intervals of {product.split()[1]} s"
            lines.append(
                f"  {count:,} {what}; of those with a value, share and number flagged by each test:"
            )
            lines += _shares(made, count)
    return lines


def final_lines(config: StationConfig, outcomes: list[Outcome]) -> list[str]:
    """
    What the provisional months of a station still lack to be final.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    outcomes : list of Outcome
        Of the whole run.

    Returns
    -------
    lines : list of str
        One line a month and need; months in a row that lack the same share their lines.
    """
    made = _of_station(outcomes, config.station.id, "minute")
    months = sorted(o.unit.split()[-1] for o in made if o.status == "provisional")
    lines = []
    for lacking, group in groupby(months, key=lambda month: lacking_for_final(config, month)):
        row = list(group)
        which = row[0] if len(row) == 1 else f"{row[0]} to {row[-1]}"
        lines += [f"  {which}: provisional until there is", *(f"    {what}" for what in lacking)]
    return lines


def _kind(outcome: Outcome) -> str:
    """Of a failure where the machine is to blame, not the data: a person looks elsewhere."""
    plain = outcome.cause in ("", "data", "read one that failed")
    return "" if plain else f" [{outcome.cause}]"


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
            lines += final_lines(config, outcomes)
            made = _of_station(outcomes, station.id, "minute")
            months = sorted({o.unit.split()[-1] for o in made})
            lines += finding_words(job.context, station.id, months)
    counts = Counter(o.done for o in outcomes)
    said = ", ".join(f"{counts[w]} {w}" for w in get_args(Done) if counts[w])
    lines.append(f"Files: {said or 'nothing to do'}; archive: {job.context.archive}")
    lines += [
        f"  wrote {o.path} (version {o.version}, {o.status})"
        for o in outcomes
        if o.done == "written"
    ]
    lines += [f"Raw file {problem}" for problem in job.raw_problems]
    lines += [
        f"Empty: {name}: no raw file for this month, nothing written" for name in job.plan.empty
    ]
    lines += [f"Note: {remark}" for remark in job.plan.remarks]
    lines += [f"Empty: {o.unit}: {o.error}" for o in outcomes if o.done == "empty"]
    lines += [f"Failed: {o.unit}: {o.error}{_kind(o)}" for o in outcomes if o.done == "failed"]
    return lines
