"""Stated widths: known components only, with a source."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from pydantic import ValidationError

from invented import certificate, instrument, station_config
from sunledger.config.loading import load_station
from sunledger.config.models.budget import COMPONENTS, UncertaintySettings, Width, check_names
from sunledger.config.models.instruments import RADIOMETER_KINDS, Instrument
from sunledger.errors import ConfigError

ROOT = Path(__file__).resolve().parents[3]

GOOD: dict[str, Any] = {"width": 0.2, "source": "type test"}


@pytest.mark.parametrize(
    "wrong",
    [{"width": -1.0}, {"width": float("nan")}, {"law": "uniform"}, {"source": ""}, {"unit": "%"}],
)
def test_a_width_is_a_size_with_a_source(wrong: dict[str, Any]) -> None:
    Width.model_validate(GOOD)
    with pytest.raises(ValidationError):
        Width.model_validate(GOOD | wrong)


def test_a_width_needs_its_source() -> None:
    with pytest.raises(ValidationError, match="source"):
        Width.model_validate({"width": 1.0})


def test_component_of_another_instrument_is_refused() -> None:
    """A pyrheliometer is not levelled; the allowed names are told."""
    plain = instrument("direct_1", certificate("direct_1", budget={"level": GOOD}))
    with pytest.raises(ValidationError, match="no such component; allowed: calibration, non_stab"):
        Instrument.model_validate(plain)


@pytest.mark.parametrize(
    ("budget", "why"),
    [
        ({"dni": {"window": GOOD}}, "no such component; allowed: calibration"),
        ({"dnj": {"pointing": GOOD}}, "unknown quantity; allowed: ghi"),
    ],
)
def test_station_budget_names_what_it_has(budget: dict[str, Any], why: str) -> None:
    station_config(budget={"dni": {"pointing": GOOD}})
    with pytest.raises(ValidationError, match=why):
        station_config(budget=budget)


def test_what_is_no_radiometer_has_no_component() -> None:
    with pytest.raises(ValueError, match="none, since it is no radiometer"):
        check_names({"calibration": Width.model_validate(GOOD)}, ("tracker",), "budget")


def test_every_radiometer_kind_has_components() -> None:
    kinds = {kind for kinds in RADIOMETER_KINDS.values() for kind in kinds}
    assert kinds == set(COMPONENTS)


def test_settings_have_their_documented_defaults() -> None:
    got = UncertaintySettings()
    assert (got.level, got.soiling_bound, got.clock_growth) == (0.1, 2.0, 0.5)


def test_a_wrong_component_is_told_with_its_line(tmp_path: Path) -> None:
    """File, line, field and what is allowed, before any data is opened."""
    folder = tmp_path / "station"
    shutil.copytree(ROOT / "configs" / "stations" / "ossel_ridge", folder)
    file = folder / "station.yaml"
    text = file.read_text(encoding="utf-8").rstrip("\n") + "\n"
    lines = len(text.splitlines())
    text += 'budget:\n  dni:\n    pointings: {width: 0.05, source: "own study"}\n'
    file.write_text(text, encoding="utf-8")
    with pytest.raises(ConfigError) as caught:
        load_station(folder)
    (fault,) = caught.value.faults
    assert (fault.path, fault.line) == (str(file), lines + 3)
    assert fault.field == "budget.dni.pointings"
    assert "allowed: calibration, non_stability" in fault.why
