"""The sun for a series against the algorithm at every instant."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.sun import cosine_zenith, extraterrestrial_normal, mean_cosine_zenith
from sunledger.physics.sun_series import KNOT, LONGEST_MIDDLE, Site, sun_series

SITE = Site(46.9, 10.2, 2000.0)
START = 1924992000  # 2031-01-01


@pytest.mark.parametrize("interval", [60, 120, 180, 300, 600])
@pytest.mark.parametrize("site", [SITE, Site(0.5, -60.0, 0.0), Site(-89.9, 20.0, 2800.0)])
def test_against_the_algorithm(interval, site):
    """At the true middles, whether the interval fits between the knots or not."""
    size = 40 * 86400 // interval
    residual = np.random.default_rng(1).uniform(-0.49, 0.49, size) * interval
    got = sun_series(START, interval, residual, site)
    middles = START + interval * (np.arange(size) + 0.5) + residual
    cosine, distance = cosine_zenith(middles, *site)
    assert_allclose(got.cosine, np.maximum(cosine, 0.0), rtol=0, atol=1e-11)
    outside = extraterrestrial_normal(distance) * got.cosine
    assert_allclose(got.horizontal, outside, rtol=1e-9)


def test_a_noon_that_grazes_the_horizon_between_two_knots():
    """Both knots have the sun below the horizon; it is up for some minutes of the polar winter."""
    seen = False
    for latitude in np.arange(67.0, 68.0, 0.05):
        for longitude in np.arange(0.0, 5.0, 0.5):
            site = Site(latitude, longitude, 0.0)
            got = sun_series(START, 60, np.zeros(1440), site)
            expected = np.maximum(cosine_zenith(START + 30 + 60 * np.arange(1440), *site)[0], 0.0)
            assert_allclose(got.cosine, expected, rtol=0, atol=1e-11)
            seen |= 0 < np.count_nonzero(expected) < KNOT / 60
    assert seen


def test_against_pvlib():
    """A day by the published algorithm."""
    got = sun_series(START, 60, np.zeros(1440), SITE)
    stamps = pd.to_datetime(START + 30 + 60 * np.arange(1440), unit="s", utc=True)
    told = pvlib.solarposition.get_solarposition(stamps, *SITE)
    expected = np.cos(np.radians(told["zenith"].to_numpy())).clip(min=0.0)
    assert_allclose(got.cosine, expected, atol=2e-5)


@pytest.mark.parametrize("first", [0, 1, 7, 719, 1440])
def test_the_cut_leaves_no_trace(first):
    """Bit for bit, also where the piece begins between two knots."""
    residual = np.random.default_rng(2).uniform(-20, 20, 4000)
    whole = sun_series(START, 60, residual, SITE)
    part = sun_series(START + 60 * first, 60, residual[first:3000], SITE)
    assert_array_equal(part.cosine, whole.cosine[first:3000])
    assert_array_equal(part.horizontal, whole.horizontal[first:3000])


def test_long_intervals_have_the_mean_over_the_interval():
    """At sunrise the middle of an hour says nothing."""
    assert LONGEST_MIDDLE < 3600
    got = sun_series(START, 3600, np.zeros(24), SITE)
    expected = mean_cosine_zenith(START + 3600.0 * np.arange(24), 3600, *SITE)
    assert_allclose(got.cosine, expected, rtol=1e-12)
