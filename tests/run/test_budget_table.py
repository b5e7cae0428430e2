"""Budget tables at given conditions, from the configuration alone."""

from __future__ import annotations

import re
import shutil
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
    return float(re.findall(r" (\d+\.\d{3}) ", line)[1])


def with_thermistor(folder: Path) -> Path:
    """The station with a logged body temperature of the global pyranometer."""
    shutil.copytree(STATION, folder)
    path = folder / "station.yaml"
    text, beside = path.read_text(encoding="utf-8"), "{column: sky_body,"
    line = next(x for x in text.splitlines(keepends=True) if beside in x)
    more = line.replace("sky_body", "glob_body").replace("longwave_1", "global_1")
    path.write_text(text.replace(line, line + more), encoding="utf-8")
    return folder


def test_calibration_by_hand(tmp_path: Path) -> None:
    """U = 1.2 %, k = 2, of 800 W m-2: 4.8; temperature response 1 %, 0.3 % where it is applied."""
    lines = budget_lines(STATION, "ghi", CLEAR)
    assert size(lines, "calibration") == 4.8
    assert size(lines, "temperature") == pytest.approx(800 * 0.01 / 3**0.5, abs=5e-4)
    assert lines[0].startswith("osr ghi, thermopile pyranometer NMR-G-")
    assert any("temperature of the instrument at global_1 is not logged" in x for x in lines)
    logged = budget_lines(with_thermistor(tmp_path / "osr"), "ghi", CLEAR)
    assert size(logged, "temperature") == pytest.approx(800 * 0.003 / 3**0.5, abs=5e-4)
    assert not any("is not logged" in x for x in logged)


def test_conditions_that_are_not_stated_agree_with_the_others() -> None:
    """A clear sky at 0 degC: sigma T**4 = 315.7 less 100; diffuse 100; beam from global.

    CODATA's constant; 400 / cos 60 = 800.
    """
    cold = Conditions(temperature=0.0)
    assert "irradiance 215.7 W m-2, body 0 degC" in budget_lines(STATION, "lwd", cold)[1]
    known = budget_lines(STATION, "lwd", Conditions(300.0, temperature=0.0))[1]
    assert "net longwave -15.7 W m-2" in known
    assert "irradiance 100 W m-2" in budget_lines(STATION, "dhi", Conditions())[1]
    told = budget_lines(STATION, "ghi", Conditions(400.0, zenith=60.0))[1]
    assert "beam 800 W m-2" in told


def test_the_worth_of_a_unit_makes_the_row() -> None:
    """c x width / divisor, 2 for a normal law and root 3 for a rectangular one, of every row."""
    lines = budget_lines(STATION, "ghi", CLEAR)
    head = next(n for n, x in enumerate(lines) if x.startswith("component "))
    rows = lines[head + 1 : lines.index("", head)]
    assert len(rows) >= 15
    for row in rows:
        law, width = row.split()[1:3]
        worth, standard = map(float, re.findall(r" (\d+\.\d{3}) ", row)[:2])
        divisor = {"normal": 2.0, "rectangular": 3**0.5}[law]
        assert standard == pytest.approx(worth * float(width) / divisor, abs=0.006)


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


ASKED = {
    "ghi": "calibration non_stability non_linearity temperature directional spectral zero_offset_a"
    " zero_offset_b level logger_resolution logger_accuracy logger_gain clock maintenance soiling",
    "dhi": "calibration non_stability non_linearity temperature directional spectral zero_offset_a"
    " zero_offset_b level shade_geometry logger_resolution logger_accuracy clock maintenance",
    "dni": "calibration non_stability non_linearity temperature spectral zero_offset_b pointing"
    " logger_resolution logger_accuracy logger_gain clock maintenance soiling",
    "lwd": "calibration non_stability body_temperature dome_temperature dome_factor window"
    " logger_resolution logger_accuracy logger_gain clock maintenance soiling",
}


@pytest.mark.parametrize("quantity", ASKED)
def test_every_component_is_told_whole(quantity: str) -> None:
    """Law, width, how long its error stays, what reduces it, and where the width is from."""
    lines = budget_lines(STATION, quantity, CLEAR)
    head = next(x for x in lines if x.startswith("component "))
    edges = [
        head.index(w)
        for w in ("law", "width", "c W m-2", "u W m-2", "error is", "reduced by", "source")
    ]
    for name in ASKED[quantity].split():
        (line,) = (x for x in lines if x.startswith(f"{name} "))
        law, width, _, _, same, reduced, source = (
            line[a:b].strip() for a, b in zip(edges, [*edges[1:], None], strict=True)
        )
        assert law in ("normal", "rectangular", "triangular")
        assert float(width.split()[0]) > 0
        assert same.startswith(("common", "independent", "lasting"))
        assert reduced
        assert source


def test_changing_light_by_hand() -> None:
    """The clock's part: displaced by its error and the instrument's lag, of the range of light."""
    steady, moving = (
        size(budget_lines(STATION, "dni", Conditions(800.0, change=c)), "clock")
        for c in (0.0, 300.0)
    )
    assert steady == 0.0
    twice = size(budget_lines(STATION, "dni", Conditions(800.0, change=600.0)), "clock")
    assert moving > 1.0
    assert twice == pytest.approx(2 * moving, abs=0.002)


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
        ("ghi", Conditions(800.0, change=-1.0), "change must not be negative"),
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


@pytest.mark.parametrize(
    ("station", "at", "said"),
    [
        ("ossel_ridge", "2031-04-25T10:17", "level known to 0.1 degree, loss by soiling up to 0 %"),
        ("ossel_ridge", "2031-04-11T10:17", "level known to 1.4 degree"),
        ("karru_pan", "2031-04-20T10:00", "loss by soiling up to 2 %"),
    ],
)
def test_the_record_is_said(station: str, at: str, said: str) -> None:
    """A check of 24 April found the level 1.4 degree off, a cleaning of the 26th a caked dome."""
    lines = budget_lines(STATION.parent / station, "ghi", Conditions(800.0, at=at))
    assert any(x.startswith("record: ") and said in x for x in lines)
    assert any("clock of " in x and "known to 1.0 s" in x for x in lines)
