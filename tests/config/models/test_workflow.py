"""Run plans and the network's file."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from sunledger.config.models.workflow import STAGES, MonthRange, Workflow

PLAIN: dict[str, Any] = {
    "network": "configs/network.yaml",
    "processing": "configs/processing.yaml",
    "stations": ["configs/stations/tst"],
    "raw": "raw",
    "archive": "archive",
}


def test_defaults() -> None:
    """All stages, all months, as many workers as suit the machine, and "now" from the data."""
    plan = Workflow.model_validate(PLAIN)
    assert plan.stages == ("ingest", "calibrate", "time_correct", "qc_flag", "aggregate")
    assert (plan.months, plan.as_of, plan.workers) == (None, None, None)


@pytest.mark.parametrize("number", range(1, 6))
def test_any_first_stages(number: int) -> None:
    """A plan may stop after any stage."""
    plan = Workflow.model_validate(PLAIN | {"stages": list(STAGES[:number])})
    assert plan.stages == STAGES[:number]


@pytest.mark.parametrize(
    "stages",
    [[], ["calibrate"], ["ingest", "time_correct"], ["calibrate", "ingest"], ["ingest"] * 2],
    ids=str,
)
def test_stages_out_of_order_are_refused(stages: list[str]) -> None:
    """The message says the order."""
    match = "stages run in the order ingest, calibrate, time_correct, qc_flag, aggregate"
    with pytest.raises(ValidationError, match=match):
        Workflow.model_validate(PLAIN | {"stages": stages})


def test_unknown_stage_is_refused() -> None:
    """The allowed names are listed."""
    with pytest.raises(ValidationError, match="'ingest', 'calibrate', 'time_correct', 'qc_flag'"):
        Workflow.model_validate(PLAIN | {"stages": ["ingest", "polish"]})


def test_months_in_order() -> None:
    """One month is a range; a range backwards is refused with both ends."""
    assert MonthRange(first="2031-03", last="2031-03").last == "2031-03"
    with pytest.raises(ValidationError, match=r"got 2031-03\.\.2030-12"):
        MonthRange(first="2031-03", last="2030-12")


@pytest.mark.parametrize("month", ["2031-13", "2031-00", "2031-3", "March"])
def test_a_month_is_written_in_one_way(month: str) -> None:
    """Year, hyphen, two digits from 01 to 12."""
    with pytest.raises(ValidationError, match="pattern"):
        MonthRange(first=month, last=month)


@pytest.mark.parametrize(
    ("field", "value", "match"),
    [
        ("stations", [], "at least 1 item"),
        ("workers", 0, "greater than or equal to 1"),
        ("as_of", "yesterday", "must be a UTC time"),
        ("worker", 2, "Extra inputs are not permitted"),
    ],
)
def test_bad_settings_are_refused(field: str, value: object, match: str) -> None:
    """No station, no worker, an unreadable "now", a misspelt key."""
    with pytest.raises(ValidationError, match=match):
        Workflow.model_validate(PLAIN | {field: value})


def test_a_plan_cannot_be_changed() -> None:
    """What was checked is what runs."""
    plan = Workflow.model_validate(PLAIN)
    with pytest.raises(ValidationError, match="frozen"):
        plan.workers = 4  # type: ignore[misc]
