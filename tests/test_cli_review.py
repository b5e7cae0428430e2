"""The reviewer's command line."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner

from run.test_review import minutes
from sunledger.cli import app


def test_suggest_prints_entries(tmp_path: Path) -> None:
    """Exit code 0, and YAML on standard output."""
    file = tmp_path / "minutes.nc"
    minutes(dni=dict.fromkeys(range(7), 3)).to_netcdf(file)
    done = CliRunner().invoke(app, ["review", "suggest", str(file), "--decided", "2031-04-01"])
    assert done.exit_code == 0, done.output
    assert done.output.startswith("decisions:\n")
    assert "quantities: [dni]" in done.output


def test_missing_file_is_an_error_in_words(tmp_path: Path) -> None:
    """Exit code 1."""
    file = str(tmp_path / "none.nc")
    done = CliRunner().invoke(app, ["review", "suggest", file, "--decided", "2031-04-01"])
    assert done.exit_code == 1
    assert "no such minute file" in done.output


def test_accepting_an_unknown_workflow_is_an_error_in_words(tmp_path: Path) -> None:
    """Exit code 1, and no traceback."""
    options = ["--decided", "2031-04-01", "--reason", "seen"]
    file = str(tmp_path / "none.yaml")
    done = CliRunner().invoke(app, ["review", "accept", "osr-x", file, *options])
    assert done.exit_code == 1
    assert "none.yaml" in done.output
