"""Directional response: a table on a grid of directions, applied to the beam alone."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.directional_response import beam_excess, directional_deviation

ZENITHS, AZIMUTHS = (0.0, 40.0, 80.0), (0.0, 90.0, 180.0, 270.0)
PERCENT = ((0.0, 0.0, 0.0, 0.0), (1.0, 2.0, 3.0, 4.0), (2.0, 4.0, 6.0, 8.0))


def deviation(zenith: float, azimuth: float) -> float:
    """One value in percent."""
    return float(100 * directional_deviation(zenith, azimuth, (ZENITHS, AZIMUTHS), PERCENT)[0])


@pytest.mark.parametrize(
    ("zenith", "azimuth", "percent"),
    [
        (40.0, 90.0, 2.0),
        (60.0, 90.0, 3.0),
        (40.0, 135.0, 2.5),
        (40.0, 315.0, 2.5),  # between 270 and 0, around the circle
        (40.0, -45.0, 2.5),
        (20.0, 720.0, 0.5),
        (85.0, 0.0, 2.0),
    ],
)
def test_bilinear_by_hand(zenith: float, azimuth: float, percent: float) -> None:
    assert deviation(zenith, azimuth) == pytest.approx(percent, abs=1e-12)


def test_beyond_the_table_is_marked_while_the_sun_is_up() -> None:
    outside = directional_deviation([79.0, 85.0, 95.0], 0.0, (ZENITHS, AZIMUTHS), PERCENT)[1]
    assert_array_equal(outside, [False, True, False])


def test_table_of_one_azimuth() -> None:
    got = directional_deviation([20.0, 60.0], [10.0, 200.0], ((0.0, 80.0), (0.0,)), ((0,), (4,)))[0]
    assert_allclose(got, [0.01, 0.03])


def test_limit_of_class_a() -> None:
    """ISO 9060: +10 W m-2 for a beam of 1000 W m-2 normal, whatever its direction."""
    zenith = np.array([0.0, 30.0, 60.0, 80.0])
    percent = 100 * 10.0 / (1000.0 * np.cos(np.radians(zenith)))[:, np.newaxis]
    found = directional_deviation(zenith, 0.0, (zenith, (0.0,)), percent)[0]
    assert_allclose(beam_excess(1000.0, zenith, found), 10.0, rtol=1e-12)


def test_no_beam_no_excess() -> None:
    """Below the horizon whatever the direct; NaN by day where the direct is unknown."""
    got = beam_excess([800.0, np.nan, np.nan, -3.0], [91.0, 95.0, 40.0, 40.0], 0.02)
    assert_array_equal(got, [0.0, 0.0, np.nan, 0.0])
