"""What the archive holds on a month is found, also where it is nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

import small_project
from sunledger.errors import ArchiveError
from sunledger.report.figures import events_over_time
from sunledger.report.month import station_month, tables_of, written


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Archive of the small project."""
    return small_project.made_once(tmp_path_factory.getbasetemp()).parent / "archive"


def test_a_month_with_data(archive: Path) -> None:
    """Minutes, tables, lines of each logger and the change record are gathered."""
    path = next(iter(sorted((archive / small_project.STATION / "minute").glob("*.nc"))))
    month = station_month(archive, small_project.STATION, path.stem[-7:])
    assert month.minutes is not None
    assert "ghi" in month.quantities
    assert set(month.lines) == {"main", "beam"}
    assert "deployment" in month.tables
    assert month.title.startswith("Test Ridge")
    assert set(tables_of(path)) == set(month.tables)
    assert events_over_time(path, month.month).axes[0].texts, "no event in this month"


def test_a_month_without_data(archive: Path) -> None:
    """Nothing is held, and that is no error."""
    month = station_month(archive, small_project.STATION, "1999-01")
    assert (month.minute, month.minutes, month.findings) == (None, None, None)
    assert month.quantities == ()


@pytest.mark.parametrize("month", ["2031-4", "2031-13", "../x", "2031"])
def test_months_are_checked(archive: Path, month: str) -> None:
    """What is no month is said so before a file is opened."""
    with pytest.raises(ArchiveError, match=r"MONTH: must be written like 2031-04"):
        station_month(archive, small_project.STATION, month)


def test_unknown_stations_are_named(archive: Path) -> None:
    """A station that is not there is named."""
    with pytest.raises(ArchiveError, match="has no station 'nowhere'"):
        station_month(archive, "nowhere", "2031-04")


def test_times_are_written_to_the_minute() -> None:
    """UTC; no time is a dash."""
    assert written(1932768060.0) == "2031-04-01 00:01"
    assert written(float("nan")) == "–"
