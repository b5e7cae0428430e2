"""Which logger read a quantity, from what the minute file's manifest keeps."""

from __future__ import annotations

from pathlib import Path

import pytest

import small_project
from sunledger.report.month import StationMonth, station_month
from sunledger.report.wiring import Wiring, wiring_of

EMPTY = StationMonth("osr", "2031-04", "Ridge", None, None, {}, {}, None, (), (), {})


@pytest.fixture(scope="module")
def june(tmp_path_factory: pytest.TempPathFactory) -> StationMonth:
    """June of the small project, whose loggers watch no supply."""
    archive = small_project.made_once(tmp_path_factory.getbasetemp()).parent / "archive"
    return station_month(archive, small_project.STATION, "2031-06")


def test_each_quantity_has_its_logger(june: StationMonth) -> None:
    assert wiring_of(june, "ghi") == Wiring("main", None)
    assert wiring_of(june, "dni") == Wiring("beam", None)
    assert wiring_of(june, "air_temperature") == Wiring("main", None)


def test_nothing_is_said_of_what_is_not_known(june: StationMonth) -> None:
    assert wiring_of(EMPTY, "ghi") is None
    assert wiring_of(june, "lwu") is None


def test_the_supply_of_the_sample(sample_folder: Path) -> None:
    """The main logger of Ossel Ridge watches its supply, the other does not."""
    month = station_month(sample_folder / "build" / "sample_archive", "osr", "2031-04")
    assert wiring_of(month, "ghi") == Wiring("main", 11.5)
    assert wiring_of(month, "dni") == Wiring("beam", None)
