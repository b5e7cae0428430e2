"""The form to fill in: a row for each thing asked for, and nothing entered when left blank."""

from __future__ import annotations

from pathlib import Path

import pytest

from sunledger.config.checklists import load_checklist
from sunledger.config.loading import load_station
from sunledger.config.visit_file import load_visit
from sunledger.errors import ConfigError
from sunledger.report.visit_template import blank_rows, csv_template, yaml_template

ROOT = Path(__file__).parents[2]
STATIONS = ("ossel_ridge", "karru_pan")


def test_rows_follow_the_checklist(sound: Path) -> None:
    """A second look at the level has its field in the row of the first."""
    config = load_station(sound / "station")
    rows = list(blank_rows(config, load_checklist(config)))
    assert [r["type"] for r in rows] == [
        *("level_check", "cleaning", "clock_check", "exchange", "exchange")
    ]
    assert "after_tightening" in rows[0]
    assert (rows[4]["position"], rows[4]["shade"]) == ("diffuse_1", "disc")


@pytest.mark.parametrize("name", STATIONS)
def test_a_blank_form_enters_nothing_but_the_visit(name: str, tmp_path: Path) -> None:
    """Both writings, once day and hours are filled in; without them they are refused."""
    config = load_station(ROOT / "configs" / "stations" / name)
    checklist = load_checklist(config)
    text = yaml_template(config, checklist)
    path = tmp_path / "v.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ConfigError, match=r"v\.yaml:\d+: visit\.from: is missing"):
        load_visit(path)
    times = ("2031-06-25 08:00", "2031-06-25 09:00")
    head = text.replace('from: ""', f'from: "{times[0]}"')
    path.write_text(head.replace('until: ""', f'until: "{times[1]}"', 1), encoding="utf-8")
    form, _ = load_visit(path)
    assert (form.visit.station, form.entries) == (config.station.id, ())
    table = tmp_path / "v.csv"
    row = f"visit,{config.station.id},,"
    content = csv_template(config, checklist)
    assert row in content
    table.write_text(content.replace(row + ",", row + ",".join(times), 1), encoding="utf-8")
    assert load_visit(table)[0] == form


def test_both_forms_have_the_same_rows(sound: Path) -> None:
    config = load_station(sound / "station")
    checklist = load_checklist(config)
    kinds = [line.split(",")[0] for line in csv_template(config, checklist).splitlines()[2:]]
    assert kinds == [r["type"] for r in blank_rows(config, checklist)]
    assert yaml_template(config, checklist).count("- type: ") == len(kinds)


def test_what_stands_there_is_a_remark(sound: Path) -> None:
    """The serial number itself is to be read on site, so it is not written in."""
    config = load_station(sound / "station")
    text = yaml_template(config, load_checklist(config))
    assert "  # global_1: GL-01\n  - type: level_check\n" in text
    assert "serial_number:\n" in text
