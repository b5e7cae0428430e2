"""The clear sky against an independent model and a published clear day."""

from __future__ import annotations

import lzma
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest

from sunledger.physics.clear_sky import clear_sky, direct_transmittance
from sunledger.physics.sun import solar_position

PUBLISHED = Path(__file__).parent.parent / "published" / "payerne_2016_06.csv.xz"


def test_transmittance_by_hand() -> None:
    """0.7 at one air mass; at 2 km 0.72 * 0.7 + 0.28 = 0.784 (formulae from memory)."""
    assert direct_transmittance([0.0], 0.0)[0] == pytest.approx(0.7, abs=2e-4)
    assert direct_transmittance([0.0], 2000.0)[0] == pytest.approx(0.784, abs=2e-4)


def test_global_by_hand() -> None:
    """0.271 + 0.706 * 0.7 = 0.7652 of the extraterrestrial at the zenith."""
    _, whole = clear_sky([0.0], 1000.0, 0.0)
    assert whole[0] == pytest.approx(765.2, abs=0.3)


@pytest.mark.parametrize("zenith", [20.0, 40.0, 60.0, 70.0])
def test_global_agrees_with_another_published_model(zenith: float) -> None:
    """Haurwitz (1945) as in pvlib, which knows no altitude: within 12 %."""
    other = pvlib.clearsky.haurwitz(pd.Series([zenith])).to_numpy()[0, 0]
    _, whole = clear_sky([zenith], 1361.0, 0.0)
    assert whole[0] == pytest.approx(other, rel=0.12)


def test_a_real_clear_morning() -> None:
    """Payerne, 23 June 2016 (station 21 of the Baseline Surface Radiation Network), 8-11 UTC.

    Published means of global and direct within 5 %.
    """
    with lzma.open(PUBLISHED, "rt") as handle:
        table = pd.read_csv(handle, comment="#")
    rows = table.iloc[22 * 1440 + 8 * 60 : 22 * 1440 + 11 * 60]
    start = int(pd.Timestamp("2016-06-23T08:00").timestamp())
    sun = solar_position(start + 30.0 + 60.0 * np.arange(180), 46.815, 6.944, 491.0)
    direct, whole = clear_sky(sun.zenith, 1361.0 / sun.distance**2, 491.0)
    for name, values in (("ghi", whole), ("dni", direct)):
        assert rows[name].mean() == pytest.approx(values.mean(), rel=0.05)


def test_nothing_comes_from_a_sun_below_the_horizon() -> None:
    """Zero, not NaN, for the whole night; and depths below the sea count as its level."""
    for values in clear_sky([90.5, 120.0, 180.0], 1361.0, 0.0):
        assert values.tolist() == [0.0, 0.0, 0.0]
    assert direct_transmittance([30.0], -400.0) == direct_transmittance([30.0], 0.0)


def test_missing_zenith_gives_no_beam() -> None:
    """NaN counts as no sun."""
    assert clear_sky([np.nan], 1361.0, 0.0)[0].tolist() == [0.0]


def test_direct_and_global_by_their_formulae() -> None:
    """A row of zenith angles, one alone, and none; formulae as stated, written anew."""
    for zenith in (np.linspace(0.0, 130.0, 27), 40.0, np.zeros(0)):
        direct, whole = clear_sky(zenith, 1361.0, 490.0)
        beam = direct_transmittance(zenith, 490.0)
        level = np.cos(np.radians(np.minimum(zenith, 90.0)))
        assert direct.shape == whole.shape == np.shape(zenith)
        np.testing.assert_allclose(direct, 1361.0 * beam, rtol=1e-12)
        diffuse = (0.271 - 0.294 * beam) * 1361.0 * level
        np.testing.assert_allclose(whole, direct * level + diffuse, rtol=1e-12, atol=1e-9)


def test_a_zenith_angle_alone_has_the_transmittance_it_has_among_others() -> None:
    """Which other angles are in the call does not matter, to the last bit."""
    many = np.linspace(-1.0, 100.0, 333)
    alone = [float(direct_transmittance(zenith, 490.0)) for zenith in many]
    assert np.array_equal(direct_transmittance(many, 490.0), alone)
