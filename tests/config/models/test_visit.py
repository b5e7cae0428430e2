"""Rows of a visit form: what is impossible is refused by itself, whatever the record says."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from sunledger.config.models.visit import ExchangeRow, LevelRow, VisitForm
from visit_forms import CLEANING, CLOCK, EXCHANGE, HEAD, LEVEL

DAY = "2031-02-15 "


def form(row: dict[str, Any]) -> VisitForm:
    """A form with one row, times of day completed."""
    times = ("time", "installed_at", "until", "off_since", "soiled_since")
    whole = {k: DAY + v if k in times and v and len(v) < 6 else v for k, v in row.items()}
    return VisitForm.model_validate({"visit": HEAD, "entries": [whole]})


def test_rows_are_told_apart_by_their_type() -> None:
    (level,) = form(LEVEL).entries
    (exchange,) = form(EXCHANGE).entries
    assert isinstance(level, LevelRow)
    assert isinstance(exchange, ExchangeRow)
    assert (level.found, level.found_azimuth) == (0.6, 90.0)


@pytest.mark.parametrize(
    ("row", "match"),
    [
        (LEVEL | {"found": 45.01}, "less than or equal to 45 "),
        (LEVEL | {"found": -0.1}, "greater than or equal to 0"),
        (LEVEL | {"found_azimuth": 360}, "less than 360"),
        (LEVEL | {"left": None, "left_azimuth": 90}, "needs left, the size of the tilt"),
        (CLOCK | {"found": 4e7}, "less than or equal to 31622400 "),
        (CLEANING | {"off_since": "07:00"}, "belongs to ventilator only"),
        (CLEANING | {"soiled_since": "09:00"}, "must not be later than time"),
        (CLEANING | {"soiling_bound": 2}, "goes with soiled_since only"),
        (CLEANING | {"positions": []}, "at least 1 item"),
        (EXCHANGE | {"time": None}, "removed and time go together"),
        (EXCHANGE | {"installed": None}, "installed and installed_at go together"),
        (EXCHANGE | {"installed_at": "08:00"}, "must not be earlier than time"),
        (EXCHANGE | {"shade": "band"}, "write this deployment into fieldlog.yaml by hand"),
        ({"type": "exchange", "position": "global_1"}, "one of both is needed"),
        (
            {"type": "power", "time": "07:00", "until": "06:00"},
            "must be later than time",
        ),
    ],
)
def test_what_cannot_be_is_refused(row: dict[str, Any], match: str) -> None:
    with pytest.raises(ValidationError, match=match):
        form(row)


def test_a_visit_ends_after_it_begins() -> None:
    with pytest.raises(ValidationError, match="must be later than from"):
        VisitForm.model_validate({"visit": HEAD | {"until": HEAD["from"]}, "entries": []})
