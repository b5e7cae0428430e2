"""Every test can say its numbers, and those of a failed one lie outside what is allowed."""

from __future__ import annotations

import re
from pathlib import Path

import netCDF4
import numpy as np
import pytest

from sunledger.run.tracing import trace
from sunledger.stages.qc_numbers import TELLERS, flag_numbers
from sunledger.stages.qc_tests import CATALOGUE
from sunledger.vocabulary import TESTS

WITHOUT = {"missing", "over_range"}


def test_every_test_has_a_teller() -> None:
    assert {t.name for t in CATALOGUE} - WITHOUT == set(TELLERS)


def numbers_of(
    folder: Path, quantity: str, name: str, station: str = "osr"
) -> tuple[float, list[str]]:
    """Archived value of the middle one of the minutes a test failed in, and what is said of it."""
    archive = folder / "build" / "sample_archive"
    with netCDF4.Dataset(archive / station / "minute" / f"{station}_minute_2031-04.nc") as data:
        failed = np.flatnonzero(data[f"{quantity}_flags"][:] & TESTS[name].mask)
        place = int(failed[failed.size // 2])
        value, when = float(data[quantity][place]), int(data["time"][place])
    found = trace(archive, station, quantity, when)
    return value, list(flag_numbers(found.minutes, found.period, quantity, found.place)[name])


@pytest.mark.parametrize(
    ("station", "quantity", "name"),
    [
        ("osr", "ghi", "below_physical_minimum"),
        ("osr", "ghi", "below_rare_minimum"),
        ("osr", "dhi", "above_rare_maximum"),
        ("kpn", "dhi", "above_physical_maximum"),
    ],
)
def test_limits(sample_folder: Path, station: str, quantity: str, name: str) -> None:
    value, (line,) = numbers_of(sample_folder, quantity, name, station)
    measured, limit = (float(n) for n in re.findall(r"-?\d+\.\d+", line))
    assert measured == pytest.approx(value, abs=0.01)
    assert measured < limit if "below" in line else measured > limit


def test_physical_minimum_is_the_published_one(sample_folder: Path) -> None:
    """-4 W m-2 for global (Long and Dutton, recommended tests V2.0, 2002)."""
    _, (line,) = numbers_of(sample_folder, "ghi", "below_physical_minimum")
    assert line.endswith("below the limit -4.00 W m-2")


@pytest.mark.parametrize("quantity", ["ghi", "dhi", "dni"])
def test_closure(sample_folder: Path, quantity: str) -> None:
    _, (parts, ratio, sky) = numbers_of(sample_folder, quantity, "components_disagree")
    whole, diffuse, direct, zenith, total = (float(n) for n in re.findall(r"-?\d+\.\d+", parts))
    assert total == pytest.approx(diffuse + direct * np.cos(np.radians(zenith)), abs=0.11)
    found, low, high = (float(n) for n in re.findall(r"\d+\.\d+", ratio))
    assert found == pytest.approx(whole / total, abs=2e-3)
    assert not low < found < high
    assert sky.startswith("a clear sky would give")


def test_hour(sample_folder: Path) -> None:
    _, lines = numbers_of(sample_folder, "ghi", "components_disagree_for_long")
    share, difference = (abs(float(n)) for n in re.findall(r"[-+]\d+\.\d+", lines[-1]))
    assert lines[-1].startswith("median")
    assert share > 3.0
    assert difference > 8.0


def test_stuck(sample_folder: Path) -> None:
    _, (line,) = numbers_of(sample_folder, "dhi", "stuck_value")
    run, least = (int(n) for n in re.findall(r"\d+", line))
    assert run >= least == 20


@pytest.mark.parametrize(("quantity", "least"), [("ghi", 20.0), ("lwd", 15.0)])
def test_spike(sample_folder: Path, quantity: str, least: float) -> None:
    _, (line,) = numbers_of(sample_folder, quantity, "spike")
    away, limit = (abs(float(n)) for n in re.findall(r"\d+\.\d+", line))
    assert away > limit >= least


def test_skyline_and_pointing(sample_folder: Path) -> None:
    _, (line,) = numbers_of(sample_folder, "dni", "below_horizon_profile")
    sun, skyline = (float(n) for n in re.findall(r"\d+\.\d+", line))
    assert sun < skyline
    _, said = numbers_of(sample_folder, "dni", "tracker_off_sun")
    assert said[0].startswith("the tracker says: ")
    direct, expected = (float(re.findall(r"\d+\.?\d*", said[-1])[i]) for i in (0, 2))
    assert direct < expected


def test_frost(sample_folder: Path) -> None:
    _, lines = numbers_of(sample_folder, "ghi", "frost_or_ventilation")
    assert "ventilator stands" in lines[0] or "from the component sum" in lines[0]
