"""What names alone say: files of nobody, times without files, and formats that are none."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

import small_project
from sunledger.cli import app
from sunledger.config.loading import load_workflow
from sunledger.errors import ConfigError
from sunledger.run import rawcheck
from sunledger.run.job import check
from sunledger.run.rawcheck import dated_months, file_warnings, format_faults
from sunledger.stages import streams


@pytest.fixture
def workflow(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small project whose raw files must not be opened."""
    path = small_project.write_project(tmp_path, minutes=3)

    def refuse(*_: object) -> None:
        raise AssertionError("a data file was opened")

    monkeypatch.setattr(streams, "read_pieces", refuse)
    return path


def warnings(workflow: Path) -> list[str]:
    """In words, without the folder."""
    said = file_warnings(load_workflow(workflow))
    assert {w.severity for w in said} <= {"warning"}
    return [str(w).replace(f"{workflow.parent}/", "") for w in said]


def test_nothing_to_say(workflow: Path) -> None:
    """Every file has its logger, every deployment its files."""
    assert warnings(workflow) == []


def test_files_of_nobody(workflow: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each is named; of many, the first."""
    raw = workflow.parent / "raw"
    (raw / "stray.csv").write_text("x", encoding="utf-8")
    assert warnings(workflow) == [
        "raw/stray.csv: warning: matches no logger of the workflow's stations"
    ]
    monkeypatch.setattr(rawcheck, "MOST_FILES", 1)
    (raw / "tray.csv").write_text("x", encoding="utf-8")
    assert warnings(workflow)[1] == "raw: warning: and 1 more files that match no logger"


def test_a_logger_without_files(workflow: Path) -> None:
    """At its pattern in station.yaml."""
    for path in (workflow.parent / "raw").glob("beam_*"):
        path.unlink()
    (said,) = warnings(workflow)
    assert said.startswith("station/station.yaml:")
    assert said.endswith("loggers.beam.files: no file in the raw folder matches (got beam_*.csv)")


def test_months_and_deployments_without_files(workflow: Path) -> None:
    """A pause between files, and an instrument that nothing was recorded of."""
    small_project.write_raw(workflow.parent / "raw", ["2031-10-02"], ["main"], minutes=1)
    earlier = small_project.invented.deployment(
        "global_1", id="dep-old", **{"from": "2030-02-01", "until": "2030-05-01"}
    )
    small_project.edit(workflow, "station/fieldlog", lambda f: f["entries"].insert(0, earlier))
    pause, never = warnings(workflow)
    assert "no file of logger main is named for 2031-08..2031-09" in pause
    assert "station/fieldlog.yaml:" in never
    assert "deployment dep-old at global_1: no file of logger main is named for its months" in never


@pytest.mark.parametrize(
    ("names", "months"),
    [
        (["a/main_20310402.csv", "a/main_20310501.csv"], ["2031-04", "2031-05"]),
        (["2031-04.txt", "2031_05_06.txt", "x.2031.07.gz"], ["2031-04", "2031-05", "2031-07"]),
        (["2031/04/a.txt", "203105/b.txt"], []),
        (["20310402/a.txt"], ["2031-04"]),
        (["main_20310402.csv", "grown.csv"], []),
        (["20311302.csv"], []),
        (["serial120310402.csv"], []),
        (["main_20310402123000.csv"], []),
        ([], []),
    ],
)
def test_dates_in_names(names: list[str], months: list[str]) -> None:
    """Year and month, with or without day; where one name has none, nothing is concluded."""
    assert dated_months(names) == months


def test_a_time_format_that_is_none(workflow: Path) -> None:
    """File, line and what is allowed, before any data is opened."""
    small_project.edit(
        workflow,
        "station/station",
        lambda s: s["loggers"]["beam"]["layouts"][0]["time"].update(format="%Y-%m-%d %Q"),
    )
    (fault,) = format_faults(load_workflow(workflow).stations)
    assert fault.field == "loggers.beam.layouts.0.time.format"
    assert fault.line > 1
    with pytest.raises(ConfigError, match=r"station\.yaml:\d+: .*unknown %Q; allowed: %Y"):
        check(workflow)
    result = CliRunner().invoke(app, ["check", str(workflow)])
    assert result.exit_code == 2
    assert "unknown %Q" in result.output


def test_the_command_counts_the_warnings(workflow: Path) -> None:
    """They are printed, and the exit code stays 0."""
    before = len(check(workflow)[1])
    (workflow.parent / "raw" / "stray.csv").write_text("x", encoding="utf-8")
    result = CliRunner().invoke(app, ["check", str(workflow)])
    assert result.exit_code == 0
    assert f"no error, {before + 1} warnings" in result.output
    assert "stray.csv: warning: matches no logger" in result.output
