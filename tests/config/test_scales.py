"""Reference scales: which one values stand on, and the factor to it."""

from __future__ import annotations

from typing import Any

import pytest

from invented import certificate
from sunledger.config.models.instruments import Calibration
from sunledger.config.models.processing import CalibrateSettings
from sunledger.config.scales import family_of, scale_factor, scale_of

TABLE = [
    {"scale": "old", "to": "new", "factor": 1.022, "until": "2020-01-01", "source": "here"},
    {"scale": "old", "to": "new", "factor": 1.003, "from": "2020-01-01", "source": "here"},
]


def of(date: str, scale: str = "old") -> Calibration:
    """A certificate of a date and scale."""
    plain = certificate("global_1", date=date, reference_scale=scale)
    return Calibration.model_validate(plain)


def settings(**changes: Any) -> CalibrateSettings:
    """All shortwave on the new scale."""
    plain = {"expressed_in": {"shortwave": "new"}, "scale_factors": TABLE}
    return CalibrateSettings.model_validate(plain | changes)


@pytest.mark.parametrize(
    ("date", "factor"), [("2019-12-31", 1.022), ("2020-01-01", 1.003), ("2024-05-05", 1.003)]
)
def test_factor_by_date_of_the_certificate(date: str, factor: float) -> None:
    assert scale_factor(of(date), "ghi", settings()) == factor


def test_same_scale_needs_no_factor() -> None:
    assert scale_factor(of("2024-05-05", "new"), "ghi", settings()) == 1.0
    assert scale_factor(of("2024-05-05"), "ghi", CalibrateSettings()) == 1.0


def test_no_factor_is_none_and_never_one() -> None:
    assert scale_factor(of("2024-05-05", "other"), "ghi", settings()) is None


def test_families_are_apart() -> None:
    assert (family_of("lwd"), family_of("dni")) == ("longwave", "shortwave")
    assert scale_of(of("2024-05-05"), "lwd", settings()) == "old"
