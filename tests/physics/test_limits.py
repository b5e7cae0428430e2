"""Limits against values worked by hand from the quoted formulae."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from sunledger.physics.limits import (
    CLOSURE_WINDOWS,
    DIFFUSE_RATIO_WINDOWS,
    LIMITS,
    Limit,
    bounds_test,
    cosine_zenith,
    limit_test,
    longwave_down_air_bounds,
    longwave_pair_bounds,
    longwave_up_air_bounds,
    upper_limit,
)

COLUMNS = [
    ("physically_possible", "global"),
    ("extremely_rare", "global"),
    ("physically_possible", "diffuse"),
    ("extremely_rare", "diffuse"),
    ("extremely_rare", "direct"),
]
HAND_WORKED = {  # at 1361 W m-2, after C. N. Long and E. G. Dutton, BSRN recommended QC tests V2.0
    0: (2141.5, 1683.2, 1343.0, 1050.8, 1303.0),
    30: (1817.9, 1424.3, 1138.0, 888.9, 1266.3),
    60: (988.6, 760.9, 612.8, 474.3, 1135.6),
    75: (503.2, 372.6, 305.4, 231.6, 996.7),
    85: (209.2, 137.4, 119.2, 84.6, 803.7),
}


def test_sunlit_rows_are_full():
    assert {len(row) for row in HAND_WORKED.values()} == {len(COLUMNS)}


@pytest.mark.parametrize("zenith", HAND_WORKED)
def test_upper_limits(zenith):
    """To half a unit of the first decimal."""
    for (level, quantity), expected in zip(COLUMNS, HAND_WORKED[zenith], strict=True):
        got = upper_limit(LIMITS[level][quantity], 1361.0, cosine_zenith(zenith))
        assert abs(got - expected) <= 0.05 + 1e-6, (level, quantity)


def test_limits_not_in_the_table():
    """Direct possible is the extraterrestrial beam; reflected (from memory) at the zenith."""
    possible, rare = LIMITS["physically_possible"], LIMITS["extremely_rare"]
    assert_array_equal(upper_limit(possible["direct"], 1361.0, [0.0, 0.5, 1.0]), 1361.0)
    assert abs(upper_limit(possible["reflected"], 1000.0, 1.0) - 1250.0) < 1e-9
    assert abs(upper_limit(rare["reflected"], 1000.0, 1.0) - 1050.0) < 1e-9
    assert [possible[q].minimum for q in ("global", "longwave_down")] == [-4.0, 40.0]
    assert [rare[q].minimum for q in ("direct", "longwave_up")] == [-2.0, 60.0]
    ends = [level[q].offset for level in (possible, rare) for q in ("longwave_down", "longwave_up")]
    assert ends == [700.0, 900.0, 500.0, 700.0]


def test_levels_are_nested():
    """Extremely rare lies within physically possible, for every quantity and sun."""
    mu = np.linspace(0.01, 1.0, 100)  # reflected: the same offset at both levels in the dark
    for quantity, possible in LIMITS["physically_possible"].items():
        rare = LIMITS["extremely_rare"][quantity]
        assert rare.minimum > possible.minimum
        assert np.all(upper_limit(rare, 1361.0, mu) < upper_limit(possible, 1361.0, mu))


def test_every_limit_says_where_it_is_from():
    for level in LIMITS.values():
        for quantity, limit in level.items():
            assert "Long & Dutton" in limit.source
            assert ("memory" in limit.source) == (quantity not in ("global", "diffuse", "direct"))


def test_defaults_cannot_be_changed():
    with pytest.raises(TypeError):
        LIMITS["extremely_rare"]["global"] = Limit(0, 0, 0, 0)  # type: ignore[index]


def test_limit_test_masks():
    """Bounds pass, beyond them fails, NaN is not tested, over-range fails."""
    limit = Limit(-4.0, 1.0, 1.0, 0.0)
    values = [-4.0, -4.1, 500.0, 500.1, np.nan, np.inf, -np.inf]
    tested, failed = limit_test(values, limit, 1000.0, np.full(7, 0.5))
    assert_array_equal(tested, [True, True, True, True, False, True, True])
    assert_array_equal(failed, [False, True, False, True, False, True, True])


def test_limit_needs_the_sun_only_where_the_sun_matters():
    """Without a sun position shortwave is not tested, longwave is."""
    tested, _ = limit_test([300.0], LIMITS["extremely_rare"]["global"], np.nan, [0.5])
    assert not tested.any()
    tested, failed = limit_test(
        [600.0], LIMITS["extremely_rare"]["longwave_down"], np.nan, [np.nan]
    )
    assert tested.all()
    assert failed.all()


def test_night():
    """Below the horizon the limit is the constant, negative cosines count as 0."""
    assert_array_equal(upper_limit(LIMITS["extremely_rare"]["global"], 1361.0, [0.0, -0.5]), 50.0)
    assert_array_equal(upper_limit(LIMITS["extremely_rare"]["direct"], 1361.0, [0.0, -0.5]), 10.0)
    assert_array_equal(cosine_zenith([90.0, 91.0, 180.0]), 0.0)
    assert cosine_zenith(0.0) == 1.0
    assert np.isnan(cosine_zenith(np.nan))


@pytest.mark.parametrize(("kelvin", "low", "high"), [(273.15, 126.3, 340.7), (300.0, 183.7, 484.3)])
def test_longwave_down_against_air(kelvin, low, high):
    """Hand-worked to half a unit of the first decimal."""
    bounds = longwave_down_air_bounds(kelvin)
    assert abs(bounds[0] - low) <= 0.05
    assert abs(bounds[1] - high) <= 0.05


def test_longwave_down_with_own_factor():
    """0.75 of the emission, the lower bound of the BSRN manual (2005) p. 74: 236.7 and 344.5."""
    lower, _ = longwave_down_air_bounds([273.15, 300.0], lower_factor=0.75)
    assert_array_equal(np.round(lower, 1), [236.7, 344.5])


def test_longwave_up_and_pair():
    """sigma (T - 15)^4 and sigma (T + 25)^4; Lu - 300 to Lu + 25."""
    lower, upper = longwave_up_air_bounds(288.15)
    assert abs(lower - 5.670374419e-8 * 273.15**4) < 1e-9
    assert abs(upper - 5.670374419e-8 * 313.15**4) < 1e-9
    assert_array_equal(longwave_pair_bounds([400.0, np.nan]), [[100.0, np.nan], [425.0, np.nan]])


def test_bounds_test_with_missing_bounds():
    tested, failed = bounds_test([1.0, 1.0, 1.0], [2.0, np.nan, 0.0], [3.0, 3.0, 3.0])
    assert_array_equal(tested, [True, False, True])
    assert_array_equal(failed, [True, False, False])


def test_ratio_windows():
    """0.92 to 1.08 below 75 degree, 0.85 to 1.15 from there to 93; 1.05 and 1.10 for diffuse."""
    assert [(w.zenith_to, w.lower, w.upper) for w in CLOSURE_WINDOWS] == [
        (75.0, 0.92, 1.08),
        (93.0, 0.85, 1.15),
    ]
    assert [(w.zenith_to, w.upper) for w in DIFFUSE_RATIO_WINDOWS] == [(75.0, 1.05), (93.0, 1.10)]
    for windows in (CLOSURE_WINDOWS, DIFFUSE_RATIO_WINDOWS):
        assert windows[0].zenith_to == windows[1].zenith_from


@pytest.mark.parametrize(
    ("altitude", "pressure"), [(0.0, 1013.25), (1000.0, 898.74), (3000.0, 701.08)]
)
def test_standard_atmosphere(altitude: float, pressure: float) -> None:
    """ISO 2533:1975 table of pressure by altitude, from memory, in hectopascal, last digit."""
    from sunledger.physics.limits import standard_pressure

    assert standard_pressure(altitude) / 100.0 == pytest.approx(pressure, abs=0.02)
