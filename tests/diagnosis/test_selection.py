"""Selection of clear steady minutes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pvlib
import pytest

from invented_months import Month, month_of
from sunledger.diagnosis.selection import (
    LARGEST_ZENITH,
    Components,
    clear_minutes,
    closure_columns,
    solar_day,
    steady_beam,
    steady_clear,
)
from sunledger.physics.clear_sky import clear_sky

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


@pytest.mark.parametrize(("name", "factor"), [("dni", 0.9), ("dhi", 1.2)])
def test_a_passing_cloud_takes_its_neighbours_out(name: str, factor: float) -> None:
    """One minute off: it and two minutes on either side, beyond 6 % of direct, 15 % of diffuse."""
    parts = month_of(CLEAR)
    before = clear_minutes(parts)
    at = np.searchsorted(parts.middle, before.middle[300])
    values = getattr(parts, name).copy()
    values[at] *= factor
    gone = np.setdiff1d(before.middle, clear_minutes(replace(parts, **{name: values})).middle)
    np.testing.assert_array_equal(gone, parts.middle[at - 2 : at + 3])
    values[at] = getattr(parts, name)[at] * (1 + 0.4 * (factor - 1))
    assert clear_minutes(replace(parts, **{name: values})).middle.size == before.middle.size


STILL = {"dni": 800.0, "dhi": 100.0, "ghi": 700.0}


def still(zenith: float = 40.0, outside: float = 1361.0, **changed: np.ndarray) -> np.ndarray:
    """Which minutes of a sky without any change are taken, but for what is changed."""
    values = {name: np.full(21, value) for name, value in STILL.items()} | changed
    middle = 1.9e9 + 60.0 * np.arange(21)
    parts = Components(middle, 60, **values, usable=np.ones(21, bool), latitude=46.8,
                       longitude=6.9, altitude=490.0)  # fmt: skip
    clear = clear_sky(np.full(21, zenith), outside, parts.altitude)[0]
    return steady_beam(parts, np.full(21, zenith), clear)


@pytest.mark.parametrize(("name", "limit"), [("dni", 0.06), ("dhi", 0.15)])
def test_limits_of_steadiness(name: str, limit: float) -> None:
    """At 99.5 % of the limit all are taken, at 100.5 % the two minutes on either side are not.

    The minute itself is brighter, so that its own range is a smaller share of it.
    """
    for share, out in ((0.995, 0), (1.005, 4)):
        values = np.full(21, STILL[name])
        values[10] *= 1.0 + share * limit
        assert np.flatnonzero(~still(**{name: values})).tolist() == [8, 9, 11, 12][:out]


def test_limits_of_beam_and_sun() -> None:
    """30 % of a clear sky's, 150 W m-2, 80 degrees, each to half a percent."""
    clear = float(clear_sky(40.0, 1361.0, 490.0)[0])
    for share in (0.995, 1.005):
        taken = still(dni=np.full(21, 0.3 * clear * share))
        assert taken.all() == taken.any() == (share > 1)
        assert 0.3 * float(clear_sky(79.0, 1200.0, 490.0)[0]) < 0.99 * 150.0
        assert still(79.0, 1200.0, dni=np.full(21, 150.0 * share)).all() == (share > 1)
    assert still(79.7).all()
    assert not still(80.3).any()


def test_the_stricter_choice_is_part_of_the_wider() -> None:
    """On a broken sky the fit of closure keeps more minutes than the ratios."""
    parts = month_of(Month(days=6, cloudiness=0.4, seed=3))
    strict = steady_clear(parts, parts.sun.zenith, parts.clear_sky)
    wide = steady_beam(parts, parts.sun.zenith, parts.clear_sky[0])
    assert wide.sum() > 1.02 * strict.sum()
    assert wide[strict].mean() > 0.98


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
