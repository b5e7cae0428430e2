"""Reading a filled visit form, in YAML or as a table in CSV: data with the line of every row."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, get_args

from sunledger.config.loading import checked_model
from sunledger.config.models.base import parse_utc
from sunledger.config.models.visit import (
    AlignmentRow,
    ClockRow,
    ExchangeRow,
    LevelRow,
    PowerRow,
    SensorRow,
    SerialRow,
    VisitForm,
    WorkRow,
)
from sunledger.config.yaml_text import Loc, ParsedText, SourceLines, parse_file
from sunledger.errors import ConfigError, Fault

ROW_MODELS = (
    *(LevelRow, ClockRow, WorkRow, AlignmentRow, SensorRow, SerialRow, ExchangeRow, PowerRow),
)
MODEL_OF = {kind: m for m in ROW_MODELS for kind in get_args(m.model_fields["type"].annotation)}
"""Type of a row → its model."""
WHERE = {
    kind: next(n for n in ("positions", "logger", "position") if n in model.model_fields)
    for kind, model in MODEL_OF.items()
}
"""Type of a row → field that says where."""
NUMBERS = (
    *("found", "left", "after_tightening"),
    *("found_azimuth", "left_azimuth", "after_tightening_azimuth", "soiling_bound"),
)
TRUTHS = ("tightened", "out_of_place", "ventilated")
TIMES = ("time", "until", "installed_at", "soiled_since", "off_since")
COLUMNS = (
    *("type", "where", "serial_number", "time", "until"),
    *("found", "found_azimuth", "left", "left_azimuth"),
    *("after_tightening", "after_tightening_azimuth", "tightened", "out_of_place"),
    *(
        "soiled_since",
        "soiling_bound",
        "off_since",
        "removed",
        "installed",
        "installed_at",
        "ventilated",
        "shade",
    ),
    *("role", "note"),
)
"""Columns of a form in CSV."""
GIVEN = ("type", "position", "positions", "logger", "ventilated", "shade")
"""What the template fills in: a row that holds nothing else was not done."""

_HOUR = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?")
_BOOLEANS = {"true": True, "yes": True, "x": True, "false": False, "no": False}


def load_visit(path: str | Path) -> tuple[VisitForm, SourceLines]:
    """
    A filled visit form.

    Parameters
    ----------
    path : str or Path
        File in YAML, or in CSV when its name ends so.

    Returns
    -------
    form, lines : VisitForm, SourceLines
        Rows that were left blank are left out; the lines are those of the rows kept.

    Raises
    ------
    ConfigError
        With every fault of the file.
    """
    parsed = parse_table(path) if Path(path).suffix.lower() == ".csv" else parse_file(path)
    prepared = _prepared(parsed)
    faults: list[Fault] = []
    form = checked_model(prepared, VisitForm, faults)
    if form is None:
        raise ConfigError(faults)
    return form, prepared.source


def parse_table(path: str | Path) -> ParsedText:
    """
    Data and lines of a visit form in CSV.

    Parameters
    ----------
    path : str or Path
        Table with a header line; comma, semicolon or tab between the cells.

    Returns
    -------
    parsed : ParsedText
        In the shape of a form in YAML; numbers, truths and lists of positions are read from text.
    """
    name = str(path)
    try:
        lines = Path(path).read_text(encoding="utf-8-sig").splitlines(keepends=True)
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "must be UTF-8 text"
        return ParsedText(None, SourceLines(name, {}), (Fault(name, 0, "", f"{why}"),))
    rows = list(_cells(lines))
    heads = [cell.strip() for cell in rows[0][1]] if rows else []
    faults = list(_column_faults(name, heads))
    data: dict[str, Any] = {"entries": []}
    places: dict[Loc, int] = {(): 1}
    for line, cells in () if faults else rows[1:]:
        row = {h: c.strip() for h, c in zip(heads, cells, strict=False) if c.strip()}
        if len(cells) > len(heads) and any(c.strip() for c in cells[len(heads) :]):
            faults.append(Fault(name, line, "", f"more cells than the {len(heads)} columns"))
        loc: Loc = ("visit",) if row.get("type") == "visit" else ("entries", len(data["entries"]))
        if loc in places:
            faults.append(Fault(name, line, "visit", f"given twice; first on line {places[loc]}"))
        elif row:
            places[loc] = line
            _put(data, row)
    return ParsedText(None if faults else data, SourceLines(name, places), tuple(faults))


def _cells(lines: list[str]) -> Iterator[tuple[int, list[str]]]:
    """Line on which a row begins, and its cells; lines that begin with # are remarks."""
    first = next((text for text in lines if not text.startswith("#")), "")
    separator = max(",;\t", key=first.count)
    reader = csv.reader(lines, delimiter=separator)
    start = 1
    for cells in reader:
        if any(c.strip() for c in cells) and not cells[0].startswith("#"):
            yield start, cells
        start = reader.line_num + 1


def _column_faults(path: str, heads: list[str]) -> Iterator[Fault]:
    allowed = f"allowed: {', '.join(COLUMNS)}"
    if "type" not in heads:
        yield Fault(path, 1, "", f"the header line has no column 'type'; {allowed}")
    for head in heads:
        if head and head not in COLUMNS:
            yield Fault(path, 1, head, f"unknown column; {allowed}")
    for head in sorted({h for h in heads if h and heads.count(h) > 1}):
        yield Fault(path, 1, head, "this column is given twice")


def _put(data: dict[str, Any], row: dict[str, str]) -> None:
    if row.get("type") == "visit":
        names = {"where": "station", "time": "from"}
        data["visit"] = {names.get(k, k): v for k, v in row.items() if k != "type"}
    else:
        data["entries"].append(dict(_typed(row)))


def _typed(row: Mapping[str, str]) -> Iterator[tuple[str, Any]]:
    kind = row.get("type", "")
    for name, text in row.items():
        if name == "where":
            where = WHERE.get(kind, "position")
            yield where, re.split(r"[\s;,]+", text) if where == "positions" else text
        elif name in TRUTHS:
            yield name, _BOOLEANS.get(text.lower(), text)
        elif name in NUMBERS and _is_number_of(kind, name):
            yield name, _number(text)
        else:
            yield name, text


def _is_number_of(kind: str, name: str) -> bool:
    """Cleaning and the like tell what was found in words."""
    return name not in ("found", "left") or MODEL_OF.get(kind) in (LevelRow, ClockRow, SensorRow)


def _number(text: str) -> Any:
    try:
        return float(text)
    except ValueError:
        return text  # the model says what is wrong with it


def _prepared(parsed: ParsedText) -> ParsedText:
    """Rows that were filled in, with whole times, and the lines of the rows kept."""
    data = parsed.data
    if not isinstance(data, dict) or not isinstance(data.get("entries"), list):
        return parsed
    head = data.get("visit")
    bounds = _bounds(head)
    kept: list[Any] = []
    lines = {k: v for k, v in parsed.source.lines.items() if k[:1] != ("entries",)}
    for i, row in enumerate(data["entries"]):
        filled = _filled(row)
        if isinstance(filled, dict) and not set(filled) - set(GIVEN):
            continue
        for loc, line in parsed.source.lines.items():
            if loc[:2] == ("entries", i):
                lines["entries", len(kept), *loc[2:]] = line
        kept.append(_with_whole_times(filled, bounds))
    source = SourceLines(parsed.source.path, lines)
    return ParsedText(data | {"visit": _filled(head), "entries": kept}, source, parsed.faults)


def _filled(row: Any) -> Any:
    """A row without what was left blank."""
    if not isinstance(row, dict):
        return row
    return {k: v for k, v in row.items() if v is not None and v not in ("", [])}


def _bounds(head: Any) -> tuple[int, int] | None:
    try:
        return parse_utc(head["from"]), parse_utc(head["until"])
    except (TypeError, KeyError, ValueError):
        return None  # the model says what is wrong with it


def _with_whole_times(row: Any, bounds: tuple[int, int] | None) -> Any:
    if not isinstance(row, dict) or bounds is None:
        return row
    return {k: _whole(v, bounds) if k in TIMES else v for k, v in row.items()}


def _whole(value: Any, bounds: tuple[int, int]) -> Any:
    """A time of day put on the day of the visit: the first on which it lies within."""
    match = _HOUR.fullmatch(value) if isinstance(value, str) else None
    if match is None or int(match[1]) > 23 or int(match[2]) > 59 or int(match[3] or 0) > 59:
        return value
    start, end = (datetime.fromtimestamp(t, UTC) for t in bounds)
    day = start.replace(hour=int(match[1]), minute=int(match[2]), second=int(match[3] or 0))
    following = day + timedelta(days=1)
    moment = following if day < start and following <= end else day
    return moment.strftime("%Y-%m-%d %H:%M:%S")
