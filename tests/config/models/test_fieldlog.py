"""The field log's entries and their corrections."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from sunledger.config.models.base import parse_utc
from sunledger.config.models.fieldlog import (
    AlignmentEvent,
    Deployment,
    FieldLog,
    PositionEvent,
    Visit,
)

CHECK = {
    "id": "a",
    "type": "clock_check",
    "time": "2031-02-01",
    "role": "technician",
    "logger": "main",
    "found": 3,
}


def _log(*changes: dict[str, Any]) -> FieldLog:
    return FieldLog.model_validate({"entries": [{**CHECK, **change} for change in changes]})


def test_in_force_leaves_out_what_was_corrected() -> None:
    """Of a chain of corrections the last one holds; the order written is kept."""
    log = _log(
        {"id": "a"},
        {"id": "b"},
        {"id": "c", "corrects": "a", "reason": "sign"},
        {"id": "d", "corrects": "c", "reason": "sign again"},
    )
    assert [entry.id for entry in log.in_force()] == ["b", "d"]


@pytest.mark.parametrize(
    ("second", "match"),
    [
        ({"id": "a"}, "id a is used twice; ids are permanent"),
        ({"id": "b", "corrects": "c", "reason": "x"}, "b corrects c, which is no earlier entry"),
        ({"id": "b", "corrects": "b", "reason": "x"}, "b corrects b, which is no earlier entry"),
        ({"id": "b", "corrects": "a"}, "needs a reason"),
    ],
)
def test_identifiers_are_permanent(second: dict[str, Any], match: str) -> None:
    """Nothing is renamed, overwritten or corrected without a reason."""
    with pytest.raises(ValidationError, match=match):
        _log({}, second)


def test_kind_of_entry_follows_its_type() -> None:
    """The type decides which fields an entry has."""
    base = {"id": "a", "role": "technician", "time": "2031-02-01", "found": "0.2 degree off"}
    visit = {"type": "visit", "from": "2031-02-01", "until": "2031-02-02", "role": "r", "id": "c"}
    log = FieldLog.model_validate(
        {
            "entries": [
                {**base, "type": "tracker_homing"},
                {**base, "id": "b", "type": "cleaning", "positions": []},
                visit,
            ]
        }
    )
    assert [type(entry) for entry in log.entries] == [AlignmentEvent, PositionEvent, Visit]
    with pytest.raises(ValidationError, match="off_since"):
        FieldLog.model_validate(
            {"entries": [{**base, "type": "tracker_homing", "off_since": "2031-01-01"}]}
        )


@pytest.mark.parametrize("until", ["2031-02-01", "2031-01-31"])
def test_deployment_lasts(until: str) -> None:
    """A deployment that ends as it begins is a slip of the pen."""
    entry = {
        "id": "a",
        "type": "deployment",
        "from": "2031-02-01",
        "until": until,
        "instrument": "GL-01",
        "position": "global_1",
        "role": "technician",
    }
    with pytest.raises(ValidationError, match="must be later than from"):
        Deployment.model_validate(entry)
    later = Deployment.model_validate({**entry, "until": "2031-02-02"})
    assert (later.time, later.shade, later.ventilated) == (parse_utc("2031-02-01"), "none", False)


@pytest.mark.parametrize(
    "tilt", [{"size": -0.1}, {"size": 46}, {"size": 1, "azimuth": 360}, {"size": 1, "azimuth": -1}]
)
def test_tilt_bounds(tilt: dict[str, float]) -> None:
    """Azimuths run from 0 up to but not including 360, and nothing leans by more than 45."""
    entry = {**CHECK, "type": "level_check", "position": "global_1", "found": tilt}
    del entry["logger"]
    with pytest.raises(ValidationError, match="found"):
        FieldLog.model_validate({"entries": [entry]})
