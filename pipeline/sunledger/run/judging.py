"""Findings after a run: each month judged anew only when the numbers it reads have changed.

The minutes of a month are read once for its numbers (`diagnosing`). What is judged from the series
of months reads numbers alone, so that a changed month costs later ones no minutes, and nothing at
all where the numbers that they read stayed the same.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
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
from sunledger.run.crew import Crew
from sunledger.run.diagnosing import (
    Minutes,
    diagnosable,
    kept_numbers,
    make_numbers,
    numbers_key,
    resolved_month,
)
from sunledger.run.guarding import guarded
from sunledger.run.months import month_bounds
from sunledger.run.publish import Outcome
from sunledger.run.series import MONTHS_BACK, Before, StationSeries
from sunledger.run.unit import Unit

MANY = 48
"""Months with new numbers from which on workers judge: about two seconds of work."""
PART = 12
"""Months of a station that a worker judges at a time."""


@dataclass(frozen=True)
class Month:
    """
    A month that is to be judged, or found fresh.

    Parameters
    ----------
    minutes : Minutes
        In the archive.
    numbers : str
        Key of its numbers.
    resolved : Period or None
        Resolved configuration of the month; None where it has to be resolved again, for it is long
        and soon made.
    """

    minutes: Minutes
    numbers: str
    resolved: Period | None = None

    def period(self, context: RunContext) -> Period:
        """
        Resolved configuration of the month.

        Parameters
        ----------
        context : RunContext
            The run.

        Returns
        -------
        period : Period
            Of the whole month.
        """
        return self.resolved or resolved_month(context, self.minutes)


@dataclass(frozen=True)
class StationMonths:
    """
    Months of a station that are judged together.

    Parameters
    ----------
    station : str
        Identifier of the station.
    months : dict of Month
        All that can be judged, in order.
    left_out : frozenset of str
        Months that none is compared with.
    """

    station: str
    months: dict[str, Month]
    left_out: frozenset[str]

    def series(self, context: RunContext) -> StationSeries:
        """
        The series of the station.

        Parameters
        ----------
        context : RunContext
            The run.

        Returns
        -------
        series : StationSeries
            Of which nothing was read yet.
        """
        keys = {name: month.numbers for name, month in self.months.items()}
        minutes = {name: month.minutes for name, month in self.months.items()}
        return StationSeries(context, self.station, minutes, keys, self.left_out)


def judge(
    context: RunContext,
    units: Sequence[Unit],
    left_out: Collection[tuple[str, str]] = (),
    crew: Crew | None = None,
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
    crew : Crew or None
        Whose workers judge where much is to be judged anew.

    Returns
    -------
    outcomes : list of Outcome
        One a month; a month that fails stops no other.
    """
    stations = list(_stations(context, units, left_out))
    if crew is None or crew.alone:
        return [o for station in stations for o in _all_judged(context, (station, None))]
    stale = {s.station: _of_new_numbers(context, s) for s in stations}
    if sum(map(len, stale.values())) < MANY:
        return [o for station in stations for o in _all_judged(context, (station, None))]
    # first the numbers, which all months behind read; then no month waits for another
    lacking = [m for s in stations for m in stale[s.station] if not _has_numbers(context, m)]
    crew.each(_make_numbers, context, lacking)
    parts = [part for station in stations for part in _parts(station)]
    return [o for made in crew.each(_all_judged, context, parts) for o in made]


def _stations(
    context: RunContext, units: Sequence[Unit], left_out: Collection[tuple[str, str]]
) -> Iterator[StationMonths]:
    for station, group in groupby(diagnosable(context, units), key=lambda m: m.station):
        months = {m.period: _month(context, m) for m in group}
        planned = {u.period for u in units if u.station == station and u.kind == "minute"}
        gone = {month for name, month in left_out if name == station}
        yield StationMonths(station, months, frozenset((planned - months.keys()) | gone))


def _month(context: RunContext, minutes: Minutes) -> Month:
    period = resolved_month(context, minutes)
    return Month(minutes, numbers_key(context, minutes, period), period)


def _parts(station: StationMonths) -> Iterator[tuple[StationMonths, list[str]]]:
    """Some months each, with those that they are compared with."""
    names = list(station.months)
    for first in range(0, len(names), PART):
        read = names[max(first - MONTHS_BACK, 0) : first + PART]
        months = {name: replace(station.months[name], resolved=None) for name in read}
        yield replace(station, months=months), names[first : first + PART]


def _of_new_numbers(context: RunContext, station: StationMonths) -> list[Month]:
    """Months whose findings are of other numbers than theirs."""
    series = station.series(context)
    files = ((month, series.file(name)) for name, month in station.months.items())
    return [m for m, file in files if file is None or file.header.get("numbers") != m.numbers]


def _has_numbers(context: RunContext, month: Month) -> bool:
    return kept_numbers(context, month.minutes, month.numbers) is not None


def _make_numbers(context: RunContext, month: Month) -> Outcome:
    """One that fails is met again, and told, where its month is judged."""
    name = _name(month)

    def made() -> Outcome:
        make_numbers(context, month.minutes, month.period(context), month.numbers)
        return Outcome(name, "written")

    return guarded(name, made)


def _all_judged(
    context: RunContext, item: tuple[StationMonths, Sequence[str] | None]
) -> list[Outcome]:
    """Outcomes of some months of a station, or of all."""
    station, names = item
    series = station.series(context)
    months = [station.months[name] for name in (station.months if names is None else names)]
    return [guarded(_name(m), partial(_judged, context, series, m)) for m in months]


def _name(month: Month) -> str:
    return f"{month.minutes.station} findings {month.minutes.period}"


def _judged(context: RunContext, series: StationSeries, month: Month) -> Outcome:
    """Findings and table as they are where they rest on the same numbers; else made again."""
    about = month.minutes
    path = findings_path(context.archive / about.station, about.period)
    found = series.file(about.period)
    period = month.period(context)
    before, key = _read_before(context, series, month, period)
    file = _fresh(path, found, key)
    same = file is not None and file.rows == about.findings
    if file is None:
        numbers = kept_numbers(context, about, month.numbers)
        numbers = numbers or make_numbers(context, about, period, month.numbers)
        config = context.station(about.station)
        read = (before.verdicts, moments_of_rows(before.days))
        kept = KeptMonth(about.period, config, period, numbers, *read)
        file = _findings(kept, {"key": key, "minutes": about.digest, "numbers": month.numbers})
        write_findings(path, file)
    series.learn(about.period, file)
    if file.rows != about.findings:
        product = context.product_path(about.station, about.product, about.period)
        write_manifest(product, replace(checked_manifest(product), findings=file.rows))
    return Outcome("", "unchanged" if same else "written", str(path))


def _read_before(
    context: RunContext, series: StationSeries, month: Month, period: Period
) -> tuple[Before, str]:
    """What a month reads of others, and the key of its findings."""
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
