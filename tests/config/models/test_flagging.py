"""Settings of the context tests: contradictions are refused."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from sunledger.config.models.flagging import BlameSettings
from sunledger.config.models.processing import FlagSettings


@pytest.mark.parametrize("name", ["global", "direct", "diffuse"])
def test_lower_has_to_be_below_upper(name: str) -> None:
    """Equal is refused too, and the message says what was given."""
    message = f"lowest_{name} must be below highest_{name} \\(got 0.5, 0.5\\)"
    with pytest.raises(ValidationError, match=message):
        BlameSettings.model_validate({f"lowest_{name}": 0.5, f"highest_{name}": 0.5})


@pytest.mark.parametrize(
    "settings",
    [
        {"tracker": {"window": 61}},
        {"tracker": {"least_dark": 1.1}},
        {"pointing": {"least_loss": -0.1}},
        {"closure": {"largest_difference": 0.0}},
        {"spike": {"longest": 5}},
        {"night": {"least_zenith": 80}},
        {"frost": {"hours_before": 13}},
        {"twins": {"least_run": 0}},
        {"tracker": {"colour": 1}},
    ],
)
def test_settings_beyond_reach_or_meaning_are_refused(settings: dict[str, Any]) -> None:
    """Windows longer than the declared reach would make the answer depend on the cut."""
    with pytest.raises(ValidationError):
        FlagSettings.model_validate(settings)
