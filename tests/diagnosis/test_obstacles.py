"""Shadows that return."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sunledger.diagnosis.obstacles import (
    below_profile,
    returning_shadows,
    suggested_skyline,
    sun_path,
)
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.subject import subject_of
from sunledger.physics.sun import solar_position


@pytest.fixture(scope="module")
def behind_a_mast(dry_month: Components) -> Components:
    """A wall from 66 to 78 degrees, up to 15 degrees."""
    sun = solar_position(
        dry_month.middle, dry_month.latitude, dry_month.longitude, dry_month.altitude
    )
    hidden = (sun.azimuth >= 66.0) & (sun.azimuth < 78.0) & (sun.zenith > 75.0)
    return replace(dry_month, dni=np.where(hidden, 0.5, dry_month.dni))


def test_a_wall_is_found_where_it_stands(behind_a_mast: Components) -> None:
    """Its azimuth within a cell and its upper edge within a degree."""
    path = sun_path(behind_a_mast)
    subject = subject_of(behind_a_mast, "kpn", "2031-08")
    (found,) = returning_shadows(subject, path, below_profile(path, ()), behind_a_mast.middle.size)
    assert (found.name, found.target) == ("returning_shadow", "azimuth 66 to 75")
    assert found.size == pytest.approx(15.0, abs=1.0)
    assert found.evidence["azimuth_from"] >= 66.0 - 3.0
    assert found.evidence["azimuth_to"] <= 78.0 + 3.0
    assert found.effect < 0
    assert "never at the sun" in found.action


def test_the_suggested_skyline_explains_it(behind_a_mast: Components) -> None:
    """With the suggestion in the station's file nothing is left to find."""
    path = sun_path(behind_a_mast)
    skyline = suggested_skyline(path)
    assert skyline
    assert all(66.0 <= azimuth <= 78.0 for azimuth, _ in skyline)
    assert max(top for _, top in skyline) == pytest.approx(15.0, abs=1.0)
    wall = ((65.9, 0.0), (66.0, 15.0), (78.0, 15.0), (78.1, 0.0))
    subject = subject_of(behind_a_mast, "kpn", "2031-08")
    known = below_profile(path, wall)
    assert returning_shadows(subject, path, known, behind_a_mast.middle.size) == ()


def test_clouds_are_no_obstacles(dry_month: Components, published_month: Components) -> None:
    """Neither generated ones nor real ones."""
    for month in (dry_month, published_month):
        path = sun_path(month)
        assert not path.returning.any()
        assert suggested_skyline(path) == ()
