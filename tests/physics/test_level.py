"""Tilt against a published rule of thumb and numbers worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sunledger.physics.level import (
    beam_on_tilted,
    cosine_of_incidence,
    level_half_width,
    relative_beam_error,
)

HAND_WORKED = [  # zenith, tilt, error toward the sun [%], error away from it [%]
    (80, 0.1, 0.99, -0.99),
    (30, 1, 0.99, -1.02),
    (45, 1, 1.73, -1.76),
    (60, 1, 3.01, -3.04),
    (60, 0.1, 0.30, -0.30),
    (60, 3, 8.93, -9.20),
    (60, 5, 14.72, -15.48),
    (75, 1, 6.50, -6.53),
    (80, 1, 9.88, -9.91),
]


def test_published_rule():
    """0.1 degree is 1 % at 10 degree elevation: BSRN Operations Manual v2.1 (2005), p. 32."""
    error = relative_beam_error(80.0, 180.0, 0.1, [180.0, 0.0])
    assert_allclose(100.0 * error, [1.0, -1.0], atol=0.5)
    assert_allclose(100.0 * error, [0.99, -0.99], atol=0.005)


@pytest.mark.parametrize(("zenith", "tilt", "toward", "away"), HAND_WORKED)
def test_hand_worked_table(zenith, tilt, toward, away):
    """To half a unit of the second decimal of a per cent."""
    error = 100.0 * relative_beam_error(zenith, 135.0, tilt, [135.0, 315.0])
    assert abs(error[0] - toward) <= 0.005
    assert abs(error[1] - away) <= 0.005


def test_lean_across_the_sun():
    """Only cos e - 1: -0.015 % for 1 degree."""
    assert abs(100.0 * relative_beam_error(60.0, 90.0, 1.0, 0.0) + 0.015) <= 5e-4


def test_error_and_beam_agree():
    """Relative error is what the leaning surface gets beyond the level one."""
    zenith, azimuth = np.array([5.0, 40.0, 85.0]), np.array([10.0, 200.0, 300.0])
    level = beam_on_tilted(800.0, zenith, azimuth, 0.0, 0.0)
    leaning = beam_on_tilted(800.0, zenith, azimuth, 2.0, 70.0)
    assert_allclose(
        leaning / level - 1.0, relative_beam_error(zenith, azimuth, 2.0, 70.0), atol=1e-12
    )


def test_edges():
    """Behind the surface nothing arrives; at and below the horizon there is no relative error."""
    assert beam_on_tilted(800.0, 90.0, 0.0, 1.0, 180.0) == 0.0
    assert cosine_of_incidence(90.0, 0.0, 1.0, 180.0) < 0
    assert_allclose(beam_on_tilted(800.0, 0.0, 0.0, 0.0, 0.0), 800.0)
    assert np.isnan(relative_beam_error([90.0, 100.0, np.nan], 0.0, 1.0, 0.0)).all()
    assert relative_beam_error(0.0, 0.0, 0.0, 0.0) == 0.0


def test_facing_the_sun_gets_all_of_it():
    """A surface tilted by the zenith angle toward the sun receives the beam itself."""
    assert_allclose(cosine_of_incidence([20.0, 89.0], 140.0, [20.0, 89.0], 140.0), 1.0)


def test_half_width():
    """0.742 W m-2 for 0.1 degree at Z = 30 and B = 850 (hand-worked); 0 at night and overhead."""
    assert abs(level_half_width(850.0, 30.0, 0.1) - 0.742) <= 5e-4
    assert_allclose(level_half_width([850.0, 850.0, -3.0], [0.0, 95.0, 30.0], 0.1), 0.0, atol=1e-12)
    assert np.isnan(level_half_width(np.nan, 30.0, 0.1))
