"""The tables that travel inside every file: instruments, certificates, levelling, clocks, events.

A table holds only the rows that bear on the file's period, and an end that lies after the period
is left open, so that what happens later does not change an old file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from sunledger.archive.conventions_tables import column, metadata_group, table, time_column
from sunledger.archive.history_certificates import calibration_rows, input_rows
from sunledger.archive.history_columns import (
    CALIBRATION_COLUMNS,
    CLOCK_COLUMNS,
    DEPLOYMENT_COLUMNS,
    EVENT_COLUMNS,
    INPUT_COLUMNS,
    LEVELLING_COLUMNS,
    NAN,
    Column,
    Row,
    touches,
)
from sunledger.archive.specification import GroupSpec, VariableSpec
from sunledger.config.clocks import clock_checks
from sunledger.config.loading import StationConfig
from sunledger.config.models.fieldlog import (
    ClockCheck,
    Deployment,
    Entry,
    LevelCheck,
    Removal,
    Tilt,
)
from sunledger.config.models.processing import CalibrateSettings
from sunledger.config.record import deployment_periods


def _text(value: object) -> str:
    return "" if value is None else str(value)


def _columns(dimension: str, rows: Sequence[Row], wanted: Sequence[Column]) -> list[VariableSpec]:
    """Columns by name, long name and attributes; `units` of ``time`` makes a column of instants."""
    out = []
    for name, long_name, attributes in wanted:
        values = [row[name] for row in rows]
        if attributes.get("units") == "time":
            comment = attributes.get("comment", "")
            out.append(time_column(dimension, name, values, long_name, comment))
        else:
            numeric = "units" in attributes
            values = values if numeric else [_text(v) for v in values]
            empty: Any = [] if not numeric else [0.0][:0]
            out.append(column(dimension, name, values or empty, long_name, **attributes))
    return out


def deployment_rows(config: StationConfig, start: int, end: int) -> list[Row]:
    """
    Deployments that touch a period.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    start, end : int
        Period. [s]

    Returns
    -------
    rows : list of dict
        By the names of ``DEPLOYMENT_COLUMNS``.
    """
    instruments, positions = config.inventory.by_serial(), config.station.positions()
    rows = []
    for period in deployment_periods(config.fieldlog):
        entry = period.entry
        if not touches(period, start, end):
            continue
        instrument = instruments[entry.instrument]
        rows.append(
            {
                "deployment_id": entry.id,
                "position": entry.position,
                "quantity": positions.get(entry.position, ""),
                "serial_number": entry.instrument,
                "instrument_kind": instrument.kind,
                "iso_class": instrument.iso_class,
                "ventilated": "yes" if entry.ventilated else "no",
                "shade": entry.shade,
                "deployment_start": float(period.start),
                "deployment_end": NAN
                if period.end is None or period.end > end
                else float(period.end),
            }
        )
    return rows


def _tilt(tilt: Tilt | None) -> float:
    return NAN if tilt is None else tilt.size


def _levelling_row(entry: LevelCheck) -> Row:
    azimuth = entry.found.azimuth
    return {
        "levelling_id": entry.id,
        "levelling_time": float(entry.time),
        "levelled_position": entry.position,
        "tilt_found": entry.found.size,
        "tilt_found_azimuth": NAN if azimuth is None else azimuth,
        "tilt_left": _tilt(entry.left),
        "tilt_after_tightening": _tilt(entry.after_tightening),
        "tightened": "yes" if entry.tightened else "no",
        "levelling_role": entry.role,
        "levelling_note": entry.note,
    }


def _inside_and_last_before(
    entries: Iterable[Any], key: Callable[[Any], str], start: int, end: int
) -> list[Any]:
    """Entries within the period and, for each key, the last one before it."""
    chosen = sorted(entries, key=lambda e: (e.time, e.id))
    last = {key(e): e.id for e in chosen if e.time < start}
    return [e for e in chosen if start <= e.time < end or e.id in last.values()]


def levelling_rows(
    config: StationConfig, start: int, end: int, causes: frozenset[str]
) -> list[Row]:
    """
    Level checks that bear on a period.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    start, end : int
        Period. [s]
    causes : frozenset of str
        Entries that make the period doubtful, also from after it.

    Returns
    -------
    rows : list of dict
        Checks within the period, the last before it at each position, and the causes.
    """
    checks = [e for e in config.fieldlog.in_force() if isinstance(e, LevelCheck)]
    near = _inside_and_last_before(checks, lambda e: e.position, start, end)
    later = [e for e in checks if e.id in causes and e not in near]
    return [_levelling_row(e) for e in sorted([*near, *later], key=lambda e: (e.time, e.id))]


def clock_rows(config: StationConfig, start: int, end: int) -> list[Row]:
    """
    Clock checks within a period and those around it.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    start, end : int
        Period. [s]

    Returns
    -------
    rows : list of dict
        By the names of ``CLOCK_COLUMNS``; the drift is interpolated between them.
    """
    bearing: list[ClockCheck] = []
    for logger in config.station.loggers:
        checks = clock_checks(config.fieldlog, logger)
        before = [c for c in checks if c.time < start][-1:]
        after = [c for c in checks if c.time >= end][:1]
        bearing += [*before, *(c for c in checks if start <= c.time < end), *after]
    return [
        {
            "clock_check_id": check.id,
            "clock_check_time": float(check.time),
            "clock_check_logger": check.logger,
            "clock_error_found": check.found,
            "clock_error_left": NAN if check.left is None else check.left,
        }
        for check in sorted(bearing, key=lambda c: (c.time, c.id))
    ]


def _event_row(entry: Entry) -> Row:
    until = getattr(entry, "until", None)
    return {
        "event_id": entry.id,
        "event_type": entry.type,
        "event_start": float(entry.time),
        "event_end": NAN if until is None else float(until),
        "event_positions": " ".join(
            getattr(entry, "positions", ()) or filter(None, [getattr(entry, "position", "")])
        ),
        "event_found": getattr(entry, "found", ""),
        "event_left": getattr(entry, "left", ""),
        "event_role": entry.role,
        "event_note": entry.note,
    }


def event_rows(config: StationConfig, start: int, end: int, causes: frozenset[str]) -> list[Row]:
    """
    Other field events that bear on a period.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    start, end : int
        Period. [s]
    causes : frozenset of str
        Entries that set a condition within the period.

    Returns
    -------
    rows : list of dict
        By the names of ``EVENT_COLUMNS``.
    """
    elsewhere = Deployment | Removal | LevelCheck | ClockCheck
    return [
        _event_row(entry)
        for entry in sorted(config.fieldlog.in_force(), key=lambda e: (e.time, e.id))
        if not isinstance(entry, elsewhere) and (start <= entry.time < end or entry.id in causes)
    ]


def provenance_table(
    sources: Sequence[tuple[str, str, int]], configuration: str, digest: str
) -> GroupSpec:
    """
    Raw files and configuration a file was made of.

    Parameters
    ----------
    sources : sequence of (name, sha256, size)
        Raw files.
    configuration : str
        Resolved configuration as canonical JSON.
    digest : str
        Its SHA-256.

    Returns
    -------
    group : GroupSpec
        ``provenance``.
    """
    names, sums, sizes = zip(*sources, strict=True) if sources else ((), (), ())
    columns = [
        column("source_file", "source_file_name", [*map(str, names)], "name of the raw file"),
        column("source_file", "source_file_sha256", [*map(str, sums)], "SHA-256, hexadecimal"),
        column("source_file", "source_file_size", [*map(float, sizes)], "size", units="byte"),
        column(
            "configuration_part",
            "resolved_configuration",
            [configuration],
            "what of the configuration bears on this file, canonical JSON",
            sha256=digest,
        ),
    ]
    return table("provenance", "Raw files and configuration this file was made of", columns)


def history_rows(
    config: StationConfig, start: int, end: int, causes: frozenset[str], settings: CalibrateSettings
) -> dict[str, list[Row]]:
    """
    Rows of every history table of a period.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    start, end : int
        Period of the file. [s]
    causes : frozenset of str
        Entries behind conditions within the period.
    settings : CalibrateSettings
        How certificates are chosen.

    Returns
    -------
    rows : dict of list
        By the names of ``TABLES``.
    """
    return {
        "deployment": deployment_rows(config, start, end),
        "calibration": calibration_rows(config, start, end, settings),
        "input_calibration": input_rows(config, start, end),
        "levelling": levelling_rows(config, start, end, causes),
        "clock_check": clock_rows(config, start, end),
        "event": event_rows(config, start, end, causes),
    }


TABLES = {
    "deployment": ("What stood where", DEPLOYMENT_COLUMNS, "deployment"),
    "calibration": ("Certificates in force", CALIBRATION_COLUMNS, "calibration"),
    "input_calibration": (
        "Certificates of the inputs that signals pass",
        INPUT_COLUMNS,
        "input_calibration",
    ),
    "levelling": ("Level checks", LEVELLING_COLUMNS, "levelling_event"),
    "clock_check": ("Clock checks", CLOCK_COLUMNS, "clock_check"),
    "event": ("Other field events", EVENT_COLUMNS, "field_event"),
}
"""Name of a table → its title, columns and dimension."""


def history_tables(rows: dict[str, list[Row]]) -> list[GroupSpec]:
    """
    Every history table of a file.

    Parameters
    ----------
    rows : dict of list
        From :func:`history_rows`.

    Returns
    -------
    groups : list of GroupSpec
        In the order of ``TABLES``.
    """
    return [
        table(name, title, _columns(dimension, rows[name], columns), "rows that bear on the period")
        for name, (title, columns, dimension) in TABLES.items()
    ]


__all__ = ["history_rows", "history_tables", "metadata_group", "provenance_table"]
