"""Filled visit forms and a checklist for the invented stations of the tests."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

HEAD = {
    "station": "tst",
    "from": "2031-02-15 08:00",
    "until": "2031-02-15 10:00",
    "role": "technician",
}
LEVEL = {
    "type": "level_check",
    "position": "global_1",
    "serial_number": "GL-01",
    "time": "08:10",
    "found": 0.6,
    "found_azimuth": 90.0,
    "left": 0.1,
    "after_tightening": 0.05,
    "tightened": True,
}
CLEANING = {
    "type": "cleaning",
    "positions": ["global_1", "diffuse_1"],
    "time": "08:20",
    "found": "dust",
    "left": "clean",
}
CLOCK = {"type": "clock_check", "logger": "main", "time": "08:30", "found": 4.0, "left": 0.0}
EXCHANGE = {
    "type": "exchange",
    "position": "global_1",
    "removed": "GL-01",
    "time": "09:00",
    "installed": "GL-02",
    "installed_at": "09:20",
    "ventilated": True,
    "note": "to the laboratory",
}
CHECKLIST = {
    "cautions": ["bring <water> & shade"],
    "places": [
        {
            "place": "Bench <1>",
            "items": [
                {"do": "arrive", "entry": "visit"},
                {"do": "read the bubble", "entry": "level_check", "positions": ["global_1"]},
                {"do": "clean", "entry": "cleaning", "positions": ["global_1", "direct_1"]},
                {"do": "clock", "entry": "clock_check", "loggers": ["main"], "source": "WMO-No. 8"},
                {"do": "exchange", "entry": "exchange", "positions": ["global_1", "diffuse_1"]},
                {"do": "once more", "entry": "level_again", "positions": ["global_1"]},
                {"do": "look around"},
            ],
        }
    ],
}


def write_form(path: Path, *rows: dict[str, Any], **head: Any) -> Path:
    """A form in YAML, each row on one line of its own: row n stands on line n + 3."""
    lines = [f"visit: {json.dumps(HEAD | head)}", "entries:" if rows else "entries: []"]
    lines += [f"  - {json.dumps(row)}" for row in rows]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def write_checklist(folder: Path, **changes: Any) -> Path:
    """A checklist in a station's folder."""
    path = folder / "checklist.yaml"
    path.write_text(json.dumps(CHECKLIST | changes, indent=1), encoding="utf-8")
    return path
