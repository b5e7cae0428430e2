"""Quantities formed minute by minute: worked by hand, and never switching for a moment."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pvlib
import pytest
import xarray as xr
from numpy.testing import assert_allclose, assert_array_equal

from invented import MARCH, period, station_config
from sunledger.config.models.aggregation import AggregateSettings
from sunledger.physics.selection import reach
from sunledger.stages.aggregate import REACH
from sunledger.stages.derived import (
    SHORTEST_STRETCH,
    Sun,
    Suns,
    derived_series,
    direct_from_difference,
    selected_global,
)
from sunledger.stages.periods import Series

NAN = np.nan


def series(values: Any, uncertainty: float = 1.0) -> Series:
    """What is finite counts."""
    mean = np.asarray(values, float)
    return Series(mean, np.isfinite(mean), uncertainty=np.full(mean.size, uncertainty))


class OneSun:
    """The sun at a fixed height for every quantity."""

    def __init__(self, cosine: Any) -> None:
        self.cosine = np.asarray(cosine, float)

    def of(self, quantity: str) -> Sun:
        """The same for all."""
        return Sun(self.cosine, 1400.0 * self.cosine)


def formed(measured: dict[str, Series], cosine: Any, **settings: Any) -> Any:
    """Derived series and sources."""
    rules = AggregateSettings(**settings)
    return derived_series(measured, OneSun(cosine), 60, rules)  # type: ignore[arg-type]


def test_selected_global_by_hand() -> None:
    """Sum 500 with one lapse, pyranometer 480 with one gap: five minutes of it, one missing."""
    total = np.full(20, 500.0)
    total[10] = NAN
    other = np.full(20, 480.0)
    other[9] = NAN
    found = selected_global(series(total, 3.0), series(other, 7.0), 60)
    assert found is not None
    selected, source = found
    assert source.tolist() == [1] * 8 + [2, 0, 2, 2, 2] + [1] * 7
    assert selected.mean[source == 2].tolist() == [480.0] * 4
    assert selected.mean[source == 1].tolist() == [500.0] * 15
    assert not selected.valid[9]
    assert selected.uncertainty is not None
    assert selected.uncertainty[[0, 8]].tolist() == [3.0, 7.0]


def test_one_source_alone() -> None:
    """Whatever there is of it, also single minutes; nothing at all gives nothing."""
    only = series([1.0, NAN, 3.0])
    for pair, code in (((only, None), 1), ((None, only), 2)):
        found = selected_global(*pair, 60)
        assert found is not None
        assert found[1].tolist() == [code, 0, code]
    assert selected_global(None, None, 60) is None


@pytest.mark.parametrize("interval", [60, 120, 240, 290, 300, 600, 3600])
def test_the_halo_is_wide_enough(interval: int) -> None:
    """For every averaging interval, in seconds."""
    assert reach(-(-SHORTEST_STRETCH // interval)) * interval <= REACH


def test_direct_from_difference_by_hand() -> None:
    """(700 - 100) / 0.6 = 1000; low sun has none; night is 0."""
    got = direct_from_difference(
        series([700.0, 60.0, NAN, NAN]),
        series([100.0, 50.0, 1.0, 80.0]),
        np.array([0.6, 0.05, 0.0, 0.7]),
    )
    assert got.valid.tolist() == [True, False, True, False]
    assert_allclose(got.mean[[0, 2]], [1000.0, 0.0])
    assert got.uncertainty is not None
    assert got.uncertainty[0] == pytest.approx(np.sqrt(2.0) / 0.6)


def test_direct_from_difference_only_where_asked_for() -> None:
    """Under its own name."""
    measured = {"ghi": series([700.0]), "dhi": series([100.0])}
    assert "dni_from_difference" not in formed(measured, [0.6])[0]
    assert "dni_from_difference" in formed(measured, [0.6], dni_from_difference=True)[0]


def test_net_by_hand() -> None:
    """Down less up where both count; all together 500 - 120 + 300 - 400 = 280."""
    measured = {
        "ghi": series([500.0, 500.0, NAN]),
        "swu": series([120.0, NAN, 120.0]),
        "lwd": series([300.0, 300.0, 300.0]),
        "lwu": series([400.0, 400.0, 400.0]),
    }
    got, _ = formed(measured, [0.5] * 3)
    assert got["net_shortwave"].mean[0] == 380.0
    assert_array_equal(got["net_shortwave"].valid, [True, False, False])
    assert got["net_longwave"].mean.tolist() == [-100.0] * 3
    assert got["net_radiation"].mean[0] == 280.0
    assert_array_equal(got["net_radiation"].valid, [True, False, False])
    assert got["net_radiation"].uncertainty[0] == pytest.approx(2.0)


def test_sunlight_above_the_atmosphere_against_pvlib() -> None:
    """At the true middle of the minutes: a day by another sun and another formula of distance."""
    bounds = period(station_config(), MARCH, 1)
    time = MARCH + 60 * np.arange(1440)
    residual = np.full(1440, 25.0)
    ds = xr.Dataset(
        {"clock_residual_main": ("time", residual)}, coords={"time": time}, attrs={"interval": 60}
    )
    got = Suns(ds, bounds).of("ghi")
    stamps = pd.to_datetime(time + 55, unit="s", utc=True)
    told = pvlib.solarposition.get_solarposition(stamps, bounds.latitude, bounds.longitude)
    normal = pvlib.irradiance.get_extra_radiation(stamps, solar_constant=1361.0, method="nrel")
    cosine = np.cos(np.radians(told["zenith"].to_numpy())).clip(min=0.0)
    assert_allclose(got.cosine, cosine, atol=2e-5)
    assert_allclose(got.extraterrestrial, normal.to_numpy() * cosine, atol=0.05)
