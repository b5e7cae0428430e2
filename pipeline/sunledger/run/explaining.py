"""One archived value in words: where it comes from, what was done to it, what is said about it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sunledger.archive.free_text import one_line
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST
from sunledger.run.explained_physics import physics_lines, uncertainty_lines
from sunledger.run.minutes import source_of
from sunledger.run.raw_lines import raw_line
from sunledger.run.tracing import Trace
from sunledger.stages.qc_numbers import flag_numbers
from sunledger.vocabulary import CONDITIONS, GRADES, QUANTITIES, TESTS

SHOWN_READINGS = 3
"""Of a pooled minute, how many raw lines are shown; the rest are counted."""


@dataclass(frozen=True)
class Section:
    """
    A part of an explanation.

    Parameters
    ----------
    title : str
        What it is about.
    lines : tuple of str
        What there is to say.
    """

    title: str
    lines: tuple[str, ...]


def explain(trace: Trace, raw: Path | None = None) -> tuple[Section, ...]:
    """
    Explain an archived value.

    Parameters
    ----------
    trace : Trace
        From :func:`sunledger.run.tracing.trace`.
    raw : Path or None
        Folder of the raw files, where they are still at hand.

    Returns
    -------
    sections : tuple of Section
        Value, raw line, time, readings, instrument, calibration, conditions, flags, uncertainty.
    """
    parts = (
        ("Value", _value(trace)),
        ("Raw line", _raw(trace, raw)),
        ("Time", _time(trace)),
        ("Reading", _reading(trace)),
        ("Instrument and calibration", physics_lines(trace)),
        ("Conditions", _conditions(trace)),
        ("Flags", _flags(trace)),
        ("Uncertainty", uncertainty_lines(trace)),
    )
    return tuple(Section(title, tuple(map(_safe, lines))) for title, lines in parts)


def _safe(line: str) -> str:
    """One line with its indentation, whatever text of the record or the logger stands in it."""
    return line[: len(line) - len(line.lstrip(" "))] + one_line(line)


def instant(time: float) -> str:
    """
    A time as a person reads it.

    Parameters
    ----------
    time : float
        [s since 1970-01-01 UTC]

    Returns
    -------
    text : str
        Seconds only where there are any; ``open`` for a time that is no limit.
    """
    if math.isnan(time) or time <= FAR_PAST or time >= FAR_FUTURE:
        return "open"
    when = np.datetime64(round(time * 10) * 100, "ms").item()
    text = f"{when:%Y-%m-%d %H:%M}"
    seconds = when.second + when.microsecond / 1e6
    return text if seconds == 0 else f"{text}:{seconds:04.1f}"


def _bits(word: float, table: Any) -> list[str]:
    return [name for name, bit in table.items() if int(word) & bit.mask]


def _value(t: Trace) -> Iterator[str]:
    about, m = QUANTITIES[t.quantity], t.file.manifest
    value, again = t.archived[t.quantity], t.again
    yield f"{t.quantity}, {about.long_name}, station {m.station}"
    yield f"{instant(t.time)} UTC, {t.interval} s from then on"
    grade = next(
        name for name, code in GRADES.items() if code == int(t.archived[f"{t.quantity}_grade"])
    )
    spread = t.archived.get(f"{t.quantity}_uncertainty", math.nan)
    yield f"{_number(value)} {about.units}, expanded uncertainty {_number(spread)} (k = 2)"
    yield f"grade {int(t.archived[f'{t.quantity}_grade'])}, {grade}"
    software = m.software.get("sunledger", "unknown")
    yield f"{t.file.path.name}, version {m.version}, {m.status}, software {software}"
    if math.isnan(value) and math.isnan(again):
        yield "made again from the archived readings: missing, as archived"
    else:
        same = abs(value - again) <= about.resolution
        word = "as archived" if same else "NOT as archived"
        yield f"made again from the archived readings: {_number(again)}, {word}"


def _number(value: float, digits: int = 2) -> str:
    return "missing" if math.isnan(value) else f"{value:.{digits}f}"


def _raw(t: Trace, raw: Path | None) -> Iterator[str]:
    if t.rows.size == 0:
        yield f"no reading of logger {t.logger.name} belongs to this interval"
        return
    for row in t.rows[:SHOWN_READINGS]:
        file, line = (
            int(t.readings[f"{n}_{t.logger.name}"].values[row])
            for n in ("source_file", "source_line")
        )
        name, digest = source_of(t.file.path.parents[2], t.period, t.logger, file)
        yield from raw_line(raw, name, digest, line)
    if t.rows.size > SHOWN_READINGS:
        yield f"and {t.rows.size - SHOWN_READINGS} more readings of the same interval"


def _time(t: Trace) -> Iterator[str]:
    logger = t.logger
    hours = logger.utc_offset / 3600
    yield (
        f"logger {logger.name}: clock at UTC{hours:+.2f} h, {logger.interval} s, labels mark the"
        f" {logger.label} of the interval"
    )
    if t.rows.size == 0:
        return
    row = int(t.rows[0])
    label = int(t.readings[f"logger_time_{logger.name}"].values[row])
    start = float(t.readings[f"start_time_{logger.name}"].values[row])
    shown = label - logger.utc_offset - (logger.interval if logger.label == "end" else 0)
    yield f"label as logged {instant(label)}, which is {instant(shown)} UTC by its zone and label"
    segment = next((s for s in logger.segments if s.start <= start < s.end), None)
    checked = (
        "between two checks" if segment and segment.verified else "held, not bracketed by checks"
    )
    yield f"clock error {shown - start:+.1f} s (logger minus reference, {checked})"
    yield f"true start {instant(start)} UTC, {start - t.time:+.1f} s from the interval's"


def _reading(t: Trace) -> Iterator[str]:
    if t.rows.size == 0:
        return
    mine = [c for c in t.logger.channels if c.position == t.position]
    for channel in mine:
        values = t.logged[channel.name].values[t.rows]
        if np.isposinf(values).any():
            yield f"{channel.name} (column {channel.column}): over range"
            continue
        text = (
            f"{values[0]:.6g}"
            if values.size == 1
            else f"{np.nanmin(values):.6g} to {np.nanmax(values):.6g}"
        )
        yield f"{channel.name} (column {channel.column}): {text} {channel.unit}"


def _conditions(t: Trace) -> Iterator[str]:
    names = _bits(t.archived[f"{t.quantity}_conditions"], CONDITIONS)
    if not names:
        yield "nothing is recorded that bears on this interval"
    end = t.time + t.interval
    targets = {t.position, t.quantity, t.logger.name, "*"}
    for name in names:
        yield f"{name}: {CONDITIONS[name].meaning}"
        for item in t.period.conditions:
            if (
                item.condition == name
                and item.target in targets
                and item.start < end
                and item.end > t.time
            ):
                since = f"{instant(item.start)} to {instant(item.end)}"
                yield f"  by {item.cause}, {since}{_event(t, item.cause)}"


def _event(t: Trace, identifier: str) -> str:
    """What the field log's entry says, as far as the file's tables hold it."""
    for table, key, words in (
        ("event", "event_id", ("event_type", "event_found", "event_left", "event_note")),
        ("levelling", "levelling_id", ("tilt_found", "tilt_left", "levelling_note")),
        ("clock_check", "clock_check_id", ("clock_error_found", "clock_error_left")),
    ):
        rows = t.tables[table]
        for place in np.flatnonzero(rows[key] == identifier):
            said = [
                f"{w.partition('_')[2]} {rows[w][place]}" for w in words if _is_said(rows[w][place])
            ]
            return f": {', '.join(said)}" if said else ""
    return ""


def _is_said(value: Any) -> bool:
    return str(value) not in ("", "nan")


def _flags(t: Trace) -> Iterator[str]:
    names = _bits(t.archived[f"{t.quantity}_flags"], TESTS)
    ran = _bits(t.archived[f"{t.quantity}_tested"], TESTS)
    if not names:
        yield f"no test failed; {len(ran)} could run: {', '.join(ran)}"
        return
    numbers = flag_numbers(t.minutes, t.period, t.quantity, t.place)
    for name in names:
        yield f"{name}: {TESTS[name].meaning}"
        yield from (f"  {line}" for line in numbers.get(name, ()))
    yield f"{len(ran)} tests could run"


def explanation_text(sections: Iterable[Section]) -> str:
    """
    An explanation as plain text.

    Parameters
    ----------
    sections : iterable of Section
        From :func:`explain`.

    Returns
    -------
    text : str
        A heading a section, its lines indented.
    """
    blocks = ("\n".join([s.title, *(f"  {line}" for line in s.lines)]) for s in sections)
    return "\n".join(blocks)
