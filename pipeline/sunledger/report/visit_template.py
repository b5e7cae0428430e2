"""The visit form to fill in: what the checklist asks for, with the places written in."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from sunledger.config.loading import StationConfig
from sunledger.config.models.checklist import Checklist, Item
from sunledger.config.models.visit import AlignmentRow, ClockRow, LevelRow, SensorRow, WorkRow
from sunledger.config.visit_file import COLUMNS, MODEL_OF, TIMES, WHERE
from sunledger.report.visit_facts import Standing, standing_now

Blank = dict[str, str]
"""Field → what is written in already; empty to be filled in."""

_FIELDS: dict[type, tuple[str, ...]] = {
    LevelRow: (
        *("serial_number", "time", "found", "found_azimuth", "left", "left_azimuth"),
        *("after_tightening", "after_tightening_azimuth", "tightened", "note"),
    ),
    ClockRow: ("serial_number", "time", "found", "left", "note"),
    WorkRow: ("time", "found", "left", "note"),
    AlignmentRow: ("time", "found", "left", "out_of_place", "note"),
    SensorRow: ("serial_number", "time", "found", "left", "note"),
}
_MORE = {"cleaning": ("soiled_since", "soiling_bound"), "ventilator": ("off_since",)}
KINDS = tuple(MODEL_OF)
_EXPLAINED = f"""\
# Times are UTC: "2031-06-24 09:05", or the time of day alone, "09:05"; quoted, as they stand here.
# Angles in degrees, azimuth clockwise from north; clocks in seconds, logger minus reference;
# tightened and out_of_place: true or false. A row in which nothing is filled in is not entered.
# Kinds of rows: {", ".join(KINDS[:7])},
# {", ".join(KINDS[7:])}.
# power tells a time without power, from time until until. Add rows as needed.
"""


def blank_rows(config: StationConfig, checklist: Checklist) -> Iterator[Blank]:
    """
    Rows of a visit form, one for each thing that the checklist asks for.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    checklist : Checklist
        Its checklist.

    Yields
    ------
    row : dict
        In the order of the checklist; without those that go into another row.
    """
    stands = {s.position: s for s in standing_now(config)}
    seen = set()
    for item in (item for place in checklist.places for item in place.items):
        for row in _rows(item, stands):
            key = (row["type"], row[WHERE[row["type"]]])
            if key not in seen:
                yield row
            seen.add(key)


def _rows(item: Item, stands: dict[str, Standing]) -> Iterator[Blank]:
    kind = item.entry
    if kind is None or kind not in MODEL_OF:
        return
    if WHERE[kind] == "positions":
        yield _row(kind, " ".join(item.positions))
        return
    for where in item.loggers if WHERE[kind] == "logger" else item.positions:
        yield _exchange(where, stands.get(where)) if kind == "exchange" else _row(kind, where)


def _row(kind: str, where: str) -> Blank:
    names = _FIELDS.get(MODEL_OF[kind], ("serial_number",))
    blank = dict.fromkeys((*names, *_MORE.get(kind, ())), "")
    return {"type": kind, WHERE[kind]: where, **blank}


def _exchange(where: str, stands: Standing | None) -> Blank:
    entry = None if stands is None or stands.period is None else stands.period.entry
    blank = dict.fromkeys(("removed", "time", "installed", "installed_at"), "")
    return {
        "type": "exchange",
        "position": where,
        **blank,
        "ventilated": str(entry is not None and entry.ventilated).lower(),
        "shade": "none" if entry is None else entry.shade,
        "note": "",
    }


def yaml_template(config: StationConfig, checklist: Checklist) -> str:
    """
    The visit form in YAML.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    checklist : Checklist
        Its checklist.

    Returns
    -------
    text : str
        Every row with its fields, one a line, blank where something is to be filled in.
    """
    station = config.station
    stands = {s.position: s for s in standing_now(config)}
    head = f"# Visit to {station.name} ({station.id}). Fill in, then enter it with\n"
    lines = [head, "#   sunledger fieldlog add VISIT WORKFLOW\n", _EXPLAINED]
    lines += ["visit:\n", f"  station: {station.id}\n"]
    lines += ['  from: ""\n', '  until: ""\n', "  role: station technician\n", "  note:\n"]
    lines.append("entries:\n")
    for row in blank_rows(config, checklist):
        lines.append(_stands(row, stands))
        for number, (name, value) in enumerate(row.items()):
            lines.append(f"  {'- ' if not number else '  '}{name}:{_yaml_value(name, value)}\n")
    return "".join(lines)


def _yaml_value(name: str, value: str) -> str:
    if name == "positions":
        return f" [{', '.join(value.split())}]"
    if name in TIMES and not value:
        return ' ""'
    return f" {value}" if value else ""


def _stands(row: Blank, stands: dict[str, Standing]) -> str:
    """A remark with what the record says stands there, where there is one instrument."""
    known = stands.get(row.get("position", ""))
    return f"  # {known.position}: {known.serial}\n" if known and known.serial else ""


def csv_template(config: StationConfig, checklist: Checklist) -> str:
    """
    The visit form as a table for a phone or a spreadsheet.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    checklist : Checklist
        Its checklist.

    Returns
    -------
    text : str
        CSV with a header line; the first row is the visit itself.
    """
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\n")
    writer.writeheader()
    role = "station technician"
    writer.writerow({"type": "visit", "where": config.station.id, "role": role})
    for row in blank_rows(config, checklist):
        where = WHERE[row["type"]]
        writer.writerow({"where" if n == where else n: v for n, v in row.items()})
    return out.getvalue()
