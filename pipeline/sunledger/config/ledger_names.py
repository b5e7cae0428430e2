"""Checks on names that one file gives and another must know, and on dates after the run's "now".

These are rules of common field practice; they have no published source.
"""

from __future__ import annotations

from collections.abc import Iterator

from sunledger.config.ledger_view import RADIOMETERS, Finding, LedgerView, written_time
from sunledger.config.messages import nearest, not_among
from sunledger.config.models.fieldlog import ClockCheck, Deployment, Entry
from sunledger.vocabulary import QUANTITIES


def unknown_position(view: LedgerView) -> Iterator[Finding]:
    """
    Entries of the field log at a position that `station.yaml` does not have.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the entry. Trackers, loggers and the like may stand at places of any name.
    """
    known = tuple(dict.fromkeys((*view.positions, *_other_places(view))))
    for entry in view.entries:
        for field, position in _positions_of(entry):
            if position not in known:
                why = f"unknown position; {not_among(position, known)}"
                yield view.at_entry(entry, field, why)


def _other_places(view: LedgerView) -> Iterator[str]:
    for entry in view.of_kind(Deployment):
        instrument = view.instruments.get(entry.instrument)
        if instrument is not None and instrument.kind not in RADIOMETERS:
            yield entry.position


def _positions_of(entry: Entry) -> Iterator[tuple[str, str]]:
    if (position := getattr(entry, "position", None)) is not None:
        yield "position", position
    yield from (("positions", name) for name in getattr(entry, "positions", ()))


def channel_of_unknown_position(view: LedgerView) -> Iterator[Finding]:
    """
    Thermal sensors and status channels at positions without a signal.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the channel in `station.yaml`.
    """
    known = tuple(view.positions)
    for name, logger in view.config.station.loggers.items():
        for index, channel in enumerate(logger.channels):
            own = [("position", channel.position)] if channel.kind == "temperature" else []
            for field, position in (*own, *(("serves", p) for p in channel.serves)):
                if position not in known:
                    why = "no channel gives the signal of this position; "
                    loc = ("loggers", name, "channels", index, field)
                    yield view.at_station(why + not_among(str(position), known), *loc)


def primary_of_unknown_position(view: LedgerView) -> Iterator[Finding]:
    """
    Primaries that name an unknown position, or one that measures something else.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the primary in `station.yaml`.
    """
    for index, primary in enumerate(view.config.station.primary):
        fitting = tuple(p for p, q in view.positions.items() if q == primary.quantity)
        if primary.position not in fitting:
            yield view.at_station(
                f"is no position that measures {primary.quantity};"
                f" {not_among(primary.position, fitting)}",
                *("primary", index, "position"),
            )


def logger_not_in_inventory(view: LedgerView) -> Iterator[Finding]:
    """
    Loggers whose serial number the inventory does not hold as a logger.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the logger in `station.yaml`.
    """
    known = tuple(s for s, i in view.instruments.items() if i.kind == "logger")
    for name, logger in view.config.station.loggers.items():
        if logger.serial_number not in known:
            yield view.at_station(
                "instruments.yaml has no logger with this serial number; it has"
                f" {', '.join(known) or 'none'}{nearest(logger.serial_number, known)}"
                f" (got {logger.serial_number})",
                *("loggers", name, "serial_number"),
            )


def review_of_unknown_quantity(view: LedgerView) -> Iterator[Finding]:
    """
    Decisions of a reviewer on quantities that the station does not measure.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the decision in `review.yaml`.
    """
    channels = [c for g in view.config.station.loggers.values() for c in g.channels]
    measured = {c.quantity for c in channels} | set(view.positions)
    known = tuple(dict.fromkeys(n for n in (*QUANTITIES, *view.positions) if n in measured))
    for index, decision in enumerate(view.config.review.decisions):
        for quantity in decision.quantities:
            if quantity not in known:
                path, line = view.config.place("review", "decisions", index, "quantities")
                name = f"decisions[{index}] ({decision.id}).quantities"
                why = f"not measured here; {not_among(quantity, known)}"
                yield Finding(path, line, name, why)


def accepted_of_unknown_target(view: LedgerView) -> Iterator[Finding]:
    """
    Accepted findings on positions or loggers that the station does not have, or accepted twice.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the entry in `review.yaml`.
    """
    loggers = tuple(view.config.station.loggers)
    seen: dict[str, str] = {}
    for index, accepted in enumerate(view.config.review.accepted_findings):
        known = loggers if accepted.condition == "clock_doubtful" else tuple(view.positions)
        entry = f"accepted_findings[{index}] ({accepted.id})"
        for target in (t for t in accepted.targets if t not in known):
            path, line = view.config.place("review", "accepted_findings", index, "targets")
            why = f"not at this station; {not_among(target, known)}"
            yield Finding(path, line, f"{entry}.targets", why)
        if accepted.finding in seen:
            path, line = view.config.place("review", "accepted_findings", index, "finding")
            why = f"accepted already by {seen[accepted.finding]}; allowed: once"
            yield Finding(path, line, f"{entry}.finding", f"{why} (got {accepted.finding})")
        seen.setdefault(accepted.finding, accepted.id)


def corrected_twice(view: LedgerView) -> Iterator[Finding]:
    """
    Entries that two others correct, so that both corrections would hold.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the later correction.
    """
    first: dict[str, Entry] = {}
    for entry in view.config.fieldlog.entries:
        if entry.corrects is None:
            continue
        earlier = first.setdefault(entry.corrects, entry)
        if earlier is not entry:
            yield view.at_entry(
                entry,
                "corrects",
                f"{entry.corrects} is corrected by {view.named(earlier)} already;"
                f" allowed: corrects: {earlier.id} (got {entry.corrects})",
            )


def entry_after_now(view: LedgerView) -> Iterator[Finding]:
    """
    Entries of the field log dated after the run's "now", clock checks aside.

    Parameters
    ----------
    view : LedgerView
        The record.

    Yields
    ------
    finding : Finding
        At the entry.
    """
    for entry in view.entries:
        if isinstance(entry, ClockCheck):
            continue  # a rule of its own refuses them
        if view.as_of is not None and entry.time > view.as_of:
            yield view.at_entry(
                entry,
                "from" if entry.type in ("deployment", "visit", "power") else "time",
                f"lies after {written_time(view.as_of)}, the run's as_of; is the year right?"
                f" (got {written_time(entry.time)})",
            )
