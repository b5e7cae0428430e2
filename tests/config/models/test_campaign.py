"""What a campaign file may say."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from campaign_project import campaign
from sunledger.config.models.campaign import Campaign


def test_references_of_both_methods() -> None:
    """One position, or direct and diffuse."""
    assert Campaign.model_validate(campaign()).reference_positions() == ("direct_1", "diffuse_1")
    plain = campaign(method="comparison", components=None, reference="global_2")
    assert Campaign.model_validate(plain).reference_positions() == ("global_2",)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"method": "comparison"}, "method comparison takes reference and no other"),
        ({"reference": "global_2"}, "method component_sum takes components and no other"),
        ({"components": None}, "method component_sum takes components and no other"),
        ({"until": "2031-03-25"}, "must be later than from"),
        ({"selection": {"series": 1000}}, "must divide a day"),
        ({"selection": {"least_days": 1}}, "greater than or equal to 2"),
        ({"selection": {"largest_deviation": 0}}, "greater than 0"),
        ({"method": "shade"}, "component_sum"),
        ({"from": "spring"}, "must be a UTC time"),
    ],
)
def test_what_is_refused(changes: dict[str, Any], why: str) -> None:
    with pytest.raises(ValidationError, match=why):
        Campaign.model_validate(campaign(**changes))
