"""Bad input, end to end: each fault has its message or its account, never a traceback or a loss."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import xarray as xr
from typer.testing import CliRunner, Result

import real_month
from sunledger.cli import app


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """Two days of the real month, wired as one invented station; returns the workflow file."""
    return real_month.write_project(tmp_path, real_month.published().iloc[: 2 * 1440])


def call(*words: str) -> Result:
    """The command line, as a person calls it."""
    return CliRunner().invoke(app, list(words))


def edit(folder: Path, name: str, change: Callable[[Any], None]) -> None:
    """Change one of the station's files."""
    path = folder / "station" / f"{name}.yaml"
    content = json.loads(path.read_text(encoding="utf-8"))
    change(content)
    path.write_text(json.dumps(content, indent=1), encoding="utf-8")


def partial_files(folder: Path) -> list[Path]:
    """Left-overs of interrupted writing."""
    return [p for p in folder.rglob("*") if "partial" in p.name]


def test_a_clean_run_says_so(project: Path) -> None:
    """Exit 0, lines accounted for, files named."""
    result = call("run", str(project))
    assert result.exit_code == 0, result.output
    assert "2,880 data lines: 2,880 kept, 0 repeated, 0 conflicting, 0 rejected" in result.output
    assert "Files: 5 written" in result.output


def test_no_raw_file_for_a_month(project: Path) -> None:
    """The unit is reported as empty, nothing is written, exit 0."""
    result = call("run", str(project), "--months", "2016-09..2016-09")
    assert result.exit_code == 0, result.output
    assert "Empty: pay 2016-09: no raw file for this month, nothing written" in result.output
    assert not list(project.parent.rglob("*2016-09*"))


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("rubbish.csv", bytes(range(256)) * 200),
        ("empty.csv", b""),
        ("newline.csv", b"\n\n\n"),
    ],
)
def test_a_file_that_is_no_table(project: Path, name: str, content: bytes) -> None:
    """It is named with what is wrong; the good file is processed as if it were not there."""
    (project.parent / "raw" / name).write_bytes(content)
    result = call("run", str(project))
    assert result.exit_code == 0, result.output
    assert name in result.output, result.output
    assert "2,880 kept" in result.output
    assert "Traceback" not in result.output


def test_a_file_cut_mid_line(project: Path) -> None:
    """The cut line is rejected and counted, all before it is kept."""
    raw = project.parent / "raw" / "month.csv"
    raw.write_bytes(raw.read_bytes()[:-30])
    result = call("run", str(project))
    assert result.exit_code == 0, result.output
    assert "2,880 data lines: 2,879 kept, 0 repeated, 0 conflicting, 1 rejected" in result.output
    path = project.parent / "archive" / "pay" / "voltage" / "pay_voltage_main_2016-06.nc"
    with xr.open_dataset(path, group="metadata/quarantine") as table:
        assert table["rejected_line"].values.tolist() == [2881]


def test_a_column_that_is_not_in_the_file(project: Path) -> None:
    """File, column and the columns found are named; no product is written."""
    edit(
        project.parent,
        "station",
        lambda s: s["loggers"]["main"]["channels"][0].update(column="glob_avg"),
    )
    result = call("run", str(project))
    assert "month.csv" in result.output
    assert "glob_avg" in result.output
    assert "ghi_min" in result.output  # one of the columns that are there
    assert "Traceback" not in result.output
    assert not list(project.parent.rglob("*.nc"))


def test_a_station_without_calibration(project: Path) -> None:
    """Voltages are archived; the minutes have flags and conditions, and no irradiance."""
    edit(project.parent, "instruments", lambda i: i["instruments"][0].update(calibrations=[]))
    result = call("run", str(project))
    assert result.exit_code == 0, result.output
    assert "X-ghi" in result.output
    assert "certificate" in result.output
    path = project.parent / "archive" / "pay" / "minute" / "pay_minute_2016-06.nc"
    with xr.open_dataset(path) as ds:
        assert int(ds["ghi"].notnull().sum()) == 0
        assert int(ds["dhi"].notnull().sum()) > 2800
        words = ds["ghi_conditions"]
        bits = dict(zip(words.flag_meanings.split(), words.flag_masks, strict=True))
        assert ((words.values[: 2 * 1440] & bits["no_calibration"]) != 0).all()


@pytest.mark.parametrize(
    ("name", "change", "words"),
    [
        ("station", lambda s: s.update(latitude=95.0), ["latitude", "90", "95"]),
        (
            "station",
            lambda s: s["loggers"]["main"]["channels"][0].update(quantity="ghj"),
            ["unknown quantity", "ghi", "ghj"],
        ),
        (
            "fieldlog",
            lambda f: f["entries"].append(
                f["entries"][0] | {"id": "dep-again", "instrument": "X-dhi", "from": "2016-03-01"}
            ),
            ["global_1", "dep-ghi", "dep-again"],
        ),
        ("fieldlog", lambda f: f["entries"][0].update(instrument="X-nobody"), ["X-nobody"]),
    ],
    ids=["coordinates", "unknown quantity", "overlapping deployments", "unknown serial number"],
)
def test_bad_configuration_stops_before_any_data(
    project: Path, name: str, change: Callable[[Any], None], words: list[str]
) -> None:
    """Exit 2, file and line, what is allowed and what was found; nothing is written."""
    edit(project.parent, name, change)
    for command in ("check", "plan", "run"):
        result = call(command, str(project))
        assert result.exit_code == 2, result.output
        assert f"{name}.yaml:" in result.output
        assert [w for w in words if w not in result.output] == []
        assert "Traceback" not in result.output
    assert not list(project.parent.rglob("*.nc"))


def test_all_faults_come_at_once(project: Path) -> None:
    """Faults of two files are named in one go."""
    edit(project.parent, "station", lambda s: s.update(latitude=95.0, longitude=200.0))
    edit(project.parent, "review", lambda r: r.update(decision=[]))
    result = call("check", str(project))
    assert result.exit_code == 2
    for word in ("latitude", "longitude", "review.yaml:", "decisions"):
        assert word in result.output


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_read_only_archive(project: Path) -> None:
    """The refusal is one line, exit 1."""
    archive = project.parent / "archive"
    archive.mkdir(mode=0o500)
    result = call("run", str(project))
    assert result.exit_code == 1
    assert "Permission denied" in result.output


def test_nothing_partial_is_left(project: Path) -> None:
    """No temporary file stays behind a run."""
    call("run", str(project))
    assert partial_files(project.parent) == []
