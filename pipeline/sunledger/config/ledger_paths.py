"""Checks on what signals pass between their instrument and the file: shunt, multiplexer, logger.

These are rules of common field practice; they have no published source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sunledger.config.ledger_view import DAY, Finding, LedgerView, written_time
from sunledger.config.messages import not_among
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST, parse_utc
from sunledger.config.models.instruments import SIGNAL_PATH_KINDS
from sunledger.config.models.station import Passage
from sunledger.config.signal_paths import devices_at, input_spans


@dataclass(frozen=True)
class _Way:
    """One device on the way of a position's signal, and where `station.yaml` names it."""

    passage: Passage
    position: str
    own: dict[str, str]
    loc: tuple[str | int, ...]


def _ways(view: LedgerView) -> Iterator[_Way]:
    for name, logger in view.config.station.loggers.items():
        own = {name: logger.serial_number}
        for index, channel in enumerate(logger.channels):
            for step, passage in enumerate(channel.via):
                loc = ("loggers", name, "channels", index, "via", step)
                yield _Way(passage, str(channel.position), own, loc)


def passage_of_unknown_place(view: LedgerView) -> Iterator[Finding]:
    """
    Ways of signals over a place at which no logger, multiplexer or shunt ever stood.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the place in `station.yaml`.
    """
    deployed = {p.entry.position for p in view.periods if _on_a_way(view, p.entry.instrument)}
    for way in _ways(view):
        known = tuple(dict.fromkeys((*way.own, *sorted(deployed))))
        if way.passage.place not in known:
            why = "no logger, multiplexer or shunt stands there; "
            yield view.at_station(why + not_among(way.passage.place, known), *way.loc, "place")


def _on_a_way(view: LedgerView, serial: str) -> bool:
    device = view.instruments.get(serial)
    return device is not None and device.kind in SIGNAL_PATH_KINDS


def input_without_certificate(view: LedgerView) -> Iterator[Finding]:
    """
    Devices that a signal passes for a time in which their input has no certificate.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        One a device and position, at the device in `station.yaml`, for the first such time.
    """
    for way in _ways(view):
        for begin, until, serial in _first_gap(view, way):
            ends = "on" if until >= FAR_FUTURE else f"until {written_time(until)}"
            since = "" if begin <= FAR_PAST else f"from {written_time(begin)} "
            yield view.at_station(
                f"input {way.passage.input} of {serial} at {way.passage.place} has no certificate"
                f" {since}{ends}; the signal of {way.position} then counts as logged, with gain 1"
                " and zero 0, and its minutes are marked correction_not_applied",
                *way.loc,
            )


def _first_gap(view: LedgerView, way: _Way) -> list[tuple[int, int, str]]:
    """First time in which the position is in use and the device there has no certificate."""
    used = [p for p in view.periods if p.entry.position == way.position]
    spans = sorted(input_spans(view.config, way.passage, way.own), key=lambda s: s[0])
    gaps: list[tuple[int, int, str]] = []
    for begin, until, serial in devices_at(view.config, way.passage.place, way.own):
        for period in used:
            first = max(begin, period.start)
            last = min(until, FAR_FUTURE if period.end is None else period.end)
            for a, b, *_ in spans:
                if a > first:
                    break
                first = max(first, b)
            if first < last:
                later = (a for a, *_ in spans if a > first)
                gaps.append((first, min(min(later, default=last), last), serial))
    return sorted(gaps)[:1]


def input_certificate_too_old(view: LedgerView) -> Iterator[Finding]:
    """
    Inputs on the way of a signal whose certificate in force is older than allowed.

    Parameters
    ----------
    view : LedgerView
        The record; without the run's "now" nothing is said.

    Yields
    ------
    finding : Finding
        At the device in `station.yaml`.
    """
    limit = view.choice.largest_certificate_age
    for way in _ways(view):
        for begin, until, _, certificate in input_spans(view.config, way.passage, way.own):
            since = max(begin, parse_utc(certificate.date) + limit * DAY)
            if view.as_of is not None and since < min(until, view.as_of):
                yield view.at_station(
                    f"certificate {certificate.certificate} of input {way.passage.input} at"
                    f" {way.passage.place}, dated {certificate.date}, is older than {limit:g} days"
                    f" from {written_time(since)} on",
                    *way.loc,
                )
