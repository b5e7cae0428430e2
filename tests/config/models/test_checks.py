"""Settings of the ledger's checks."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from sunledger.config.models.checks import CheckSettings


@pytest.mark.parametrize("field", list(CheckSettings.model_fields))
@pytest.mark.parametrize("value", [-1.0, float("nan"), float("inf")])
def test_settings_are_positive_and_finite(field: str, value: float) -> None:
    """No setting can switch its check off by accident."""
    with pytest.raises(ValidationError, match=field):
        CheckSettings.model_validate({field: value})


def test_reading_error_may_be_nothing() -> None:
    """Only the allowance for reading a clock may be zero."""
    assert CheckSettings(clock_reading_error=0).clock_reading_error == 0
    with pytest.raises(ValidationError, match="cleaning_plan"):
        CheckSettings(cleaning_plan=0)
