"""Doubt that follows from accepted findings (config/conditions.py)."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from invented import DAY, MARCH, station_config
from sunledger.config.conditions import ConditionInterval, accepted_conditions
from sunledger.config.models.base import FAR_FUTURE
from sunledger.config.models.review import Review


def level(time: int, found: float) -> dict[str, Any]:
    """A level check of the global."""
    words = {"id": f"lc-{time}", "type": "level_check", "time": time, "role": "technician"}
    return words | {"position": "global_1", "found": {"size": found}}


def accepted(*entries: dict[str, Any], **fields: Any) -> list[ConditionInterval]:
    """Doubt from an accepted finding of the global's level since March."""
    plain = {
        "id": "a-1",
        "finding": "tst-2031-03-x",
        "condition": "level_doubtful",
        "targets": ["global_1"],
        "from": MARCH,
        "reason": "seen on site",
        "role": "data manager",
        "decided": MARCH + 90 * DAY,
    }
    config = station_config(entries=list(entries))
    review = Review.model_validate({"accepted_findings": [plain | fields]})
    return list(accepted_conditions(replace(config, review=review)))


def test_an_accepted_finding_is_doubt_until_the_next_check() -> None:
    """Of that position; without one, on and on; or until the stated end."""
    expected = ConditionInterval("level_doubtful", "global_1", MARCH, FAR_FUTURE, "a-1")
    later = level(MARCH + 9 * DAY, 0.0)
    other = {"id": "cl", "type": "cleaning", "time": MARCH + DAY, "role": "technician"}
    other |= {"positions": ["global_1"], "found": "dust"}
    assert accepted(level(MARCH - DAY, 0.0), other) == [expected]
    assert accepted(later) == [replace(expected, end=MARCH + 9 * DAY)]
    assert accepted(later, until=MARCH + 20 * DAY) == [replace(expected, end=MARCH + 20 * DAY)]


def test_accepted_dirt_ends_at_the_next_cleaning_of_the_position() -> None:
    """No level check ends it, nor the cleaning of another dome or a new desiccant."""
    expected = ConditionInterval("soiling_recorded", "global_1", MARCH, FAR_FUTURE, "a-1")
    wash = {"id": "cl", "type": "cleaning", "time": MARCH + 3 * DAY, "role": "technician"}
    wash |= {"positions": ["global_1"], "found": "dust"}
    dirt = {"condition": "soiling_recorded", "bound": 4.0}
    others = (level(MARCH + DAY, 0.0), wash | {"positions": ["direct_1"]})
    assert accepted(others[0], **dirt) == [expected]
    assert accepted(others[1], **dirt) == [expected]
    assert accepted(wash | {"type": "desiccant"}, **dirt) == [expected]
    assert accepted(wash, **dirt) == [replace(expected, end=MARCH + 3 * DAY)]
    assert accepted(wash | {"positions": []}, **dirt) == [replace(expected, end=MARCH + 3 * DAY)]


def test_accepted_dirt_goes_with_the_instrument() -> None:
    """Another one at the position is not dirty with it; one elsewhere changes nothing."""
    expected = ConditionInterval("soiling_recorded", "global_1", MARCH, FAR_FUTURE, "a-1")
    dirt = {"condition": "soiling_recorded", "bound": 4.0}
    other = {"id": "dep-new", "type": "deployment", "from": MARCH + 4 * DAY, "role": "technician"}
    other |= {"instrument": "NR-new", "position": "global_1"}
    assert accepted(other, **dirt) == [replace(expected, end=MARCH + 4 * DAY)]
    assert accepted(other | {"position": "direct_1"}, **dirt) == [expected]
    assert accepted(other) == [replace(expected, condition="level_doubtful")]


def test_a_bound_belongs_to_dirt() -> None:
    with pytest.raises(ValueError, match=r"soiling_recorded only \(got level_doubtful\)"):
        accepted(bound=4.0)


def test_an_accepted_finding_ends_after_it_begins() -> None:
    """Refused at its end."""
    with pytest.raises(ValueError, match="must be later than from"):
        accepted(until=MARCH)
