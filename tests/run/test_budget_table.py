"""Budget tables at given conditions, from the configuration alone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sunledger.errors import BudgetError
from sunledger.run.budget_table import Conditions, budget_lines

ROOT = Path(__file__).resolve().parents[2]
STATION = ROOT / "configs" / "stations" / "ossel_ridge"
CLEAR = Conditions(800.0, zenith=30.0)


def size(lines: list[str], component: str) -> float:
    """Standard uncertainty of one row."""
    (line,) = (x for x in lines if x.startswith(f"{component} "))
    return float(re.findall(r" (\d+\.\d{3})  ", line)[0])


def test_calibration_by_hand() -> None:
    """U = 1.2 %, k = 2, of 800 W m-2: 4.8; temperature response applied: 0.3 % / sqrt 3."""
    lines = budget_lines(STATION, "ghi", CLEAR)
    assert size(lines, "calibration") == 4.8
    assert size(lines, "temperature") == pytest.approx(800 * 0.003 / 3**0.5, abs=5e-4)
    assert lines[0].startswith("osr ghi, thermopile pyranometer NMR-G-")


@pytest.mark.parametrize(
    ("changes", "component"),
    [
        ({"irradiance": 400.0}, "non_linearity"),
        ({"zenith": 75.0}, "level"),
        ({"net_longwave": -20.0}, "zero_offset_a"),
        ({"beam": 100.0}, "directional"),
    ],
)
def test_conditions_matter(changes: dict[str, float], component: str) -> None:
    """Each condition changes what depends on it."""
    other = Conditions(**{**vars(CLEAR), **changes})
    before, after = (budget_lines(STATION, "ghi", c) for c in (CLEAR, other))
    assert size(before, component) != size(after, component)
    assert size(before, "zero_offset_b") == size(after, "zero_offset_b")


def test_temperature_of_a_pyrgeometer() -> None:
    """4 sigma T**3 of the thermistor's 0.1 K: by CODATA's constant at 0 degC."""
    lines = budget_lines(STATION, "lwd", Conditions(250.0, temperature=0.0))
    expected = 4 * 5.670374419e-8 * 273.15**3 * 0.1 / 3**0.5
    assert size(lines, "body_temperature") == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize(
    ("quantity", "wanted", "why"),
    [
        ("swx", CLEAR, "allowed: ghi"),
        ("ghi", Conditions(800.0, at="2001-01-01"), "no instrument with a certificate"),
        ("ghi", Conditions(800.0, at="soon"), "got 'soon'"),
        ("ghi", Conditions(800.0, zenith=190.0), "zenith must be from 0 to 180"),
        ("ghi", Conditions(800.0, temperature=280.0), "temperature must be from -100 to 100"),
    ],
)
def test_errors_in_words(quantity: str, wanted: Conditions, why: str) -> None:
    with pytest.raises(BudgetError, match=why):
        budget_lines(STATION, quantity, wanted)


def test_settings_of_a_file() -> None:
    """A good level check leaves 0.1 degree by default; the settings of the repository too."""
    processing = ROOT / "configs" / "processing.yaml"
    assert budget_lines(STATION, "ghi", CLEAR, processing) == budget_lines(STATION, "ghi", CLEAR)
