"""How a filled visit form must fit the record; rules of common field practice, no source."""

from __future__ import annotations

from collections.abc import Iterator

from sunledger.config.ledger_view import written_time
from sunledger.config.loading import StationConfig
from sunledger.config.messages import not_among
from sunledger.config.models.fieldlog import Visit
from sunledger.config.models.visit import (
    AlignmentRow,
    ClockRow,
    ExchangeRow,
    LevelRow,
    Row,
    SensorRow,
    SerialRow,
    VisitForm,
    WorkRow,
)
from sunledger.config.record import DeploymentPeriod, deployment_periods
from sunledger.config.yaml_text import SourceLines
from sunledger.errors import Fault

MUST_LIE_WITHIN = ("time", "until", "installed_at")


def visit_faults(form: VisitForm, lines: SourceLines, config: StationConfig) -> list[Fault]:
    """
    Everything in a visit form that does not fit the record.

    Parameters
    ----------
    form : VisitForm
        The filled form.
    lines : SourceLines
        Where its rows stand.
    config : StationConfig
        The station's files.

    Returns
    -------
    faults : list of Fault
        By line, each with the row's own.
    """
    faults = list(_head_faults(form, lines, config))
    for index, row in enumerate(form.entries):
        found = (
            *_time_faults(form, row),
            *_place_faults(row, config),
            *_serials(form, row, config),
        )
        for field, why in found:
            name = f"entries[{index}] ({row.type}).{field}"
            faults.append(Fault(lines.path, lines.line("entries", index, field), name, why))
    return sorted(faults)


def _head_faults(form: VisitForm, lines: SourceLines, config: StationConfig) -> Iterator[Fault]:
    head = form.visit
    for entry in config.fieldlog.in_force():
        if not isinstance(entry, Visit) or entry.type != "visit":
            continue
        if entry.time < head.until and head.time < entry.until:
            path, line = config.entry_place(entry.id)
            why = (
                f"a visit at this time stands in the field log already: {entry.id} ({path}:{line});"
                " what is wrong there is corrected by an entry of its own"
            )
            yield Fault(lines.path, lines.line("visit", "from"), "visit.from", why)


def _time_faults(form: VisitForm, row: Row) -> Iterator[tuple[str, str]]:
    start, end = form.visit.time, form.visit.until
    inside = f"lies outside the visit; allowed: {written_time(start)} to {written_time(end)}"
    for field in MUST_LIE_WITHIN:
        time = getattr(row, field, None)
        if time is None:
            continue
        if row.type == "power":
            if field == "until" and time > end:
                why = f"lies after the visit; allowed: up to {written_time(end)}"
                yield field, f"{why} (got {written_time(time)})"
        elif not start <= time <= end:
            yield field, f"{inside} (got {written_time(time)})"
    if isinstance(row, WorkRow | AlignmentRow) and row.until is not None and row.until < row.time:
        yield "until", f"must not be earlier than time (got {written_time(row.until)})"


def _place_faults(row: Row, config: StationConfig) -> Iterator[tuple[str, str]]:
    places = (*config.station.positions(), *_other_places(config))
    named = {
        "position": ([getattr(row, "position", None)], places),
        "positions": (getattr(row, "positions", ()), places),
        "logger": ([getattr(row, "logger", None)], tuple(config.station.loggers)),
    }
    for field, (names, known) in named.items():
        for name in (n for n in names if n is not None and n not in known):
            yield field, f"not at this station; {not_among(name, known)}"


def _other_places(config: StationConfig) -> tuple[str, ...]:
    """Places of trackers and the like, which have no channel."""
    stood = (p.entry.position for p in deployment_periods(config.fieldlog))
    return tuple(p for p in dict.fromkeys(stood) if p not in config.station.positions())


def _serials(form: VisitForm, row: Row, config: StationConfig) -> Iterator[tuple[str, str]]:
    if isinstance(row, ExchangeRow):
        yield from _exchanged(row, config)
        return
    if isinstance(row, ClockRow):
        logger = config.station.loggers.get(row.logger)
        if logger is not None and row.serial_number not in (None, logger.serial_number):
            why = _other_serial(row.logger, logger.serial_number, str(row.serial_number))
            yield "serial_number", why
    elif isinstance(row, LevelRow | SensorRow | SerialRow) and row.serial_number is not None:
        time = form.visit.time if row.time is None else row.time
        expected = _standing_with(form, row.position, time, config)
        if row.serial_number != expected:
            yield "serial_number", _other_serial(row.position, expected, row.serial_number)


def _other_serial(where: str, expected: str | None, read: str) -> str:
    stands = "nothing stands there" if expected is None else f"{expected} stands there"
    hint = "; read it again, or enter the exchange as a row of its own"
    return f"by the record {stands} ({where}){hint} (got {read})"


def _standing_with(form: VisitForm, where: str, time: int, config: StationConfig) -> str | None:
    """What stands at a position at a time, exchanges of the same visit included."""
    stands = standing(config, where, time)
    serial = None if stands is None else stands.entry.instrument
    rows = (r for r in form.entries if isinstance(r, ExchangeRow) and r.position == where)
    for row in sorted(rows, key=lambda r: r.time or r.installed_at or 0):
        if row.time is not None and row.time <= time:
            serial = None
        if row.installed_at is not None and row.installed_at <= time:
            serial = row.installed
    return serial


def standing(config: StationConfig, where: str, time: int) -> DeploymentPeriod | None:
    """
    Deployment in force at a position at a time.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    where : str
        Position.
    time : int
        Instant. [s]

    Returns
    -------
    period : DeploymentPeriod or None
        None where nothing stands there.
    """
    for period in deployment_periods(config.fieldlog):
        begun = period.entry.position == where and period.start <= time
        if begun and (period.end is None or time < period.end):
            return period
    return None


def _exchanged(row: ExchangeRow, config: StationConfig) -> Iterator[tuple[str, str]]:
    if row.removed is not None and row.time is not None:
        period = standing(config, row.position, row.time)
        expected = None if period is None else period.entry.instrument
        if row.removed != expected:
            yield "removed", _other_serial(row.position, expected, row.removed)
        elif period is not None and period.end is not None:
            why = f"its removal at {written_time(period.end)} stands in the record already"
            yield "removed", f"{why} (got {row.removed})"
    known = tuple(config.inventory.by_serial())
    if row.installed is not None and row.installed not in known:
        why = "serial number is not in instruments.yaml"
        yield "installed", f"{why}; {not_among(row.installed, known)}"
