"""Factors between reference scales are near one and say where they are stated."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from sunledger.config.models.scales import ScaleFactor

PLAIN: dict[str, Any] = {"scale": "a", "to": "b", "factor": 1.022, "source": "here"}


def test_dates_are_open_unless_given() -> None:
    row = ScaleFactor.model_validate(PLAIN)
    assert (row.valid_from, row.until) == (None, None)
    dated = ScaleFactor.model_validate(PLAIN | {"from": "1981-01-01"})
    assert dated.valid_from == "1981-01-01"


@pytest.mark.parametrize("factor", [0.0, -1.0, 1000.0, float("nan")])
def test_factor_within_reason(factor: float) -> None:
    with pytest.raises(ValidationError, match="factor"):
        ScaleFactor.model_validate(PLAIN | {"factor": factor})


def test_a_factor_needs_its_source() -> None:
    with pytest.raises(ValidationError, match="source"):
        ScaleFactor.model_validate({k: v for k, v in PLAIN.items() if k != "source"})
