"""Checks on levelling, cleaning and the plan of visits.

These are rules of common field practice; they have no published source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise

from sunledger.config.ledger_view import DAY, Finding, LedgerView, written_time
from sunledger.config.models.fieldlog import Entry, LevelCheck, PositionEvent
from sunledger.config.record import DeploymentPeriod

_NOT_LEVEL = ("dni", "gti")
"""Quantities of instruments that face the sun or lie in the plane of an array."""


def _horizontal(view: LedgerView) -> Iterator[DeploymentPeriod]:
    """Deployments of radiometers that must stand level."""
    for period, _ in view.radiometer_periods():
        if view.positions.get(period.entry.position, "dni") not in _NOT_LEVEL:
            yield period


def _within(period: DeploymentPeriod, entry: Entry) -> bool:
    return period.start <= entry.time and (period.end is None or entry.time < period.end)


def _level_checks(view: LedgerView, period: DeploymentPeriod) -> list[LevelCheck]:
    here = (e for e in view.of_kind(LevelCheck) if e.position == period.entry.position)
    return [entry for entry in here if _within(period, entry)]


def never_levelled_after_tightening(view: LedgerView) -> Iterator[Finding]:
    """
    Deployments without any level check after the screws were tightened.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the deployment, unless a check that lacks only its last look is reported itself.
    """
    for period in _horizontal(view):
        checks = _level_checks(view, period)
        if not any(c.after_tightening is not None or c.tightened for c in checks):
            yield view.at_entry(
                period.entry,
                "position",
                f"no level check after tightening is recorded for {period.entry.instrument} at"
                f" {period.entry.position}; tightening moves the bubble, so look once more",
            )


def not_looked_at_after_tightening(view: LedgerView) -> Iterator[Finding]:
    """
    Level checks made before tightening and not repeated after it.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the level check.
    """
    for entry in view.of_kind(LevelCheck):
        if entry.tightened and entry.after_tightening is None:
            yield view.at_entry(
                entry,
                "after_tightening",
                f"{entry.position} was levelled and tightened, but not looked at after"
                " tightening; the level it was left with is not known",
            )


def cleaning_overdue(view: LedgerView) -> Iterator[Finding]:
    """
    Radiometers without a recorded cleaning for longer than the plan.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        One a position: its longest gap, at the entry that begins it.
    """

    def cleanings(period: DeploymentPeriod) -> list[Entry]:
        position = period.entry.position
        events = (e for e in view.of_kind(PositionEvent) if e.type == "cleaning")
        return [e for e in events if position in e.positions or not e.positions]

    periods = [p for p, _ in view.radiometer_periods() if p.entry.position in view.positions]
    yield from _gaps(view, periods, cleanings, "cleaning", view.settings.cleaning_plan)


def level_check_overdue(view: LedgerView) -> Iterator[Finding]:
    """
    Horizontal radiometers without a recorded level check for longer than the plan.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        One a position: its longest gap, at the entry that begins it.
    """

    def checks(period: DeploymentPeriod) -> list[Entry]:
        return list(_level_checks(view, period))

    yield from _gaps(view, list(_horizontal(view)), checks, "level check", view.settings.level_plan)


def _gaps(
    view: LedgerView,
    periods: list[DeploymentPeriod],
    entries_of: Callable[[DeploymentPeriod], list[Entry]],
    what: str,
    plan: float,
) -> Iterator[Finding]:
    """Longest gap at each position, where it exceeds the plan. An installation counts as done."""
    by_position: dict[str, list[tuple[int, int, Entry]]] = {}
    for period in periods:
        for gap in _gaps_within(period, entries_of(period), view.last_instant(period)):
            if gap[0] > plan * DAY:
                by_position.setdefault(period.entry.position, []).append(gap)
    for position, gaps in by_position.items():
        length, end, entry = max(gaps, key=lambda gap: gap[0])
        others = f" (the longest of {len(gaps)} such gaps)" if len(gaps) > 1 else ""
        yield view.at_entry(
            entry,
            "from" if entry.type == "deployment" else "time",
            f"no {what} of {position} is recorded from {written_time(end - length)} to"
            f" {written_time(end)}, {length / DAY:.0f} days; the plan is {plan:g}{others}",
        )


def _gaps_within(
    period: DeploymentPeriod, entries: list[Entry], last: int | None
) -> Iterator[tuple[int, int, Entry]]:
    """Length and end of each gap with the entry that begins it; open ends need a last instant."""
    inside = [e for e in entries if _within(period, e) and (last is None or e.time <= last)]
    chain: list[tuple[int, Entry]] = sorted(
        [(period.start, period.entry), *((e.time, e) for e in inside)], key=lambda row: row[0]
    )
    if last is not None:
        chain.append((last, period.entry))
    for (begin, entry), (end, _) in pairwise(chain):
        yield end - begin, end, entry
