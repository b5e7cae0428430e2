"""Air mass against the published fit and its limits."""

from __future__ import annotations

import numpy as np
from numpy.testing import assert_allclose

from sunledger.physics.air_mass import absolute_air_mass, relative_air_mass


def test_published_values(published, half_unit):
    """The fit to half a unit of the last printed digit."""
    for row in published("air_mass_fit.csv"):
        miss = abs(float(relative_air_mass(float(row["zenith_degree"]))) - float(row["air_mass"]))
        assert miss <= half_unit(row["air_mass"]) * 1.000001, row


def test_printed_table_at_the_horizon():
    """Table of Kasten and Young (1989): 38.0868 at 90 degree (from memory); the fit errs 0.4 %."""
    assert abs(relative_air_mass(90.0) / 38.0868 - 1.0) < 0.005


def test_plane_atmosphere_while_the_sun_is_high():
    """To 60 degree within 0.3 % of 1 / cos z, and monotone to the horizon."""
    zenith = np.linspace(0.0, 60.0, 61)
    assert_allclose(relative_air_mass(zenith) * np.cos(np.radians(zenith)), 1.0, atol=0.003)
    assert np.all(np.diff(relative_air_mass(np.linspace(0.0, 90.0, 901))) > 0)


def test_edges():
    """Below the horizon, below zero and NaN give NaN without a warning; scalars stay scalar."""
    assert np.isnan(relative_air_mass([90.001, 96.08, 97.0, 180.0, -1.0, np.nan])).all()
    assert relative_air_mass(30.0).shape == ()


def test_pressure():
    """In proportion to pressure, 1 at 101325 Pa."""
    zenith = np.array([0.0, 60.0, 80.0])
    assert_allclose(absolute_air_mass(zenith, 101325.0), relative_air_mass(zenith))
    halves = absolute_air_mass(zenith, [50662.5, 101325.0, np.nan])
    assert_allclose(halves[:2], relative_air_mass(zenith[:2]) * [0.5, 1.0])
    assert np.isnan(halves[2])
