"""Settings of aggregation: what is refused, in words that help."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from sunledger.config.models.aggregation import AggregateSettings


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"counting_grades": ["good", "missing"]}, "missing minutes cannot count; allowed: good"),
        ({"periods": {"utc": ["daily", "daily"]}}, "utc names daily more than once"),
        ({"periods": {"summer_time": ["daily"]}}, "'utc', 'local_standard' or 'true_solar'"),
        ({"periods": {"utc": ["weekly"]}}, "'daily', 'monthly' or 'yearly'"),
        ({"sunrise_tolerance": 5.0}, "only with night: not_asked"),
        ({"composite_least_days": 0}, "greater than or equal to 1"),
        ({"low_sun": 20.0}, "less than or equal to 10"),
        ({"monthly_method": "naive"}, "'diurnal_composite', 'plain', 'whole_days' or 'half_days'"),
    ],
)
def test_refusals(wrong: dict[str, Any], message: str) -> None:
    """Field, allowed values, what was given."""
    with pytest.raises(ValidationError, match=message):
        AggregateSettings.model_validate(wrong)


def test_defaults() -> None:
    """Bad and missing minutes do not count; hours, days and months in UTC."""
    rules = AggregateSettings()
    assert rules.counting_grades == ("good", "not_evaluated", "questionable")
    assert rules.periods == {"utc": ("hourly", "daily", "monthly")}
    assert [rules.least_share(p) for p in ("5min", "hourly", "daily", "yearly")] == [
        *(0.5, 0.5),
        *(0.9, 0.9),
    ]
