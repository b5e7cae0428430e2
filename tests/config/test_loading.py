"""Loading: every fault of every file at once, and the line of every entry."""

from __future__ import annotations

import pickle
import re
from pathlib import Path

import pytest

from sunledger.config.loading import (
    StationConfig,
    load_all,
    load_model,
    load_station,
    load_workflow,
    load_yaml,
)
from sunledger.config.models.base import parse_utc
from sunledger.config.models.fieldlog import FieldLog
from sunledger.config.models.instruments import Inventory
from sunledger.config.models.processing import Processing
from sunledger.config.models.station import Station
from sunledger.errors import ConfigError


def test_sound_station_is_loaded(sound: Path) -> None:
    """All four files arrive as models, with lists as tuples and times as seconds."""
    config = load_station(sound / "station")
    assert config.station.id == "tst"
    assert config.station.loggers["main"].utc_offset == 3600
    assert config.inventory.instruments[0].calibrations[0].sensitivity.as_left == 8.4
    # 2031-01-10 09:00 UTC, counted by `date -u -d "2031-01-10 09:00" +%s`.
    assert config.fieldlog.entries[0].time == 1925802000
    assert config.review.decisions == ()


def test_lines_point_at_entries(sound: Path) -> None:
    """Each entry of each file is found on the line where a person wrote it."""
    config = load_station(sound / "station")
    text = (sound / "station" / "fieldlog.yaml").read_text(encoding="utf-8").splitlines()
    path, line = config.entry_place("tst-009")
    assert path == str(sound / "station" / "fieldlog.yaml")
    assert text[line - 1] == "  - id: tst-009"
    assert text[config.place("fieldlog", "entries", 0, "from")[1] - 1].startswith("    from:")
    assert config.entry_place("nobody") == (path, 1)
    path, line = config.place("inventory", "instruments", 1, "calibrations", 0, "date")
    assert Path(path).read_text(encoding="utf-8").splitlines()[line - 1].endswith('"2030-11-02"')


def test_config_without_files_has_places_without_lines(sound: Path) -> None:
    """A configuration made in memory is checked like any other."""
    loaded = load_station(sound / "station")
    made = StationConfig(loaded.station, loaded.inventory, loaded.fieldlog, loaded.review)
    assert made.entry_place("tst-001") == ("fieldlog.yaml", 0)
    assert made.place("inventory", "instruments", 0) == ("instruments.yaml", 0)


def test_station_survives_pickling(sound: Path) -> None:
    """Workers get the same configuration, lines included."""
    config = load_station(sound / "station")
    again = pickle.loads(pickle.dumps(config))
    assert again == config
    assert again.entry_place("tst-009") == config.entry_place("tst-009")


def test_faults_of_several_files_at_once(bad_configs: Path) -> None:
    """Faults of all files are gathered before anything is raised."""
    models = bad_configs / "models"
    with pytest.raises(ConfigError) as caught:
        load_all(
            [
                (models / "station_latitude_out_of_range.yaml", Station),
                (bad_configs / "yaml" / "empty.yaml", Processing),
                (models / "instruments_kind_unknown.yaml", Inventory),
                (models / "nowhere.yaml", FieldLog),
            ]
        )
    assert [Path(fault.path).name for fault in caught.value.faults] == [
        "station_latitude_out_of_range.yaml",
        "empty.yaml",
        "instruments_kind_unknown.yaml",
        "nowhere.yaml",
    ]
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)


def test_missing_files_of_a_station(sound: Path) -> None:
    """A station lacks none of its files silently: a lost review would lose its rejections."""
    for name in ("review.yaml", "instruments.yaml"):
        (sound / "station" / name).unlink()
    with pytest.raises(ConfigError) as caught:
        load_station(sound / "station")
    assert [str(fault) for fault in caught.value.faults] == [
        f"{sound}/station/instruments.yaml: the file does not exist",
        f"{sound}/station/review.yaml: the file does not exist",
    ]


def test_sound_workflow_is_loaded(sound: Path) -> None:
    """Paths in a plan are relative to its file, wherever the command is given."""
    loaded = load_workflow(sound / "workflow.yaml")
    assert loaded.network.id == "nrn"
    assert loaded.processing.checks.cleaning_plan == 31
    assert [config.station.id for config in loaded.stations] == ["tst"]
    assert (loaded.raw, loaded.archive) == (sound / "raw", sound / "archive")
    assert loaded.workflow.as_of == parse_utc("2031-02-20")


def test_paths_of_a_workflow_are_relative_to_it(
    sound: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A plan in a subfolder reaches its neighbours, from any working directory."""
    text = (sound / "workflow.yaml").read_text(encoding="utf-8")
    for name in ("network.yaml", "processing.yaml", "[station]"):
        text = text.replace(f" {name}", f" [../{name[1:]}" if "[" in name else f" ../{name}")
    (sound / "plans").mkdir()
    (sound / "plans" / "monthly.yaml").write_text(text, encoding="utf-8")
    monkeypatch.chdir(sound / "station")
    loaded = load_workflow("../plans/monthly.yaml")
    assert loaded.stations[0].lines["fieldlog"].path == "../station/fieldlog.yaml"
    assert loaded.raw == Path("../plans/raw")
    assert loaded.stations[0].station == load_station(sound / "station").station


EVERY_FILE = [
    "network.yaml:1: id: must be 2 to 12 lower-case letters or digits, letter first (got 'NRN')",
    "station/fieldlog.yaml:2: entries: given twice; first on line 1",
    "station/instruments.yaml: the file does not exist",
    'station/review.yaml:1: finished_months[0]: must be a month such as "2031-03"'
    " (got '2031-13')",
    "station/station.yaml:5: latitude: must be at most 90.0 (got 95)",
    "workflow.yaml:2: processing: no such file; paths are relative to this file"
    " (got {folder}/nowhere.yaml)",
    "workflow.yaml:3: stations[1]: no such folder; paths are relative to this file"
    " (got {folder}/other)",
    'workflow.yaml:3: stations[2]: must be text (got 7; quote it: "7")',
    "workflow.yaml:7: workers: must be at least 1 (got 0)",
]


def test_faults_of_all_files_of_a_workflow_at_once(bad_configs: Path) -> None:
    """One run of the check shows everything that is wrong anywhere, sorted by file and line."""
    folder = bad_configs / "workflow" / "faults_in_every_file"
    with pytest.raises(ConfigError) as caught:
        load_workflow(folder / "workflow.yaml")
    expected = [f"{folder}/{line}".replace("{folder}", str(folder)) for line in EVERY_FILE]
    assert str(caught.value).splitlines() == expected


def test_station_given_twice(sound: Path) -> None:
    """Two folders with one identifier would write into each other's files."""
    text = (sound / "workflow.yaml").read_text(encoding="utf-8")
    (sound / "workflow.yaml").write_text(text.replace("[station]", "[station, station]"))
    where = re.escape(f"{sound}/station/station.yaml:2: id: station tst is given twice; first in ")
    with pytest.raises(ConfigError, match=where):
        load_workflow(sound / "workflow.yaml")


def test_workflow_that_cannot_be_parsed(bad_configs: Path) -> None:
    """Nothing can be named by a plan that cannot be read; only its own fault is told."""
    with pytest.raises(ConfigError) as caught:
        load_workflow(bad_configs / "yaml" / "open_quote.yaml")
    assert len(caught.value.faults) == 1


def test_values_are_never_converted_silently(tmp_path: Path) -> None:
    """Text is no number and a number no text, whatever it looks like."""
    path = tmp_path / "processing.yaml"
    path.write_text('checks: {cleaning_plan: "31"}\naggregate: {least_days: 20.0}\n')
    with pytest.raises(ConfigError) as caught:
        load_model(path, Processing)
    assert [str(f).removeprefix(str(path)) for f in caught.value.faults] == [
        ":1: checks.cleaning_plan: must be a number (got '31')",
        ":2: aggregate.least_days: must be a whole number (got 20.0)",
    ]


def test_whole_numbers_are_numbers(tmp_path: Path) -> None:
    """Nobody need write a point where a whole number will do."""
    path = tmp_path / "processing.yaml"
    path.write_text("checks: {cleaning_plan: 7}\n")
    assert load_model(path, Processing).checks.cleaning_plan == 7.0
    data, lines = load_yaml(path)
    assert data == {"checks": {"cleaning_plan": 7}}
    assert lines.line("checks") == 1


def test_contradicting_limits_are_refused_with_their_line(tmp_path: Path) -> None:
    """A minimum at or above the maximum cannot be meant, for limits of light as of the air."""
    path = tmp_path / "processing.yaml"
    path.write_text(
        "qc_flag:\n"
        "  limits:\n"
        "    ghi:\n"
        "      site: {minimum: 90.0, factor: 1.0, exponent: 1.0, offset: 90.0}\n"
        "  air: {lowest_humidity: 1.2}\n"
    )
    with pytest.raises(ConfigError) as caught:
        load_model(path, Processing)
    said = [str(f).removeprefix(str(path)) for f in caught.value.faults]
    assert len(said) == 2
    assert said[0].startswith(":4: qc_flag.limits.ghi.site")
    assert "minimum must be below offset" in said[0]
    assert said[1].startswith(":5: qc_flag.air")
    assert "lowest_humidity must be below highest_humidity" in said[1]
