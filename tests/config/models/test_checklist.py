"""The checklist's items say where they belong."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from sunledger.config.models.checklist import Checklist
from visit_forms import CHECKLIST


def test_order_and_words_are_the_station_s() -> None:
    read = Checklist.model_validate(CHECKLIST)
    assert [i.do for i in read.places[0].items][:3] == ["arrive", "read the bubble", "clean"]


@pytest.mark.parametrize(
    ("item", "match"),
    [
        ({"do": "level", "entry": "level_check"}, "level_check needs to know where"),
        ({"do": "clock", "entry": "clock_check", "positions": ["a"]}, "needs to know where"),
        ({"do": "", "entry": "visit"}, "at least 1 character"),
        ({"do": "x", "entry": "dance"}, "'visit', 'serial_number'"),
    ],
)
def test_items_say_where(item: dict[str, Any], match: str) -> None:
    with pytest.raises(ValidationError, match=match):
        Checklist.model_validate({"places": [{"place": "here", "items": [item]}]})
