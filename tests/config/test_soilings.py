"""How much dirt the record allows."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from pydantic import ValidationError

from invented import DAY, MARCH, period, station_config
from sunledger.config.models.fieldlog import PositionEvent
from sunledger.config.models.review import Review
from sunledger.config.soilings import soilings


def wash(name: str, day: int, **more: Any) -> dict[str, Any]:
    """Two days of dust on the global, washed off."""
    return {
        "id": name,
        "type": "cleaning",
        "time": MARCH + day * DAY,
        "positions": ["global_1"],
        "found": "dust",
        "role": "keeper",
        "soiled_since": MARCH + (day - 2) * DAY,
        **more,
    }


def test_bounds_of_entries_findings_and_settings() -> None:
    """What is stated, else the usual bound; only what the record calls soiled."""
    finding = {
        "id": "a-1",
        "finding": "tst-x",
        "condition": "soiling_recorded",
        "targets": ["direct_1"],
        "from": MARCH + 3 * DAY,
        "until": MARCH + 4 * DAY,
        "bound": 6.5,
        "reason": "seen",
        "role": "keeper",
        "decided": MARCH + 9 * DAY,
    }
    config = station_config(entries=[wash("c-1", 3), wash("c-2", 8, soiling_bound=1.0)])
    config = replace(config, review=Review.model_validate({"accepted_findings": [finding]}))
    resolved = period(config, days=10)
    expected = (
        ("direct_1", MARCH + 3 * DAY, MARCH + 4 * DAY, 6.5),
        ("global_1", MARCH + 1 * DAY, MARCH + 3 * DAY, 2.0),
        ("global_1", MARCH + 6 * DAY, MARCH + 8 * DAY, 1.0),
    )
    assert soilings(config, resolved.conditions, 2.0) == expected
    assert resolved.soilings == expected


def test_a_bound_needs_a_time() -> None:
    """Of what it would be the bound is not known."""
    plain = wash("c-1", 3, soiling_bound=1.0) | {"soiled_since": None}
    with pytest.raises(ValidationError, match="goes with soiled_since only"):
        PositionEvent.model_validate(plain)
