"""Closure over an hour: what a single minute does not show."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr

from clear_day import clear_minutes, passing_clouds
from hand_minutes import put, six_quantities, where
from sunledger.stages.qc_flag import minutes_view, qc_flag
from sunledger.stages.qc_hours import hours


def flagged(ds: xr.Dataset, settings: dict[str, Any] | None = None) -> xr.Dataset:
    """The minutes with their words."""
    return qc_flag(ds, six_quantities(settings))


def test_an_hour_shows_what_a_minute_does_not() -> None:
    """5 % stays below the limit of a minute; 2 % stays below that of an hour."""
    name = "components_disagree_for_long"
    out = flagged(clear_minutes(ghi=1.05))
    assert where(out, "ghi", name).any()
    assert not where(out, "ghi", "components_disagree").any()
    assert not where(flagged(clear_minutes(ghi=1.02)), "ghi", name).any()


def test_an_hour_is_not_tested_with_fewer_minutes() -> None:
    """Forty minutes with light are asked for, or twenty with the beam."""
    name = "components_disagree_for_long"

    def tested(size: int, settings: Any = None, **factors: float) -> bool:
        out = flagged(clear_minutes(size, **factors), settings)
        return bool(where(out, "ghi", name, "tested").any())

    overcast = {"ghi": 0.3, "dni": 0.0}
    assert not tested(39, **overcast)
    assert tested(40, **overcast)
    assert not tested(19)
    assert tested(20)
    assert tested(30, {"qc_flag": {"closure": {"least_minutes": 30}}}, **overcast)


def test_one_disturbed_minute_does_not_carry_the_hour() -> None:
    """The median is that of its neighbours, and a minute must lie on its side itself."""
    ds = clear_minutes(ghi=1.05)
    right = clear_minutes()["ghi"].values[60]
    ds["ghi"].values[60] = right
    out = where(flagged(ds), "ghi", "components_disagree_for_long")
    assert out[59]
    assert not out[60]


def test_minutes_with_beam_show_what_clouds_hide() -> None:
    """A direct 7 % high is right for half of the minutes: behind the clouds there is none."""
    name = "components_disagree_for_long"
    ds = passing_clouds(dni=1.07)
    lit = ds["dni"].values > 0
    out = flagged(ds)
    told = where(out, "dhi", name) | where(out, "dni", name)
    assert told[lit].all()
    assert not told[~lit].any()
    assert not where(out, "ghi", name).any()
    blind = flagged(ds, {"qc_flag": {"closure": {"least_sunlit": 100}}})
    assert not where(blind, "dni", name)[30:90].any()


def test_what_an_hour_proves_is_followed_to_a_low_sun() -> None:
    """Below 80 degrees an hour is not tested; the same error goes on without a gap, to 85."""
    zenith = np.linspace(74.0, 87.0, 120)
    name = "components_disagree_for_long"
    found = where(flagged(clear_minutes(120, zenith, ghi=1.09)), "ghi", name)
    assert found[(zenith > 76) & (zenith < 82.9)].all()
    assert not found[zenith > 85].any()
    late = clear_minutes(120, zenith)
    share = np.where(zenith > 81, 1.09, 1.0)
    put(late, "ghi", slice(None), late["ghi"].values * share)
    assert not where(flagged(late), "ghi", name).any()


def test_medians_of_the_hour_by_hand() -> None:
    """A global 5 % high for 40 of 120 minutes: the median sees it where most of the hour has it."""
    ds = clear_minutes(120)
    put(ds, "ghi", slice(40, 80), 1.05 * ds["ghi"].values[40:80])
    every, sunlit = hours(minutes_view(ds, six_quantities()))
    for hour in (every, sunlit):
        np.testing.assert_allclose(hour.middle[45:75], 0.05, rtol=1e-9)
        assert np.isnan(hour.middle[:40]).all()
        total = (ds["dhi"] + ds["dni"] * ds["dni_cosine_zenith"]).values
        np.testing.assert_allclose(hour.absolute[60], 0.05 * np.median(total), rtol=1e-4)


@pytest.mark.parametrize(
    ("zenith", "error", "found"),
    [
        (40.0, 0.0301, True),
        (40.0, 0.0299, False),
        (40.0, -0.0301, True),
        (40.0, -0.0299, False),
        # of 225 W m-2 of light: 3.6 % is 8.1 W m-2, 3.5 % is 7.9
        (77.0, 0.0360, True),
        (77.0, 0.0351, False),
    ],
)
def test_limits_of_the_hour(zenith: float, error: float, found: bool) -> None:
    """3 % of the component sum, and 8 W m-2."""
    ds = clear_minutes(90, zenith)
    scale = 225.5 / ds["ghi"].values if zenith > 75 else np.ones(90)
    for quantity in ("ghi", "dhi", "dni"):
        put(ds, quantity, slice(None), ds[quantity].values * scale)
    put(ds, "ghi", slice(None), ds["ghi"].values * (1.0 + error))
    out = flagged(ds)
    got = np.any([where(out, q, "components_disagree_for_long") for q in ("ghi", "dhi", "dni")])
    assert got == found
