"""Selection of clear steady minutes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pvlib
import pytest

from invented_months import Month, month_of
from sunledger.diagnosis.selection import (
    LARGEST_ZENITH,
    clear_minutes,
    closure_columns,
    solar_day,
)

CLEAR = Month(days=2, cloudiness=-2.0)
CLOUDY = Month(days=2, cloudiness=3.0)


def test_clear_days_are_taken_and_overcast_ones_are_not() -> None:
    """Most minutes with the sun high enough, against none."""
    clear = clear_minutes(month_of(CLEAR))
    assert clear.middle.size > 1200
    assert clear.zenith.max() < LARGEST_ZENITH
    assert clear_minutes(month_of(CLOUDY)).middle.size == 0


def test_what_is_not_usable_or_unknown_stays_out() -> None:
    """A marked minute and a missing one, alone: nothing else changes but their neighbours."""
    parts = month_of(CLEAR)
    at = np.searchsorted(parts.middle, clear_minutes(parts).middle[[100, 600]])
    usable, dhi = parts.usable.copy(), parts.dhi.copy()
    usable[at[0]], dhi[at[1]] = False, np.nan
    taken = clear_minutes(replace(parts, usable=usable, dhi=dhi)).middle
    assert not np.isin(parts.middle[at], taken).any()
    assert taken.size == clear_minutes(parts).middle.size - 2


def test_a_passing_cloud_takes_its_neighbours_out() -> None:
    """One minute at half the direct: it and the three minutes on either side."""
    parts = month_of(CLEAR)
    before = clear_minutes(parts)
    at = np.searchsorted(parts.middle, before.middle[300])
    dni = parts.dni.copy()
    dni[at] *= 0.5
    after = clear_minutes(replace(parts, dni=dni))
    gone = np.setdiff1d(before.middle, after.middle)
    np.testing.assert_array_equal(gone, parts.middle[at - 3 : at + 4])


def test_a_global_far_off_is_another_fault() -> None:
    """Half as much again as the components: not a matter of level or clock."""
    parts = month_of(CLEAR)
    assert clear_minutes(replace(parts, ghi=1.5 * parts.ghi)).middle.size == 0


@pytest.mark.parametrize(("east", "north"), [(0.5, 0.0), (0.0, 0.5), (-0.4, 0.3)])
def test_columns_are_those_of_plane_of_array_geometry(east: float, north: float) -> None:
    """A small lean changes the beam by columns times lean: pvlib's beam on a tilted plane."""
    zenith, azimuth = np.meshgrid(np.linspace(5, 75, 15), np.linspace(0, 345, 24))
    zenith, azimuth = zenith.ravel(), azimuth.ravel()
    dni = np.full(zenith.shape, 900.0)
    size = np.hypot(east, north)
    toward = np.degrees(np.arctan2(east, north)) % 360
    tilted = pvlib.irradiance.beam_component(size, toward, zenith, azimuth, dni)
    level = pvlib.irradiance.beam_component(0.0, 0.0, zenith, azimuth, dni)
    ours = closure_columns(dni, zenith, azimuth)[:, 1:] @ np.radians([east, north])
    # what a linear lean leaves out: 1 - cos(0.5 degree), of 900 W m-2
    np.testing.assert_allclose(ours, tilted - level, atol=0.04)


def test_a_solar_day_holds_its_light_together() -> None:
    """At 170 degrees east the day begins in the evening of UTC."""
    noon = 1000 * 86400.0
    assert solar_day(np.array([noon - 5 * 3600, noon, noon + 5 * 3600]), 170.0).tolist() == (
        [1000, 1000, 1000]
    )
    assert solar_day(np.array([noon + 13 * 3600.0]), 170.0)[0] == 1001
