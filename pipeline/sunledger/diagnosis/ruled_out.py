"""Causes of a change that the record rules out: checks around it that found nothing of its size."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from sunledger.config.clocks import clock_checks
from sunledger.config.loading import StationConfig
from sunledger.config.models.fieldlog import ClockCheck, LevelCheck
from sunledger.config.resolve import Period
from sunledger.diagnosis.month import SeriesMonth
from sunledger.diagnosis.of_record import COMPONENTS
from sunledger.diagnosis.step_causes import CLOCK, LEAN
from sunledger.diagnosis.watchdog import as_seconds

HALF = 0.5
"""A cause is ruled out where the record leaves it less than this share of what it would have to
have done."""
READ_OFF = 0.1
"""Nearer than this a spirit level is not read. [degree]"""
Check = TypeVar("Check", ClockCheck, LevelCheck)


@dataclass(frozen=True)
class Lapse:
    """
    When something changed, and the least lean that explains it.

    Parameters
    ----------
    after, before : float
        It changed between these. [s since 1970-01-01]
    east, size : float
        Least lean toward east or west, and least lean at all. [degree]
    """

    after: float
    before: float
    east: float
    size: float


def ruled_out(month: SeriesMonth, lapse: Lapse) -> dict[str, str]:
    """
    Causes that the record excludes.

    Parameters
    ----------
    month : SeriesMonth
        With the record, later entries too.
    lapse : Lapse
        What changed.

    Returns
    -------
    reasons : dict
        ``clock`` or ``lean`` → why. A clock is ruled out where every logger of the three components
        keeps time by a signal, or moved between the checks around the change by less than half of
        what is needed; a lean where the level checks around it left too little.
    """
    reasons = {}
    clocks = [_of_clock(month, name, lapse) for name in _loggers(month)]
    if clocks and all(clocks):
        reasons[CLOCK] = "; ".join(c for c in clocks if c)
    level = _of_level(month, lapse)
    return reasons | ({LEAN: level} if level else {})


def _loggers(month: SeriesMonth) -> tuple[str, ...]:
    places = {p for q, p, _, _ in month.resolved.primary if q in COMPONENTS}
    return tuple(
        name
        for name, logger in sorted(month.config.station.loggers.items())
        if any(channel.position in places for channel in logger.channels)
    )


def _of_clock(month: SeriesMonth, name: str, lapse: Lapse) -> str | None:
    needed = abs(as_seconds(float(np.radians(lapse.east)), month.resolved.latitude))
    clock = month.config.station.loggers[name].clock
    if clock.discipline == "time_signal":
        words = f"the clock of {name} keeps time by a signal"
        return words if clock.bound < HALF * needed else None
    pair = _around(clock_checks(month.config.fieldlog, name), lapse)
    if pair is None:
        return None
    first, last = pair
    moved = abs(last.found - (first.found if first.left is None else first.left))
    return f"{first.id} and {last.id}: {moved:.0f} s" if moved < HALF * needed else None


def _of_level(month: SeriesMonth, lapse: Lapse) -> str | None:
    places = {p for q, p, a, b in month.resolved.primary if q == "ghi" and a <= lapse.before < b}
    checks = tuple(sorted(_level_checks(month, places), key=lambda c: c.time))
    pair = _around(checks, lapse)
    if pair is None:
        return None
    first, last = pair
    left = first.after_tightening or first.left or first.found
    most = left.size + last.found.size + READ_OFF
    words = f"level checks {first.id} and {last.id} leave {most:.1f} degree"
    return words if most < HALF * lapse.size else None


def _level_checks(month: SeriesMonth, places: set[str]) -> Iterator[LevelCheck]:
    for entry in month.config.fieldlog.in_force():
        if isinstance(entry, LevelCheck) and entry.position in places:
            yield entry


def _around(checks: tuple[Check, ...], lapse: Lapse) -> tuple[Check, Check] | None:
    """The last check before and the first behind; none where one lies within."""
    before = [c for c in checks if c.time <= lapse.after]
    behind = [c for c in checks if c.time >= lapse.before]
    within = len(checks) - len(before) - len(behind)
    return (before[-1], behind[0]) if before and behind and not within else None


def checks_around(config: StationConfig, period: Period) -> tuple[ClockCheck | LevelCheck, ...]:
    """
    Checks that can rule out a cause of a change within a month.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    period : Period
        The month.

    Returns
    -------
    checks : tuple of ClockCheck or LevelCheck
        By time, of every logger and position: those of the month, the last before, the first
        behind.
    """
    every: dict[tuple[str, str], list[ClockCheck | LevelCheck]] = {}
    for entry in config.fieldlog.in_force():
        if isinstance(entry, ClockCheck | LevelCheck):
            place = entry.logger if isinstance(entry, ClockCheck) else entry.position
            every.setdefault((entry.type, place), []).append(entry)
    kept = []
    for checks in every.values():
        checks.sort(key=lambda c: c.time)
        before = [c for c in checks if c.time < period.start]
        behind = [c for c in checks if c.time >= period.end]
        kept += [*before[-1:], *(c for c in checks if period.start <= c.time < period.end)]
        kept += behind[:1]
    return tuple(sorted(kept, key=lambda c: (c.time, c.id)))
