"""Which status a month can have, and where the minutes of an open month end."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import invented
from sunledger.config.loading import StationConfig
from sunledger.config.models.processing import Processing
from sunledger.config.models.review import Review
from sunledger.run.context import RunContext
from sunledger.run.months import month_bounds
from sunledger.run.status import final_status, lacking_for_final, unit_end

MONTH = "2031-03"
AFTER = month_bounds(MONTH)[1]


def run_at(as_of: int) -> RunContext:
    """A run at some time."""
    return RunContext(
        invented.network(), Processing(), (), (), Path("raw"), Path("archive"), as_of, ""
    )


def clock_check(time: str) -> dict[str, Any]:
    """A clock check of the only logger."""
    return {
        "id": f"ck-{time}",
        "type": "clock_check",
        "time": time,
        "logger": "main",
        "found": 0,
        "role": "station keeper",
    }


def station(
    *,
    second_certificate: str = "2031-04-01",
    check: str = "2031-04-01",
    reviewed: bool = True,
    waived: bool = False,
    free: bool = True,
) -> StationConfig:
    """A station whose March has all that makes it final, unless told otherwise."""
    positions = tuple(invented.SENSITIVITY)
    instruments = [
        invented.instrument(
            p,
            invented.certificate(p),
            invented.certificate(p, certificate=f"NC-{p}-2", date=second_certificate),
        )
        for p in positions
    ]
    clock = {"discipline": "free" if free else "time_signal"}
    config = invented.station_config(
        {"main": invented.logger(positions, clock=clock)}, instruments, [clock_check(check)]
    )
    review = Review.model_validate(
        {
            "finished_months": [MONTH] if reviewed else [],
            "waived_certificates": [MONTH] if waived else [],
        }
    )
    return StationConfig(config.station, config.inventory, config.fieldlog, review)


@pytest.mark.parametrize(
    ("changes", "status"),
    [
        ({}, "final"),
        ({"reviewed": False}, "provisional"),
        ({"second_certificate": "2031-03-31"}, "provisional"),
        ({"second_certificate": "2031-03-31", "waived": True}, "final"),
        ({"check": "2031-03-31"}, "provisional"),
        ({"check": "2031-03-31", "free": False}, "final"),
        ({"check": "2031-03-31", "waived": True}, "provisional"),
    ],
    ids=[
        "all there",
        "no review",
        "no certificate after",
        "waived",
        "no clock check after",
        "clock disciplined",
        "a waiver is for certificates only",
    ],
)
def test_what_final_takes(changes: dict[str, Any], status: str) -> None:
    """Certificates that bracket the month or a waiver, a clock check after it, and a review."""
    assert final_status(run_at(AFTER), station(**changes), MONTH) == status


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, []),
        ({"reviewed": False}, ["a finished review (the month among finished_months"]),
        ({"check": "2031-03-31"}, ["a clock check after the month of logger main"]),
        (
            {"second_certificate": "2031-03-31", "reviewed": False},
            ["a certificate dated after the month for ", "a finished review"],
        ),
    ],
)
def test_what_is_lacking_is_named(changes: dict[str, Any], words: list[str]) -> None:
    """Each need in words, with whom it concerns."""
    lacking = lacking_for_final(station(**changes), MONTH)
    assert len(lacking) == len(words)
    for said, expected in zip(lacking, words, strict=True):
        assert said.startswith(expected)
    if "second_certificate" in changes:
        assert all(i.serial_number in lacking[0] for i in station(**changes).inventory.instruments)


def test_one_instrument_without_certificate_is_enough() -> None:
    """Every deployed instrument needs a certificate after the month."""
    whole = station()
    inventory = whole.inventory.model_dump(mode="json")
    inventory["instruments"][1]["calibrations"].pop()
    lacking = StationConfig(
        whole.station, type(whole.inventory).model_validate(inventory), whole.fieldlog, whole.review
    )
    assert final_status(run_at(AFTER), lacking, MONTH) == "provisional"


def test_an_unfinished_month_is_open() -> None:
    """Until the run's date has passed its end, whatever else is there."""
    assert final_status(run_at(AFTER - 1), station(), MONTH) == "open"
    assert final_status(run_at(AFTER), station(), MONTH) == "final"


def test_an_open_month_ends_at_the_last_complete_day() -> None:
    """Midnight before the run's date; never beyond the month's own end."""
    start, end = month_bounds(MONTH)
    assert unit_end(run_at(start + 86400 * 3 + 5), MONTH) == start + 86400 * 3
    assert unit_end(run_at(start + 86400 * 3 - 1), MONTH) == start + 86400 * 2
    assert unit_end(run_at(start + 40000), MONTH) == start
    assert unit_end(run_at(end + 10**9), MONTH) == end
