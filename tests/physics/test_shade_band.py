"""The share of the sky behind a band, against the solid angle added up piece by piece."""

from __future__ import annotations

import numpy as np
import pytest

from sunledger.physics.shade_band import hidden_share, obstruction_factor, solar_declination
from sunledger.physics.sun import solar_position


def added_up(declination: float, latitude: float, ratio: float) -> float:
    """
    Share of the isotropic irradiance behind a thin band, from vectors alone.

    The band is a piece of a cylinder of radius 1 around the polar axis through the sensor,
    shifted along the axis so that the sun stands behind its middle.
    """
    hour = np.linspace(-np.pi, np.pi, 200_001)
    middle = np.tan(np.radians(declination))  # height along the axis
    phi = np.radians(latitude)
    pole, south = np.array([0, np.cos(phi), np.sin(phi)]), np.array([0, -np.sin(phi), np.cos(phi)])
    across = np.outer(np.cos(hour), south) + np.outer(np.sin(hour), [1.0, 0.0, 0.0])
    place = across + middle * pole
    distance = np.linalg.norm(place, axis=1)
    facing = 1.0 / distance  # cosine between the band's normal and the line of sight
    solid = ratio * facing / distance**2  # of an element ratio x d(hour)
    upward = np.maximum(place[:, 2] / distance, 0.0)
    return float(np.trapezoid(solid * upward, hour) / np.pi)


@pytest.mark.parametrize("declination", [-23.4, -10.0, 0.0, 12.0, 23.4])
@pytest.mark.parametrize("latitude", [-31.0, 0.0, 46.9, 75.0])
def test_solid_angle_of_the_band(declination: float, latitude: float) -> None:
    got = hidden_share(declination, latitude, 0.2)
    assert float(got) == pytest.approx(added_up(declination, latitude, 0.2), rel=1e-6, abs=1e-9)


def test_equator_at_equinox_by_hand() -> None:
    """2 b / (pi r): a belt through the zenith."""
    assert float(hidden_share(0.0, 0.0, 0.1)) == pytest.approx(0.2 / np.pi, rel=1e-12)


def test_polar_night_hides_nothing() -> None:
    assert float(hidden_share(-20.0, 80.0, 0.2)) == pytest.approx(0.0, abs=1e-12)


def test_factor() -> None:
    assert float(obstruction_factor(0.1)) == pytest.approx(1 / 0.9, rel=1e-15)
    assert float(obstruction_factor(0.1, 1.03)) == pytest.approx(1.03 / 0.9, rel=1e-15)


def test_declination_at_solstice_and_equinox() -> None:
    """Obliquity 23.44 degrees at the solstice of 2031-06-21, 0 at the equinox (almanac, memory)."""
    times = np.array(["2031-06-21T03:00", "2031-03-20T20:00"], "M8[s]").astype(float)
    sun = solar_position(times, 46.9, 10.2, 2000.0)
    got = solar_declination(sun.zenith, sun.azimuth, 46.9)
    assert got == pytest.approx([23.44, 0.0], abs=0.02)
