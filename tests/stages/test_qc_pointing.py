"""Tracker, pyrheliometer, shade: each fires on its fault and is silent on clean data."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_array_equal

import injected
from clear_day import clear_minutes
from faults import pointing, signals
from hand_minutes import put, six_quantities, where
from sunledger.stages.qc_flag import minutes_view, qc_flag
from sunledger.stages.qc_pointing import (
    pyrheliometer_off_sun,
    shade_misaligned,
    tracker_off_sun,
)
from sunledger.vocabulary import CONDITIONS

SIZE = 240
FROM, UNTIL = 80, 160
OWN = ("tracker_off_sun", "pyrheliometer_off_sun", "shade_misaligned", "beam_obstructed")
QUANTITY = {"tracker_off_sun": "dni", "shade_misaligned": "dhi"}


def flagged(ds: xr.Dataset, settings: dict[str, Any] | None = None) -> xr.Dataset:
    """The minutes with their words."""
    return qc_flag(ds, six_quantities(settings))


def faulty(model: Any, zenith: Any = 40.0, **settings: Any) -> xr.Dataset:
    """A clear stretch with a pointing fault from FROM to UNTIL."""
    ds = clear_minutes(SIZE, zenith)
    start, end = (float(ds["time"].values[i]) for i in (FROM, UNTIL))
    return injected.with_light(ds, partial(model, start=start, end=end, **settings))


def named(out: xr.Dataset) -> dict[str, np.ndarray]:
    """Minutes of each of the four tests."""
    return {
        name: np.flatnonzero(where(out, QUANTITY.get(name, "dni"), name))
        for name in OWN
        if where(out, QUANTITY.get(name, "dni"), name).any()
    }


def test_a_clear_sky_is_left_alone() -> None:
    """No pointing test fires, and all could run."""
    out = flagged(clear_minutes(SIZE))
    assert named(out) == {}
    for name in OWN:
        assert where(out, QUANTITY.get(name, "dni"), name, "tested").all()


def test_a_tracker_that_says_it_tracks_is_found_stopped() -> None:
    """Its mode says tracking; it is followed back to where the direct begins to fade."""
    ds = faulty(pointing.tracker_stopped)
    assert np.all(ds["tracker_mode"] == 1)
    out = flagged(ds)
    assert set(named(out)) == {"tracker_off_sun"}
    got = named(out)["tracker_off_sun"]
    # full beam for 4 min after it stopped, 2 % less by the next minute
    assert FROM + 4 <= got[0] <= FROM + 6
    assert got[-1] == UNTIL - 1
    assert_array_equal(got, np.arange(got[0], UNTIL))
    assert_array_equal(where(out, "dhi", "tracker_off_sun"), where(out, "dni", "tracker_off_sun"))


def test_overcast_is_not_a_stopped_tracker() -> None:
    """No direct, and a diffuse as large as half a clear sky's global, smooth."""
    ds = clear_minutes(SIZE, ghi=0.5, dni=0.0)
    put(ds, "dhi", slice(None), ds["ghi"].values)
    assert named(flagged(ds)) == {}


def test_no_proof_is_taken_from_a_low_sun() -> None:
    """Above 80 degrees thin overcast looks like a lost tracker."""
    assert "tracker_off_sun" in named(flagged(faulty(pointing.tracker_stopped, 79.0)))
    assert named(flagged(faulty(pointing.tracker_stopped, 82.0))) == {}


def test_a_slipped_pyrheliometer_is_not_a_stopped_tracker() -> None:
    """The direct is near 0 and the diffuse is right."""
    out = flagged(faulty(pointing.pyrheliometer_slipped))
    assert set(named(out)) == {"pyrheliometer_off_sun"}
    assert_array_equal(named(out)["pyrheliometer_off_sun"], np.arange(FROM, UNTIL))


@pytest.mark.parametrize(("length", "found"), [(3, False), (4, True)])
def test_a_direct_lost_for_some_minutes(length: int, found: bool) -> None:
    """Up to three minutes are a spike; four are not natural."""
    ds = clear_minutes(SIZE)
    time = ds["time"].values
    cut = partial(signals.cable_off, start=time[FROM], end=time[FROM + length])
    out = flagged(injected.with_signal(ds, "dni", lambda v, t: cut(v, t)))
    assert where(out, "dni", "pyrheliometer_off_sun").any() == found
    assert where(out, "dni", "spike").any() != found


@pytest.mark.parametrize("share", [0.2, 1.0])
def test_a_leaking_shade_is_named(share: float) -> None:
    """All its minutes but those at its ends; the direct and global stay clean."""
    out = flagged(faulty(pointing.shade_leaking, share=share))
    assert set(named(out)) == {"shade_misaligned"}
    assert set(range(FROM + 2, UNTIL - 2)) <= set(named(out)["shade_misaligned"].tolist())
    assert not where(out, "ghi", "components_disagree").any()


def test_an_obstructed_beam_is_named() -> None:
    """A fifth of the direct is missing."""
    out = flagged(faulty(pointing.beam_obstructed, loss=0.2))
    assert set(named(out)) == {"beam_obstructed"}
    assert set(range(FROM + 2, UNTIL - 2)) <= set(named(out)["beam_obstructed"].tolist())


def test_without_a_component_only_the_tracker_speaks() -> None:
    """No global: pointing cannot be inferred, the mode still counts."""
    ds = clear_minutes(SIZE)
    ds["ghi"].values[:] = np.nan
    ds["tracker_mode"].values[7] = 0.0
    out = flagged(ds)
    assert_array_equal(named(out)["tracker_off_sun"], [7])
    for name in OWN[1:]:
        assert not where(out, QUANTITY.get(name, "dni"), name, "tested").any()


def test_nothing_is_inferred_in_the_polar_night() -> None:
    """The sun stays below the horizon."""
    out = flagged(clear_minutes(SIZE, 100.0))
    for name in OWN:
        assert not where(out, QUANTITY.get(name, "dni"), name, "tested").any()


@pytest.mark.parametrize("name", ["tracker_off_sun", "pyrheliometer_off_sun", "shade_misaligned"])
def test_pointing_is_judged_where_clocks_are_apart(name: str) -> None:
    """What lasts for many minutes does not ask for clocks that agree to the second."""
    model = {
        "tracker_off_sun": pointing.tracker_stopped,
        "pyrheliometer_off_sun": pointing.pyrheliometer_slipped,
        "shade_misaligned": partial(pointing.shade_leaking, share=0.3),
    }[name]
    ds = faulty(model)
    lone = six_quantities()
    minutes = replace(
        minutes_view(ds, lone),
        residuals={q: np.full(SIZE, 30.0 * (q == "dni")) for q in ("ghi", "dhi", "dni")},
    )
    # light that changes by a fifth from minute to minute, so that nothing is steady
    wave = 1.0 + 0.1 * (-1.0) ** np.arange(SIZE)
    for quantity in ("ghi", "dhi", "dni"):
        put(ds, quantity, slice(None), ds[quantity].values * wave)
    assert not minutes.sky.known.any()
    verdict = {
        "tracker_off_sun": tracker_off_sun,
        "pyrheliometer_off_sun": pyrheliometer_off_sun,
        "shade_misaligned": shade_misaligned,
    }[name](minutes, QUANTITY.get(name, "dni"))
    assert verdict is not None
    found = np.flatnonzero(verdict[1])
    assert found[0] < FROM + 20
    assert verdict[1][FROM + 20 : UNTIL].all()
    assert not verdict[1][:FROM].any()


def test_what_is_proven_holds_for_single_minutes_near_by() -> None:
    """A direct lost for ten minutes and again for two is lost both times; two alone are a spike."""
    ds = clear_minutes(SIZE)
    lost = np.zeros(SIZE, bool)
    lost[100:110] = lost[120:122] = lost[200:202] = True
    put(ds, "dni", slice(None), np.where(lost, 0.0, ds["dni"].values))
    got = np.flatnonzero(where(flagged(ds), "dni", "pyrheliometer_off_sun")).tolist()
    assert got == [*range(100, 110), 120, 121]


@pytest.mark.parametrize(("bursts", "found"), [(1, False), (2, True)])
def test_a_diffuse_beyond_its_rare_maximum_proves_a_lost_tracker(bursts: int, found: bool) -> None:
    """Overcast but for two minutes: a shaded dome never reads so much (Long and Dutton's limit)."""
    ds = clear_minutes(SIZE, 65.0, ghi=0.5, dni=0.0)
    diffuse = ds["ghi"].values.copy()
    # 0.75 x 1361 x cos(65)^1.2 + 30 W m-2
    diffuse[[100, 140][:bursts]] = 0.75 * 1361.0 * np.cos(np.radians(65.0)) ** 1.2 + 31.0
    for quantity in ("ghi", "dhi"):
        put(ds, quantity, slice(None), diffuse)
    out = flagged(ds)
    got = where(out, "dni", "tracker_off_sun")
    assert got.any() == found
    assert got[100:141].all() == found
    put(ds, "dhi", slice(None), np.minimum(diffuse, diffuse.max() - 2.0))
    assert not where(flagged(ds), "dni", "tracker_off_sun").any()


def test_homing_lasts_until_the_beam_is_back() -> None:
    """Five minutes of homing, ten more until the direct is seen; later losses are none of it."""
    ds = clear_minutes(SIZE)
    ds["tracker_mode"].values[60:65] = 2.0
    lost = np.zeros(SIZE, bool)
    lost[60:75] = lost[120:126] = True
    put(ds, "dni", slice(None), np.where(lost, 0.0, ds["dni"].values))
    out = flagged(ds)
    for quantity in ("dni", "dhi"):
        word = out[f"{quantity}_conditions"].values & CONDITIONS["tracker_homing"].mask
        assert_array_equal(np.flatnonzero(word), np.arange(60, 75))
        assert np.all(out[f"{quantity}_grade"].values[60:75] == 3)
    assert not np.any(out["ghi_conditions"].values & CONDITIONS["tracker_homing"].mask)


def test_homing_of_the_field_log_lasts_as_long() -> None:
    """Also without a mode; and never for more than half an hour."""
    ds = clear_minutes(SIZE)
    ds["dni_conditions"].values[60:62] |= np.int32(CONDITIONS["tracker_homing"].mask)
    lost = (np.arange(SIZE) >= 60) & (np.arange(SIZE) < 200)
    put(ds, "dni", slice(None), np.where(lost, 0.0, ds["dni"].values))
    word = flagged(ds)["dhi_conditions"].values & CONDITIONS["tracker_homing"].mask
    assert_array_equal(np.flatnonzero(word), np.arange(60, 92))


def test_a_tracker_that_stops_towards_dusk_is_found() -> None:
    """Fifty dark minutes until the sun is at 87 degrees are the whole of their window."""
    ds = clear_minutes(SIZE, 60.0 + 0.19 * np.arange(SIZE))
    start, end = (float(ds["time"].values[i]) for i in (76, SIZE - 1))
    ds = injected.with_light(ds, partial(pointing.tracker_stopped, start=start, end=end))
    got = named(flagged(ds))["tracker_off_sun"]
    assert got[0] <= 76 + 6
    assert_array_equal(got, np.arange(got[0], 143))
