"""What every unit of a run knows: where files stand, and the date of issue."""

from __future__ import annotations

from pathlib import Path

import pytest

import invented
from sunledger.config.models.processing import Processing
from sunledger.run.context import RunContext, issue_date


@pytest.fixture
def context() -> RunContext:
    """A run with two stations."""
    stations = (invented.station_config(), invented.station_config(id="oth"))
    return RunContext(
        invented.network(), Processing(), stations, (), Path("raw"), Path("archive"), 0, ""
    )


def test_a_station_is_found_by_its_identifier(context: RunContext) -> None:
    """Not merely the first."""
    assert context.station("oth").station.id == "oth"


def test_places_of_products(context: RunContext) -> None:
    """Station, product, part and period in folder and name."""
    assert context.product_path("oth", "minute", "2031-03") == Path(
        "archive/oth/minute/oth_minute_2031-03.nc"
    )
    assert context.product_path("oth", "voltage", "2031-03", "beam") == Path(
        "archive/oth/voltage/oth_voltage_beam_2031-03.nc"
    )
    assert context.record_path("oth") == Path("archive/oth/changes.jsonl")


def test_issued_on_the_date_of_the_run() -> None:
    """The run's own now, not the wall clock; SOURCE_DATE_EPOCH where the builder gives it."""
    assert issue_date(1930694400, None) == "2031-03-08"
    assert issue_date(1930694400, "") == "2031-03-08"
    assert issue_date(1930694400, "86399") == "1970-01-01"
    assert issue_date(1930694400, "86400") == "1970-01-02"
