"""Ranges of the air quantities, and the words they get."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr

from hand_minutes import names_in, quiet_minutes, six_quantities
from sunledger.config.models.processing import FlagSettings
from sunledger.stages.qc_air import credible_range
from sunledger.stages.qc_flag import qc_flag
from sunledger.stages.qc_view import Minutes
from sunledger.vocabulary import GRADES


def airy(**values: list[float]) -> xr.Dataset:
    """Minutes with air quantities as the time-correct stage gives them."""
    size = len(next(iter(values.values())))
    ds = quiet_minutes(size)
    added: dict[str, Any] = {name: ("time", np.array(v, float)) for name, v in values.items()}
    words = {f"{n}_conditions": ("time", np.zeros(size, np.int32)) for n in values}
    return ds.assign(added | words)


@pytest.mark.parametrize(
    ("quantity", "good", "wrong"),
    [
        # the lowest and highest ever measured at the ground, as WMO's archive of extremes has them
        # (from memory): -89.2 and 56.7 degree Celsius
        ("air_temperature", [183.95, 329.85], [183.1, 333.2, 20.0]),
        ("relative_humidity", [0.0, 1.05], [-0.03, 1.06, 55.0]),
        # 1013.25 hPa logged as such, and the extremes at sea level (from memory) 870 and 1084.8 hPa
        ("air_pressure", [87000.0, 108480.0], [1013.25, 85000.0, 110000.0]),
    ],
)
def test_ranges(quantity: str, good: list[float], wrong: list[float]) -> None:
    """Every extreme ever measured passes; wrong units and broken sensors do not."""
    ds = airy(**{quantity: [*good, *wrong]})
    minutes = Minutes(ds, FlagSettings(), 10.0, {}, altitude=0.0)
    low, high = credible_range(minutes, quantity)
    assert all(low <= v <= high for v in good)
    assert all(not low <= v <= high for v in wrong)


def test_flags_and_grades_of_the_air() -> None:
    """Good, out of range, missing: each with its bit and grade; other tests do not run."""
    values = {"air_temperature": [280.0, np.nan, 20.0], "relative_humidity": [0.5, 0.5, 0.5]}
    ds = qc_flag(airy(**values), six_quantities())
    got = [names_in(int(w)) for w in ds["air_temperature_flags"].values]
    assert got == [set(), {"missing"}, {"outside_credible_range"}]
    grades = [GRADES["good"], GRADES["missing"], GRADES["questionable"]]
    assert ds["air_temperature_grade"].values.tolist() == grades
    tested = [names_in(int(w)) for w in ds["air_temperature_tested"].values]
    judged = {"missing", "outside_credible_range"}
    assert tested == [judged, {"missing"}, judged]
    assert "air_pressure_flags" not in ds


def test_contradicting_limits_are_refused() -> None:
    """Lowest above highest cannot be meant."""
    with pytest.raises(ValueError, match="lowest_temperature must be below highest_temperature"):
        six_quantities({"qc_flag": {"air": {"lowest_temperature": 340.0}}})
