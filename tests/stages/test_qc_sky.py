"""The three components beside the clear sky."""

from __future__ import annotations

import numpy as np

from clear_day import ALTITUDE, clear_minutes
from hand_minutes import put
from sunledger.stages.qc_sky import sky_of


def test_parts_close_and_follow_the_model() -> None:
    """Hand-made clear minutes: no residual, 98 % of the model's direct."""
    ds = clear_minutes(30)
    sky = sky_of(ds, ALTITUDE, np.ones(30, bool))
    np.testing.assert_allclose(sky.residual, 0.0, atol=1e-9)
    np.testing.assert_allclose(sky.direct / sky.clear_direct, 0.98, atol=1e-3)
    assert sky.known.all()


def test_clocks_apart_or_a_gap_hide_all_three() -> None:
    """Nothing is compared there."""
    ds = clear_minutes(30)
    put(ds, "dhi", 4, np.nan)
    together = np.ones(30, bool)
    together[9] = False
    sky = sky_of(ds, ALTITUDE, together)
    assert np.flatnonzero(~sky.known).tolist() == [4, 9]
    assert np.isnan(sky.direct[[4, 9]]).all()


def test_nothing_is_expected_of_a_sun_that_is_down() -> None:
    """No clear sky below 88 degrees, and no steady light."""
    ds = clear_minutes(30, 95.0)
    sky = sky_of(ds, ALTITUDE, np.ones(30, bool))
    assert np.isnan(sky.clear_global).all()
    assert not sky.steady(0.1).any()


def test_one_wrong_component_does_not_hide_steady_light() -> None:
    """Two that keep still are enough; one is not."""
    ds = clear_minutes(40)
    put(ds, "ghi", slice(None), 400.0 + 300.0 * (np.arange(40) % 2))
    assert sky_of(ds, ALTITUDE, np.ones(40, bool)).steady(0.1).all()
    put(ds, "dni", slice(None), 400.0 + 300.0 * (np.arange(40) % 2))
    assert not sky_of(ds, ALTITUDE, np.ones(40, bool)).steady(0.1).any()


def test_windows_follow_the_interval() -> None:
    """Ten minutes are two intervals of 300 s, and at least one of any length."""
    ds = clear_minutes(10).assign_attrs(interval=300)
    sky = sky_of(ds, ALTITUDE, np.ones(10, bool))
    assert (sky.steps(10), sky.steps(1)) == (2, 1)
