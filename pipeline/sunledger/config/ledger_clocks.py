"""Checks on clock checks.

These are rules of common field practice; they have no published source.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from sunledger.config.clocks import clock_checks
from sunledger.config.ledger_view import DAY, Finding, LedgerView, written_time
from sunledger.config.messages import not_among
from sunledger.config.models.fieldlog import ClockCheck


def unknown_logger(view: LedgerView) -> Iterator[Finding]:
    """
    Clock checks of a logger that the station does not have.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the clock check.
    """
    known = tuple(view.config.station.loggers)
    for entry in view.of_kind(ClockCheck):
        if entry.logger not in known:
            why = f"unknown logger; {not_among(entry.logger, known)}"
            yield view.at_entry(entry, "logger", why)


def checks_contradict(view: LedgerView) -> Iterator[Finding]:
    """
    Two clock checks of one logger at the same instant that disagree.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the later written, naming the other.
    """
    for first, second in _neighbours(view):
        if first.time == second.time:
            yield view.at_entry(
                second,
                "time",
                f"{view.named(first)} is a clock check of {second.logger} at the same time;"
                " allowed: one check at a time (correct the wrong one with `corrects`)",
            )


def drift_impossible(view: LedgerView) -> Iterator[Finding]:
    """
    Two clock checks between which the clock would have drifted faster than any clock does.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the later, naming the earlier.
    """
    limit, slack = view.settings.largest_drift, view.settings.clock_reading_error
    for first, second in _neighbours(view):
        days = (second.time - first.time) / DAY
        left = first.found if first.left is None else first.left
        drift = second.found - left
        if days > 0 and abs(drift) > limit * days + slack:
            yield view.at_entry(
                second,
                "found",
                f"{view.named(first)} left the clock of {second.logger} at {left:+g} s; finding it"
                f" at {second.found:+g} s means a drift of {drift / days:+.0f} s a day; allowed:"
                f" {limit:g}; is a sign, a date or a clock set in between wrong or missing?",
            )


def check_after_now(view: LedgerView) -> Iterator[Finding]:
    """
    Clock checks dated after the run's "now": they would re-time what they cannot know yet.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the clock check.
    """
    for entry in view.of_kind(ClockCheck):
        if view.as_of is not None and entry.time > view.as_of:
            yield view.at_entry(
                entry,
                "time",
                f"this clock check of {entry.logger} lies after the run's as_of; allowed: up to"
                f" {written_time(view.as_of)}; is the year right, or as_of too early?"
                f" (got {written_time(entry.time)})",
            )


def _neighbours(view: LedgerView) -> Iterator[tuple[ClockCheck, ClockCheck]]:
    for logger in view.config.station.loggers:
        yield from pairwise(clock_checks(view.config.fieldlog, logger))


def disciplined_clock_in_error(view: LedgerView) -> Iterator[Finding]:
    """
    Clock checks that find a clock set by a time signal beyond its stated bound.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the clock check.
    """
    slack = view.settings.clock_reading_error
    for entry in view.of_kind(ClockCheck):
        logger = view.config.station.loggers.get(entry.logger)
        if logger is None or logger.clock.discipline != "time_signal":
            continue
        if abs(entry.found) > logger.clock.bound + slack:
            yield view.at_entry(
                entry,
                "found",
                f"the clock of {entry.logger} is kept by a time signal within"
                f" {logger.clock.bound:g} s, and such checks are not applied; was the signal lost?"
                f" (got {entry.found:+g} s)",
            )
