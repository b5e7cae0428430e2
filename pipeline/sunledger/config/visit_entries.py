"""Entries of the field log that a filled visit form gives, as they are to be written."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from sunledger.config.loading import StationConfig
from sunledger.config.models.visit import ExchangeRow, LevelRow, Row, SerialRow, VisitForm
from sunledger.config.visit_rules import standing

Written = dict[str, Any]
_TIMES = ("until", "soiled_since", "off_since")


def entries_of(form: VisitForm, config: StationConfig) -> list[tuple[int | None, Written]]:
    """
    Entries of the field log that a form gives.

    Parameters
    ----------
    form : VisitForm
        The form, checked against the record.
    config : StationConfig
        The station's files.

    Returns
    -------
    entries : list of (int or None, dict)
        Index of the row, None for the visit itself, and the entry as it is to be written. Serial
        numbers that agree with the record are named in the note of the visit.
    """
    rows: list[tuple[int | None, Written]] = [(None, _visit(form))]
    for index, row in enumerate(form.entries):
        role = getattr(row, "role", None) or form.visit.role
        rows += [(index, entry | {"role": role}) for entry in _entries(row, config)]
    ids = _ids(form, config)
    return [(index, {"id": next(ids)} | _with_note(form, index, e)) for index, e in rows]


def _ids(form: VisitForm, config: StationConfig) -> Iterator[str]:
    """Identifiers not yet used: station, day, number."""
    used = {entry.id for entry in config.fieldlog.entries}
    day = datetime.fromtimestamp(form.visit.time, UTC).strftime("%Y%m%d")
    number = 0
    while True:
        number += 1
        name = f"{form.visit.station}-{day}-{number:02d}"
        if name not in used:
            yield name


def _with_note(form: VisitForm, index: int | None, entry: Written) -> Written:
    note = form.visit.note if index is None else getattr(form.entries[index], "note", None)
    if index is None:
        note = "; ".join(w for w in (note, _serials_read(form)) if w)
    return entry | ({"note": note} if note else {})


def _serials_read(form: VisitForm) -> str:
    read = {
        getattr(r, "position", None) or getattr(r, "logger", ""): serial
        for r in form.entries
        if (serial := getattr(r, "serial_number", None)) is not None
    }
    words = ", ".join(f"{serial} at {where}" for where, serial in read.items())
    return f"serial numbers read: {words}" if read else ""


def _visit(form: VisitForm) -> Written:
    head = form.visit
    return {
        "type": "visit",
        "from": written(head.time),
        "until": written(head.until),
        "role": head.role,
    }


def _entries(row: Row, config: StationConfig) -> Iterator[Written]:
    if isinstance(row, ExchangeRow):
        yield from _exchange(row, config)
    elif isinstance(row, LevelRow):
        yield _level(row)
    elif not isinstance(row, SerialRow):
        yield _plain(row)


def _exchange(row: ExchangeRow, config: StationConfig) -> Iterator[Written]:
    if row.time is not None:
        period = standing(config, row.position, row.time)
        assert period is not None  # the rules refuse a removal of what does not stand there
        yield {"type": "removal", "time": written(row.time), "deployment": period.entry.id}
    if row.installed_at is not None:
        yield {
            "type": "deployment",
            "from": written(row.installed_at),
            "instrument": row.installed,
            "position": row.position,
            "ventilated": row.ventilated,
            "shade": row.shade,
        }


def _level(row: LevelRow) -> Written:
    entry: Written = {
        "type": "level_check",
        "time": written(row.time),
        "position": row.position,
    }
    for name in ("found", "left", "after_tightening"):
        size, azimuth = getattr(row, name), getattr(row, f"{name}_azimuth")
        if size is not None:
            entry[name] = {"size": size} | ({} if azimuth is None else {"azimuth": azimuth})
    return entry | ({"tightened": True} if row.tightened else {})


def _plain(row: Row) -> Written:
    """Rows whose fields are those of the entry. A power failure says when it began by `from`."""
    entry: Written = {}
    for name, value in row.model_dump(exclude_none=True, exclude_defaults=True).items():
        if name in ("serial_number", "note", "role"):
            continue
        shown = list(value) if isinstance(value, tuple) else value
        key = "from" if name == "time" and row.type == "power" else name
        entry[key] = written(value) if name == "time" or name in _TIMES else shown
    return {"type": row.type} | entry


def written(time: int) -> str:
    """
    A time as it is written in the field log.

    Parameters
    ----------
    time : int
        Seconds since 1970-01-01 UTC.

    Returns
    -------
    text : str
        With seconds only where there are any.
    """
    text = datetime.fromtimestamp(time, UTC).strftime("%Y-%m-%d %H:%M:%S")
    return text.removesuffix(":00")
