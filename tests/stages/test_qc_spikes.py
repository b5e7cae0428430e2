"""Spikes: found where one instrument leaves its neighbours, and not where the light does."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_array_equal

import injected
from clear_day import ALTITUDE, clear_minutes
from faults import signals
from hand_minutes import put, quiet_minutes, six_quantities, where
from sunledger.config.models.processing import FlagSettings
from sunledger.stages.qc_flag import qc_flag
from sunledger.stages.qc_spikes import Departure, spiking
from sunledger.stages.qc_view import Minutes

THREE = ("ghi", "dhi", "dni")


def flagged(ds: xr.Dataset) -> xr.Dataset:
    """The minutes with their words."""
    return qc_flag(ds, six_quantities())


def seen(ds: xr.Dataset, **more: Any) -> Minutes:
    """Minutes as a test sees them."""
    residuals = {q: np.zeros(ds.sizes["time"]) for q in THREE}
    return Minutes(ds, FlagSettings(), 10.0, residuals, altitude=ALTITUDE, **more)


@pytest.mark.parametrize("quantity", THREE)
@pytest.mark.parametrize(("length", "found"), [(1, True), (3, True), (4, False)])
def test_spike_of_one_component(quantity: str, length: int, found: bool) -> None:
    """One to three minutes; only the component that moved carries the bit."""
    ds = clear_minutes()
    time = ds["time"].values

    def fault(values: Any, at: Any) -> Any:
        return signals.spike(values, at, time[40], time[40 + length], 100.0)

    out = flagged(injected.with_signal(ds, quantity, fault))
    expected = np.arange(40, 40 + length) if found else []
    assert_array_equal(np.flatnonzero(where(out, quantity, "spike")), expected)
    assert not any(where(out, q, "spike").any() for q in THREE if q != quantity)


def test_a_cloud_is_no_spike() -> None:
    """Beam and global fall together for two minutes; closure stays."""
    ds = clear_minutes()
    gone = ds["dni"].values[40:42].copy()
    put(ds, "dni", slice(40, 42), 0.0)
    put(
        ds, "ghi", slice(40, 42), ds["ghi"].values[40:42] - gone * ds["dni_cosine_zenith"].values[0]
    )
    assert not any(where(flagged(ds), q, "spike").any() for q in THREE)


def test_a_small_or_usual_jump_is_no_spike() -> None:
    """19 W m-2, or 60 W m-2 where every other minute departs by as much."""
    ds = clear_minutes()
    put(ds, "ghi", 40, ds["ghi"].values[40] + 19.0)
    assert not spiking(seen(ds))["ghi"][1].any()
    ds = clear_minutes()
    put(ds, "ghi", slice(0, None, 2), ds["ghi"].values[::2] + 60.0)
    assert not spiking(seen(ds))["ghi"][1].any()


def test_spikes_are_not_looked_for_in_long_means() -> None:
    """Ten-minute means: no test."""
    ds = clear_minutes().assign_attrs(interval=600)
    assert not where(flagged(ds), "ghi", "spike", "tested").any()


def test_longwave_spike_stands_out_of_its_own_scatter() -> None:
    """16 W m-2 for two minutes, not 14."""
    for height, found in ((16.0, True), (14.0, False)):
        ds = quiet_minutes()
        put(ds, "lwd", [12, 13], 300.0 + height)
        assert_array_equal(
            np.flatnonzero(where(flagged(ds), "lwd", "spike")), [12, 13][: 2 * found]
        )


def test_spike_is_found_where_clocks_are_apart_and_the_light_is_steady() -> None:
    """The spike itself makes the light unsteady; its neighbours tell that nothing else does."""
    ds = clear_minutes(120)
    ds["dhi"].values[60] += 60.0
    minutes = seen(ds)
    apart = {q: np.full(120, 30.0 * (q == "ghi")) for q in THREE}
    parted = Minutes(ds, FlagSettings(), 10.0, apart, altitude=ALTITUDE)
    assert minutes.sky.known[60]
    assert not parted.sky.known[60]
    assert np.flatnonzero(spiking(parted)["dhi"][1]).tolist() == [60]


def test_departures_that_cannot_be_spikes_need_not_be_known() -> None:
    """Looked for only near others, the same minutes stand out by the same amount."""
    rng = np.random.default_rng(3)
    values = np.cumsum(rng.normal(0.0, 2.0, 4000))
    values[rng.integers(0, 4000, 60)] += rng.normal(0.0, 40.0, 60)
    values[rng.random(4000) < 0.05] = np.nan
    values[1000:1400] = 300.0
    whole = Departure.of(values, 5, 15.0)
    near = Departure.of(values, 5, 15.0, everywhere=False)
    assert_array_equal(near.known, whole.known)
    large = np.abs(whole.away) > 15.0
    assert 20 < np.count_nonzero(large) < 1000
    assert_array_equal(near.away[large], whole.away[large])
    assert_array_equal(near.limit(8.0)[large], whole.limit(8.0)[large])
    assert not np.any(np.abs(near.away[~large]) > 15.0)
    assert np.isnan(near.away[1100:1300]).all()
