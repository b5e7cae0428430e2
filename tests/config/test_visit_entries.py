"""What a form becomes in the field log."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sunledger.config.loading import load_station
from sunledger.config.models.fieldlog import FieldLog
from sunledger.config.visit_entries import entries_of, written
from sunledger.config.visit_file import load_visit
from visit_forms import CLEANING, CLOCK, EXCHANGE, LEVEL, write_form


def entries(sound: Path, *rows: dict[str, Any], **head: Any) -> list[dict[str, Any]]:
    """Entries of a form with these rows."""
    form, _ = load_visit(write_form(sound / "v.yaml", *rows, **head))
    return [entry for _, entry in entries_of(form, load_station(sound / "station"))]


def test_each_row_becomes_its_entry(sound: Path) -> None:
    """An exchange becomes the removal of what stood and a deployment."""
    rows = entries(sound, LEVEL, CLEANING, CLOCK, EXCHANGE)
    assert [r["type"] for r in rows] == [
        *("visit", "level_check", "cleaning", "clock_check", "removal", "deployment")
    ]
    assert rows[1]["found"] == {"size": 0.6, "azimuth": 90.0}
    assert rows[1]["after_tightening"] == {"size": 0.05}
    assert rows[2]["positions"] == ["global_1", "diffuse_1"]
    assert (rows[3]["found"], rows[3]["left"]) == (4.0, 0.0)
    assert rows[4]["deployment"] == "tst-001"
    assert rows[5] == {
        "id": "tst-20310215-06",
        "type": "deployment",
        "from": "2031-02-15 09:20",
        "instrument": "GL-02",
        "position": "global_1",
        "ventilated": True,
        "shade": "none",
        "role": "technician",
        "note": "to the laboratory",
    }
    assert len(FieldLog.model_validate({"entries": rows}).entries) == 6


def test_serial_numbers_read_stand_in_the_note_of_the_visit(sound: Path) -> None:
    serial = {"type": "serial_number", "position": "diffuse_1", "serial_number": "DF-01"}
    (visit,) = entries(sound, serial, note="all well")
    assert visit["note"] == "all well; serial numbers read: DF-01 at diffuse_1"


def test_dirt_keeps_its_onset_and_bound(sound: Path) -> None:
    dirt = {"soiled_since": "2031-02-10 06:00", "soiling_bound": 3}
    _, entry = entries(sound, CLEANING | dirt)
    assert (entry["soiled_since"], entry["soiling_bound"]) == ("2031-02-10 06:00", 3.0)


def test_ids_in_use_are_passed_over(sound: Path) -> None:
    log = sound / "station" / "fieldlog.yaml"
    log.write_text(log.read_text().replace("tst-011", "tst-20310215-01"), encoding="utf-8")
    assert entries(sound)[0]["id"] == "tst-20310215-02"


def test_power_failures_keep_their_own_time(sound: Path) -> None:
    power = {"type": "power", "time": "2031-02-14 22:00", "until": "2031-02-15 06:30"}
    _, entry = entries(sound, power | {"role": "data manager"})
    assert (entry["from"], entry["until"]) == ("2031-02-14 22:00", "2031-02-15 06:30")
    assert (entry["role"], "time" in entry) == ("data manager", False)


def test_seconds_are_written_where_there_are_any() -> None:
    assert written(1929052800) == "2031-02-17 00:00"
    assert written(1929052815) == "2031-02-17 00:00:15"
