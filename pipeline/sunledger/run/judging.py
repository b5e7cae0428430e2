"""Findings after a run: each month judged anew only when the numbers it reads have changed.

The minutes of a month are read once for its numbers (`diagnosing`). What is judged from the series
of months reads numbers alone, so that a changed month costs later ones no minutes, and nothing at
all where the numbers that they read stayed the same.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby
from pathlib import Path

from sunledger.archive.digest import parsed_digest, plain_data
from sunledger.archive.findings_file import (
    FindingsFile,
    findings_path,
    table_bytes,
    write_findings,
)
from sunledger.archive.manifest import checked_manifest, write_manifest
from sunledger.config.resolve import Period
from sunledger.diagnosis.checks import compared
from sunledger.diagnosis.closure_days import moments_of_rows, rows_of
from sunledger.diagnosis.findings import plain_row
from sunledger.diagnosis.last_checks import last_before, marks, since
from sunledger.diagnosis.numbers import KeptMonth
from sunledger.run.context import RunContext
from sunledger.run.diagnosing import (
    Minutes,
    diagnosable,
    kept_numbers,
    make_numbers,
    numbers_key,
)
from sunledger.run.guarding import guarded
from sunledger.run.months import month_bounds
from sunledger.run.publish import Outcome
from sunledger.run.series import Before, StationSeries
from sunledger.run.unit import Unit


@dataclass(frozen=True)
class Month:
    """
    A month that is to be judged, or found fresh.

    Parameters
    ----------
    minutes : Minutes
        In the archive.
    period : Period
        Resolved configuration of the month.
    numbers : str
        Key of its numbers.
    """

    minutes: Minutes
    period: Period
    numbers: str


def judge(
    context: RunContext, units: Sequence[Unit], left_out: Collection[tuple[str, str]] = ()
) -> list[Outcome]:
    """
    Make the findings of all months of a plan whose minutes are in the archive.

    Parameters
    ----------
    context : RunContext
        The run.
    units : sequence of Unit
        Of the plan.
    left_out : collection of (str, str)
        Stations and months on which no raw file bears any more.

    Returns
    -------
    outcomes : list of Outcome
        One a month; a month that fails stops no other.
    """
    outcomes: list[Outcome] = []
    for station, group in groupby(diagnosable(context, units), key=lambda m: m.station):
        months = {m.minutes.period: m for m in _months(context, group)}
        planned = {u.period for u in units if u.station == station and u.kind == "minute"}
        gone = {month for name, month in left_out if name == station}
        keys = {name: month.numbers for name, month in months.items()}
        minutes = {name: month.minutes for name, month in months.items()}
        series = StationSeries(context, station, minutes, keys, (planned - keys.keys()) | gone)
        outcomes += (_guarded(context, series, month) for month in months.values())
    return outcomes


def _months(context: RunContext, minutes: Iterable[Minutes]) -> Iterator[Month]:
    for one in minutes:
        yield Month(one, *numbers_key(context, one))


def _guarded(context: RunContext, series: StationSeries, month: Month) -> Outcome:
    name = f"{month.minutes.station} findings {month.minutes.period}"
    return guarded(name, partial(_judged, context, series, month))


def _judged(context: RunContext, series: StationSeries, month: Month) -> Outcome:
    """Findings and table as they are where they rest on the same numbers; else made again."""
    about = month.minutes
    path = findings_path(context.archive / about.station, about.period)
    found = series.file(about.period)
    before, key = _read_before(context, series, month)
    file = _fresh(path, found, key)
    same = file is not None and file.rows == about.findings
    if file is None:
        numbers = kept_numbers(context, about, month.numbers)
        numbers = numbers or make_numbers(context, about, month.period, month.numbers)
        config = context.station(about.station)
        read = (before.verdicts, moments_of_rows(before.days))
        kept = KeptMonth(about.period, config, month.period, numbers, *read)
        file = _findings(kept, {"key": key, "minutes": about.digest, "numbers": month.numbers})
        write_findings(path, file)
    series.learn(about.period, file)
    if file.rows != about.findings:
        product = context.product_path(about.station, about.product, about.period)
        write_manifest(product, replace(checked_manifest(product), findings=file.rows))
    return Outcome("", "unchanged" if same else "written", str(path))


def _read_before(context: RunContext, series: StationSeries, month: Month) -> tuple[Before, str]:
    """What a month reads of others, and the key of its findings."""
    period = month.period
    found = marks(context.station(month.minutes.station), period)
    bearing = [last_before(found, period.start)]
    bearing += [m for m in found if period.start < m.time < period.end]
    start, _ = month_bounds(month.minutes.period)
    before = series.before(month.minutes.period, since(found, period), start)
    key = {"numbers": month.numbers, "marks": plain_data(bearing), "before": before.key}
    return before, parsed_digest(key)


def _fresh(path: Path, file: FindingsFile | None, key: str) -> FindingsFile | None:
    """The findings file of a month, if it is of this key and its table says the same."""
    if file is None or file.header.get("key") != key:
        return None
    try:
        table = path.with_suffix(".csv").read_bytes()
    except OSError:
        return None
    return file if table == table_bytes(file.rows) else None


def _findings(month: KeptMonth, origin: dict[str, str]) -> FindingsFile:
    """What the findings file of a month holds."""
    found, verdicts = compared(month, month.numbers.told)
    header = {
        "station": month.resolved.station_id,
        "period": month.period,
        **origin,
        "verdicts": verdicts,
        "closure": rows_of(month.moments),
    }
    return FindingsFile(plain_data(header), tuple(plain_data(plain_row(f)) for f in found))
