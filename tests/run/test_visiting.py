"""The round trip: a filled form goes into the field log, the ledger loads, the run uses it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
import yaml

import invented
import small_project
from sunledger.config.ledger import check_station
from sunledger.config.loading import load_station
from sunledger.config.models.checks import CheckSettings
from sunledger.errors import ConfigError
from sunledger.report.facts_tables import change_rows
from sunledger.report.month import station_month
from sunledger.report.visits import station_form
from sunledger.run.job import Choice, check, run
from sunledger.run.visiting import add_visit
from sunledger.vocabulary import CONDITIONS
from visit_forms import CLEANING, CLOCK, EXCHANGE, LEVEL, write_checklist, write_form

HEAD = {"from": "2031-07-01 10:00", "until": "2031-07-01 11:00"}
FILLED: dict[tuple[str, str], dict[str, Any]] = {
    ("level_check", "global_1"): {
        "serial_number": "NR-global_1",
        "time": "10:05",
        "found": 0.6,
        "found_azimuth": 95,
        "left": 0.05,
        "after_tightening": 0.05,
        "tightened": True,
    },
    ("clock_check", "main"): {"time": "10:10", "found": 20, "left": 0},
    ("cleaning", ""): {"time": "10:15", "found": "dust", "soiled_since": "2031-06-30 12:00"},
    ("exchange", "global_1"): {
        "removed": "NR-global_1",
        "time": "10:20",
        "installed": "NR-spare",
        "installed_at": "10:30",
    },
}


def filled(workflow: Path, target: Path) -> Path:
    """The station's own template, filled in for one level check, clock, cleaning and exchange."""
    form = yaml.safe_load(station_form(workflow, "tst"))
    form["visit"] |= HEAD
    for row in form["entries"]:
        where = row.get("position") or row.get("logger") or ""
        row |= FILLED.get((row["type"], where), {})
    target.write_text(json.dumps(form, indent=1), encoding="utf-8")
    return target


def july(workflow: Path) -> xr.Dataset:
    """Minutes of July."""
    path = workflow.parent / "archive" / "tst" / "minute" / "tst_minute_2031-07.nc"
    with xr.open_dataset(path) as ds:
        return ds.load()


def marked(ds: xr.Dataset, condition: str) -> np.ndarray:
    """Times of the minutes of global with a condition."""
    word = ds["ghi_conditions"].values
    return ds["time"].values[(word & CONDITIONS[condition].mask) != 0]


def with_spare(workflow: Path) -> Path:
    """Gives a project a spare of half the sensitivity, a log with comments; returns the log."""
    spare = invented.instrument("global_1", serial_number="NR-spare")
    spare["calibrations"][0]["sensitivity"]["as_left"] = 2 * invented.SENSITIVITY["global_1"]
    small_project.edit(workflow, "station/instruments", lambda f: f["instruments"].append(spare))
    write_checklist(workflow.parent / "station")
    log = workflow.parent / "station" / "fieldlog.yaml"
    text = yaml.safe_dump(json.loads(log.read_text()))
    log.write_text(f"# kept by hand\n{text}  # the last word\n", encoding="utf-8")
    return log


def test_what_was_noted_on_site_reaches_the_minutes(project: Path) -> None:
    """Doubt of the level runs back, the visit and the soiling show, the spare's certificate holds.

    What stood in the field log stays to the byte.
    """
    log = with_spare(project)
    before, first = log.read_bytes(), july(project)
    assert marked(first, "level_doubtful").size == 0
    form = filled(project, project.parent / "v.yaml")
    path, ids, (remark,) = add_visit(form, project)
    assert (path, len(ids)) == (log, 6)
    assert "no level check after tightening is recorded for NR-spare" in remark.why
    assert "exchange" in form.read_text().splitlines()[remark.line - 2]
    assert log.read_bytes().startswith(before)
    checked = check_station(load_station(project.parent / "station"), CheckSettings())
    assert not [f for f in checked if f.severity == "error"]

    _, outcomes = run(project, Choice(), lambda *_: None)
    assert not [o.error for o in outcomes if o.done == "failed"]
    ds = july(project)
    assert marked(ds, "level_doubtful").max() == np.datetime64("2031-07-01T10:04")
    during = marked(ds, "maintenance")  # with the margin of the conditions
    for minute in ("2031-07-01T10:00", "2031-07-01T10:59"):
        assert np.datetime64(minute) in during
    assert marked(ds, "soiling_recorded").min() == np.datetime64("2031-07-01")
    assert marked(ds, "no_deployment").size == 10
    # the new clock check brackets what before was unverified
    assert marked(first, "clock_unverified").min() == np.datetime64("2031-07-01")
    assert marked(ds, "clock_unverified").min() >= np.datetime64("2031-07-01T10:10")
    after = slice("2031-07-01T11:05", "2031-07-01T15:00")
    ratio = ds["ghi"].sel(time=after).values / first["ghi"].sel(time=after).values
    np.testing.assert_allclose(ratio, 0.5, rtol=1e-3)
    newest, *_ = change_rows(station_month(project.parent / "archive", "tst", "2031-07"))
    assert newest[0] == 2
    assert newest[-1].startswith("ghi -"), "the page says by how much global changed"


def test_a_form_that_does_not_fit_changes_nothing(sound: Path) -> None:
    """The ledger's own rules are told at the form's lines too."""
    workflow = sound / "workflow.yaml"
    log = sound / "station" / "fieldlog.yaml"
    before = log.read_bytes()
    wrong = EXCHANGE | {"removed": None, "time": None}  # put up while another still stands
    form = write_form(sound / "v.yaml", CLEANING, {k: v for k, v in wrong.items() if v is not None})
    with pytest.raises(ConfigError, match=r"v\.yaml:4: entries\[1\]\.\w+: .*GL-01") as caught:
        add_visit(form, workflow)
    assert all(f.path == str(form) for f in caught.value.faults)
    with pytest.raises(ConfigError, match=r"v\.yaml:3: .*serial_number: by the record GL-01"):
        add_visit(write_form(sound / "v.yaml", LEVEL | {"serial_number": "GL-02"}), workflow)
    with pytest.raises(
        ConfigError, match=r"v\.yaml:1: visit\.station: no such station; allowed: t"
    ):
        add_visit(write_form(sound / "v.yaml", LEVEL, station="tts"), workflow)
    assert log.read_bytes() == before


def test_the_same_visit_twice_is_refused(sound: Path) -> None:
    form = write_form(sound / "v.yaml", LEVEL, CLOCK)
    _, ids, _ = add_visit(form, sound / "workflow.yaml")
    assert ids == ["tst-20310215-01", "tst-20310215-02", "tst-20310215-03"]
    with pytest.raises(ConfigError, match=r"stands in the field log already: tst-20310215-01 \("):
        add_visit(form, sound / "workflow.yaml")


def test_remarks_of_the_ledger_come_with_the_row(sound: Path) -> None:
    """A level check that was tightened and not looked at again."""
    row = {k: v for k, v in LEVEL.items() if k != "after_tightening"}
    _, _, warnings = add_visit(write_form(sound / "v.yaml", row), sound / "workflow.yaml")
    (remark,) = [w for w in warnings if "not looked at after" in w.why]
    assert (remark.line, remark.severity) == (3, "warning")


def test_a_wrong_checklist_is_told_by_the_check_and_stops_no_run(project: Path) -> None:
    """The run does not read it; the check names its line as a warning."""
    item = {"do": "clean", "entry": "cleaning", "positions": ["globl_1"]}
    write_checklist(project.parent / "station", places=[{"place": "x", "items": [item]}])
    _, warnings = check(project)
    told = [w for w in warnings if w.path.endswith("checklist.yaml")]
    assert any("did you mean 'global_1'? (got globl_1)" in w.why and w.line > 1 for w in told)
    assert {w.severity for w in told} == {"warning"}
