"""Units that share what they read, made together so that each file is read once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import partial

import xarray as xr

from sunledger.errors import SunledgerError
from sunledger.run.context import RunContext
from sunledger.run.days import forget_days
from sunledger.run.guarding import failed_before, failure, guarded, with_months
from sunledger.run.making import ready_aggregate, ready_voltage, run_unit
from sunledger.run.publish import Outcome, Ready
from sunledger.run.unit import Unit
from sunledger.run.years import Name, YearInMaking, aggregated_year
from sunledger.stages.growing import ingest_growing
from sunledger.stages.ingest import RawFile

LARGE = 3
"""Months that a file touches before its units are made together: fewer are quickly read again, and
workers share them."""
ANY = 2
"""The same where there is nobody to share with: no file is read twice."""


def grouped(units: Iterable[Unit], large: int = LARGE) -> list[tuple[Unit, ...]]:
    """
    Bring together the units that read the same large files, or the same minutes.

    Parameters
    ----------
    units : iterable of Unit
        Stale units, each after those it reads.
    large : int
        Months that a file touches before its units are made together.

    Returns
    -------
    groups : list of tuple of Unit
        Voltage units that share, directly or through others, a file of so many months or more;
        the aggregates of a station and year; every other unit, an open month too, alone. In the
        order of their first units.
    """
    groups: list[list[Unit]] = []
    holder: dict[tuple[str, str, str], list[Unit]] = {}
    for unit in units:
        shares = () if unit.settings.get("status") == "open" else unit.shares  # made by its days
        files = [(unit.station, unit.logger, s.name) for s in shares if s.months >= large]
        if unit.kind == "aggregate":
            files = [(unit.station, "minutes of", unit.period)]
        mine: list[Unit] = []
        for shared in {id(holder[f]): holder[f] for f in files if f in holder}.values():
            if not mine:
                mine = shared
                continue
            mine.extend(shared)
            groups = [g for g in groups if g is not shared]
            holder.update({f: mine for f, group in holder.items() if group is shared})
        if not mine:
            groups.append(mine)
        mine.append(unit)
        holder.update(dict.fromkeys(files, mine))
    return [tuple(group) for group in groups]


def run_aggregates(
    context: RunContext,
    units: Sequence[Unit],
    before: Sequence[Outcome],
    ahead: YearInMaking | None = None,
) -> Iterator[Ready]:
    """
    Make the aggregates of a station and year, its minutes read once.

    Parameters
    ----------
    context : RunContext
        The run.
    units : sequence of Unit
        From :func:`grouped`.
    before : sequence of Outcome
        What became of the units they read.
    ahead : YearInMaking or None
        What was begun of them while their minutes came.

    Yields
    ------
    ready : Outcome or Publication
        One a unit, in order; one that fails stops no other.
    """
    year: dict[Name, xr.Dataset] = {}
    begun = [ahead]

    def made(unit: Unit) -> Ready:
        if not year:
            # what was begun is used up by a try, also by one that fails
            mine = begun.pop() if begun else None
            year.update(aggregated_year(context, [u for u in ready if u.months], mine))
        return ready_aggregate(context, unit, year)

    ready = [with_months(unit, before) for unit in units]
    for unit in ready:
        unmade = failed_before(unit, [o for o in before if o.unit in unit.after])
        yield guarded(unit.name, partial(made, unit)) if unmade is None else unmade


def run_group(context: RunContext, units: Sequence[Unit]) -> Iterator[Ready]:
    """
    Make voltage units of one logger, each file opened once and each month given when complete.

    Parameters
    ----------
    context : RunContext
        The run.
    units : sequence of Unit
        From :func:`grouped`.

    Yields
    ------
    ready : Outcome or Publication
        One a unit; a unit that fails stops no other. A file that can no longer be read
        as it was indexed fails those whose lines had not all been read, where files are large;
        else each of these is tried by itself.
    """
    station = context.station(units[0].station).station
    by_month = {unit.period: unit for unit in units}
    made: set[str] = set()

    def closed(unit: Unit, readings: xr.Dataset) -> Ready:
        forget_days(context, unit)
        return ready_voltage(context, unit, readings)

    def ready(of_month: tuple[str, xr.Dataset]) -> Ready:
        unit = by_month[of_month[0]]
        made.add(unit.period)
        return guarded(unit.name, partial(closed, unit, of_month[1]))

    why: BaseException = SunledgerError("not reached")
    try:
        expected = {u.period: {s.name: s.lines for s in u.shares} for u in units}
        files = _files(context, units)
        # a loop would hold a month's readings while the next are read, and while minutes are made
        yield from map(ready, ingest_growing(files, station, units[0].logger, expected))
    except (SunledgerError, OSError, MemoryError) as error:
        why = error
    left = [unit for unit in units if unit.period not in made]
    large = any(share.months >= LARGE for unit in left for share in unit.shares)
    yield from (failure(u.name, why) if large else run_unit(context, u, ()) for u in left)


def _files(context: RunContext, units: Sequence[Unit]) -> list[RawFile]:
    """Every file once, in the order in which the ingest stage joins them."""
    digests = {name: sha256 for unit in units for name, sha256, _ in unit.sources}
    opening = {share.name: share.opening for unit in units for share in unit.shares}
    order = sorted(digests, key=lambda name: (opening[name], digests[name], name))
    return [RawFile(context.raw / name, name, digests[name]) for name in order]
