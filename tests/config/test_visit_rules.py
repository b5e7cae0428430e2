"""A form must fit the record: serial numbers, times, places, each refused at the row's line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from sunledger.config.loading import load_station
from sunledger.config.models.base import parse_utc
from sunledger.config.visit_file import load_visit
from sunledger.config.visit_rules import standing, visit_faults
from visit_forms import CLEANING, CLOCK, EXCHANGE, LEVEL, write_form

POWER = {"type": "power", "time": "2031-02-14 22:00", "until": "08:00", "positions": ["global_1"]}


def told(sound: Path, *rows: dict[str, Any]) -> list[str]:
    """Faults of a form with these rows, without the folder's name."""
    form, lines = load_visit(write_form(sound / "v.yaml", *rows))
    faults = visit_faults(form, lines, load_station(sound / "station"))
    return [str(f).removeprefix(f"{sound}/") for f in faults]


def test_a_form_that_fits(sound: Path) -> None:
    """An instrument put up in the same visit is known to its later rows."""
    later = LEVEL | {"time": "09:30", "serial_number": "GL-02"}
    assert told(sound, LEVEL, CLEANING, CLOCK | {"serial_number": "LG-01"}, EXCHANGE, later) == []
    assert told(sound, POWER) == []


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        (LEVEL | {"serial_number": "GL-02"}, "serial_number: by the record GL-01 stands there"),
        (LEVEL | {"position": "direct_1"}, "serial_number: by the record DR-01 stands there"),
        (CLOCK | {"serial_number": "LG-02"}, "serial_number: by the record LG-01 stands there"),
        (EXCHANGE | {"removed": "GL-02"}, "removed: by the record GL-01 stands there (global_1)"),
        (EXCHANGE | {"installed": "GL-03"}, "installed: serial number is not in instruments.yaml"),
        (LEVEL | {"time": "10:01"}, "time: lies outside the visit; allowed: 2031-02-15 08:00 to"),
        (LEVEL | {"time": "2031-02-14 09:00"}, "time: lies outside the visit"),
        (EXCHANGE | {"installed_at": "10:30"}, "installed_at: lies outside the visit"),
        (CLEANING | {"until": "08:10"}, "until: must not be earlier than time"),
        (POWER | {"until": "11:00"}, "until: lies after the visit; allowed: up to"),
        (CLEANING | {"positions": ["globl_1"]}, "positions: not at this station; allowed: "),
        (CLOCK | {"logger": "mian"}, "logger: not at this station; allowed: main; did you mean"),
    ],
)
def test_what_does_not_fit_is_named_with_its_line(
    row: dict[str, Any], expected: str, sound: Path
) -> None:
    (fault,) = told(sound, CLEANING, row)
    assert fault.startswith(f"v.yaml:4: entries[1] ({row['type']}).{expected}")


def test_all_faults_come_at_once(sound: Path) -> None:
    rows = [LEVEL | {"serial_number": "X"}, CLEANING | {"time": "07:00"}, CLOCK | {"logger": "x"}]
    assert [f.split(":")[1] for f in told(sound, *rows)] == ["3", "4", "5"]


def test_a_visit_is_entered_once(sound: Path) -> None:
    """One that overlaps a visit of the log was probably entered already."""
    log = sound / "station" / "fieldlog.yaml"
    with log.open("a", encoding="utf-8") as stream:
        stream.write(
            '  - {id: v-1, type: visit, from: "2031-02-15 09:00", until: "2031-02-15 11:00",\n'
            "     role: technician}\n"
        )
    (fault,) = told(sound, CLEANING)
    assert fault.startswith("v.yaml:1: visit.from: a visit at this time stands in the field log")
    assert "v-1 (" in fault


def test_what_stood_when(sound: Path) -> None:
    """Nothing before the first deployment."""
    config = load_station(sound / "station")
    now = standing(config, "global_1", parse_utc("2031-02-01"))
    assert now is not None
    assert now.entry.instrument == "GL-01"
    assert standing(config, "global_1", parse_utc("2031-01-01")) is None


def test_what_was_taken_down_already_is_not_taken_down_again(sound: Path) -> None:
    log = sound / "station" / "fieldlog.yaml"
    with log.open("a", encoding="utf-8") as stream:
        stream.write(
            '  - {id: r-1, type: removal, time: "2031-02-19", deployment: tst-001, role: x}\n'
        )
    (fault,) = told(sound, {k: v for k, v in EXCHANGE.items() if not k.startswith("installed")})
    assert "removed: its removal at 2031-02-19 00:00 stands in the record already" in fault
