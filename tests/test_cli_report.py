"""The commands that make pages: exit codes and text."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

import small_project
from sunledger.cli import app


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Archive of the small project."""
    return small_project.made_once(tmp_path_factory.getbasetemp()).parent / "archive"


def test_report_writes_a_page(archive: Path, tmp_path: Path) -> None:
    """The page is named on the last line, and the same bytes come twice."""
    month = next(iter(sorted((archive / small_project.STATION / "minute").glob("*.nc")))).stem[-7:]
    path = tmp_path / "page.html"
    arguments = ["report", str(archive), small_project.STATION, month, "-o", str(path)]
    result = CliRunner().invoke(app, arguments)
    assert result.exit_code == 0, result.output
    assert str(path) in result.output.replace("\n", "")
    first = path.read_bytes()
    assert CliRunner().invoke(app, arguments).exit_code == 0
    assert path.read_bytes() == first
    assert b"Completeness and grades" in first


def test_unknown_stations_are_refused(archive: Path) -> None:
    """One line, exit code 2."""
    result = CliRunner().invoke(app, ["report", str(archive), "nowhere", "2031-04"])
    assert result.exit_code == 2
    assert "has no station" in result.output


def test_network_compares_the_stations(archive: Path, tmp_path: Path) -> None:
    """The page is named with its size; a month that is none is refused."""
    path = tmp_path / "network.html"
    result = CliRunner().invoke(app, ["network", str(archive), "2031-06", "-o", str(path)])
    assert result.exit_code == 0, result.output
    assert "bytes" in result.output
    assert b"Who needs a visit first" in path.read_bytes()
    assert CliRunner().invoke(app, ["network", str(archive), "June"]).exit_code == 2
