"""Closure: where it runs, which component it blames, and what only an hour shows."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr

from clear_day import clear_minutes, passing_clouds
from hand_minutes import put, quiet_minutes, six_quantities, where
from hand_two_loggers import two_logger_minutes
from sunledger.stages.qc_flag import qc_flag

THREE = ("ghi", "dhi", "dni")


def flagged(ds: xr.Dataset, settings: dict[str, Any] | None = None) -> xr.Dataset:
    """The minutes with their words."""
    return qc_flag(ds, six_quantities(settings))


# --- closure by zenith, light and clocks ----------------------------------------------------


@pytest.mark.parametrize(
    ("zenith", "ratio", "fails"),
    [
        (74.999, 1.10, True),
        (75.001, 1.10, False),
        (75.001, 1.16, True),
        (75.001, 0.84, True),
        (74.999, 0.90, True),
        (75.001, 0.90, False),
        (92.99, 1.16, True),
    ],
)
def test_closure_in_both_ranges(zenith: float, ratio: float, fails: bool) -> None:
    """8 % below 75 degrees, 15 % from there to 93 (ratios quoted from Long & Dutton)."""
    total = 80.0 + 400.0 * max(np.cos(np.radians(zenith)), 0.0)
    ds = quiet_minutes(1, zenith, {"ghi": total * ratio, "dhi": 80.0, "dni": 400.0})
    out = flagged(ds)
    for quantity in THREE:
        assert where(out, quantity, "components_disagree", "tested").all()
    failed = [where(out, quantity, "components_disagree") for quantity in THREE]
    assert np.any(failed) == fails


@pytest.mark.parametrize(("zenith", "diffuse"), [(93.01, 80.0), (40.0, 50.0), (120.0, 80.0)])
def test_closure_is_not_tested_in_the_dark(zenith: float, diffuse: float) -> None:
    """Below 93 degrees, or with a component sum of 50 W m-2 or less."""
    ds = quiet_minutes(1, zenith, {"ghi": 200.0, "dhi": diffuse, "dni": 0.0})
    assert not where(flagged(ds), "ghi", "components_disagree", "tested").any()


@pytest.mark.parametrize(("apart", "tested"), [(10.0, True), (10.1, False), (-10.1, False)])
def test_clocks_that_are_apart_are_not_compared(apart: float, tested: bool) -> None:
    """Ten seconds is the limit; the flag cannot fall where the test did not run."""

    ds, resolved = two_logger_minutes(apart)
    out = qc_flag(ds, resolved)
    for quantity in THREE:
        assert where(out, quantity, "components_disagree", "tested").all() == tested
        assert (out[f"{quantity}_conditions"].values & (1 << 21) != 0).all() == (not tested)
    failed = np.stack([where(out, quantity, "components_disagree") for quantity in THREE])
    assert failed.any(axis=0).all() == tested
    assert failed.any() == tested
    assert where(out, "ghi", "diffuse_above_global", "tested").all()


# --- which component ------------------------------------------------------------------------


def blamed_for(ds: xr.Dataset, at: slice, name: str = "components_disagree") -> set[str]:
    """Quantities that carry the bit in every minute of a stretch."""
    out = flagged(ds)
    return {q for q in THREE if where(out, q, name)[at].all()}


@pytest.mark.parametrize(
    ("quantity", "factor"),
    [("ghi", 1.15), ("ghi", 0.85), ("dhi", 4.5), ("dni", 0.8)],
)
def test_the_wrong_component_alone_is_blamed_under_a_clear_sky(
    quantity: str, factor: float
) -> None:
    """Global or component sum, whichever is nearer the clear sky, is held to be right."""
    assert blamed_for(clear_minutes(), slice(None)) == set()
    ds = clear_minutes(**{quantity: factor})
    assert blamed_for(ds, slice(None)) == {quantity}


def test_all_three_are_blamed_where_it_cannot_be_told() -> None:
    """Half a clear sky's light, as under cloud: nothing says which is right."""
    ds = clear_minutes(ghi=0.4, dhi=2.0, dni=0.1)
    assert blamed_for(ds, slice(None)) == {"ghi", "dhi", "dni"}


def test_a_lost_direct_is_blamed_whatever_the_sky() -> None:
    """Global less diffuse is bright and the direct is nothing."""
    assert blamed_for(clear_minutes(ghi=0.7, dhi=1.5, dni=0.0), slice(None)) == {"dni"}


def test_without_a_beam_the_direct_cannot_be_too_large() -> None:
    """Overcast, diffuse above global: one of these two, not the direct."""
    ds = clear_minutes(ghi=0.3, dni=0.0)
    put(ds, "dhi", slice(None), 1.12 * ds["ghi"].values)
    assert blamed_for(ds, slice(None)) == {"ghi", "dhi"}


def test_nothing_is_said_without_a_component() -> None:
    """No closure, no verdict of any test that needs it."""
    ds = clear_minutes()
    ds = ds.drop_vars([str(n) for n in ds if str(n).startswith("dni")])
    ds["dni"] = ("time", np.full(ds.sizes["time"], np.nan))
    for suffix in ("_min", "_max", "_std", "_fingerprint"):
        ds[f"dni{suffix}"] = ds["dni"]
    ds["dni_cosine_zenith"] = ds["ghi_cosine_zenith"]
    ds["dni_conditions"] = ("time", np.zeros(ds.sizes["time"], np.int32))
    ds["dni_over_range"] = ("time", np.zeros(ds.sizes["time"], bool))
    out = flagged(ds)
    for name in ("components_disagree", "components_disagree_for_long", "spike"):
        assert not where(out, "ghi", name, "tested").any()
        assert not where(out, "ghi", name).any()


def test_minutes_without_beam_tell_a_leak_from_a_low_global() -> None:
    """A leak shows only with the beam; a low global behind clouds too."""
    ds = passing_clouds()
    beam = ds["dni"].values * ds["dni_cosine_zenith"].values
    put(ds, "dhi", slice(None), ds["dhi"].values + 0.2 * beam)
    lit = beam > 0
    leak = flagged(ds)
    assert where(leak, "dhi", "shade_misaligned")[lit].all()
    assert not where(leak, "ghi", "components_disagree")[lit].any()
    low = flagged(passing_clouds(ghi=0.8))
    assert where(low, "ghi", "components_disagree")[lit].all()
    assert not where(low, "dhi", "shade_misaligned").any()
    assert not where(low, "dni", "components_disagree").any()


def brighter_by_clouds(**factors: float) -> xr.Dataset:
    """Clouds beside the sun: 12 % more than a clear sky, and nothing smooth about it."""
    ds = clear_minutes(120)
    cosine = ds["dni_cosine_zenith"].values
    wave = 6.0 * (-1.0) ** np.arange(120)
    diffuse = ds["dhi"].values + 0.12 * ds["ghi"].values + wave
    direct = ds["dni"].values
    values = {"dni": direct, "dhi": diffuse, "ghi": diffuse + direct * cosine}
    for quantity, plain in values.items():
        put(ds, quantity, slice(None), plain * factors.get(quantity, 1.0))
    return ds


def test_level_tells_less_away_from_clear_periods() -> None:
    """A global 10 % low stands nearer the clear sky than the brightened sum does.

    In broken cloud it must stay under suspicion; under a clear sky the same sum is too large.
    """
    name, at = "components_disagree", slice(10, 110)
    assert "ghi" in blamed_for(brighter_by_clouds(ghi=0.89), at, name)
    trusting = {"qc_flag": {"blame": {"margin_by_clouds": 0.08}}}
    out = flagged(brighter_by_clouds(ghi=0.89), trusting)
    assert not where(out, "ghi", name)[at].any()


@pytest.mark.parametrize(("diffuse", "lost"), [(0.8805, False), (0.8795, True)])
def test_a_diffuse_ten_percent_low_is_no_lost_direct(diffuse: float, lost: bool) -> None:
    """Bright overcast: global less diffuse is more than 50 W m-2 and yet only its error."""
    ds = clear_minutes(ghi=0.62, dni=0.0)
    put(ds, "dhi", slice(None), diffuse * ds["ghi"].values)
    assert (ds["ghi"].values - ds["dhi"].values).min() > 50.0
    assert blamed_for(ds, slice(None)) == ({"dni"} if lost else {"ghi", "dhi", "dni"})
    assert where(flagged(ds), "dni", "pyrheliometer_off_sun").all() == lost
