"""Agreement of the components: sums worked by hand and the edges of the windows."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.closure import (
    closure_ratio,
    closure_residual,
    closure_test,
    component_sum,
    diffuse_ratio_test,
)


def test_component_sum():
    """100 + 800 cos 60° = 500 (definition, ISO 9060 and WMO-No. 8)."""
    assert_allclose(component_sum(100.0, 800.0, np.cos(np.radians(60.0))), 500.0)
    assert_allclose(closure_residual(510.0, 100.0, 800.0, 0.5), 10.0)
    assert_allclose(closure_ratio([510.0], [100.0], [800.0], [0.5]), [1.02])


def test_below_the_horizon_the_beam_counts_nothing():
    """Negative cosines count as 0, also with an over-range beam; a missing beam stays missing."""
    got = component_sum(5.0, [700.0, np.inf, np.nan], [-0.2, 0.0, 0.0])
    assert_array_equal(got, [5.0, 5.0, np.nan])


def test_ratio_without_light():
    """No ratio for a sum that is zero, negative, infinite or missing."""
    got = closure_ratio(10.0, [0.0, -5.0, np.inf, np.nan], 0.0, 0.5)
    assert np.isnan(got).all()


@pytest.mark.parametrize(
    ("zenith", "ratio", "tested", "failed"),
    [
        (60.0, 1.0799, True, False),
        (60.0, 1.0801, True, True),
        (60.0, 0.9201, True, False),
        (60.0, 0.9199, True, True),
        (75.0, 1.1499, True, False),  # 75 degree belongs to the window of low sun
        (74.999, 1.1499, True, True),
        (80.0, 1.1501, True, True),
        (80.0, 0.8501, True, False),
        (80.0, 0.8499, True, True),
        (92.9, 1.5, True, True),
        (93.0, 1.5, False, False),
        (np.nan, 1.5, False, False),
    ],
)
def test_closure_windows(zenith, ratio, tested, failed):
    """Pass and fail on each side of every edge, for a sum of 200 W m-2 of diffuse."""
    got = closure_test([200.0 * ratio], [200.0], [0.0], [zenith])
    assert (got[0][0], got[1][0]) == (tested, failed)


def test_closure_needs_light():
    """A sum of 50 is not tested, a little more is."""
    tested, failed = closure_test([100.0, 100.0], [50.0, 50.1], [0.0, 0.0], [60.0, 60.0])
    assert_array_equal(tested, [False, True])
    assert_array_equal(failed, [False, True])


def test_closure_uses_the_sum_not_global():
    """A dead global with bright components is tested and fails."""
    tested, failed = closure_test([0.0], [100.0], [800.0], [60.0])
    assert tested.all()
    assert failed.all()


def test_closure_gaps():
    """Any missing component: not tested."""
    nan = np.nan
    tested, failed = closure_test(
        [nan, 500.0, 500.0], [100.0, nan, 100.0], [800.0, 800.0, nan], [60.0] * 3
    )
    assert not tested.any()
    assert not failed.any()


def test_closure_over_range_global_fails():
    tested, failed = closure_test([np.inf], [100.0], [800.0], [60.0])
    assert tested.all()
    assert failed.all()


@pytest.mark.parametrize(
    ("zenith", "ratio", "failed"),
    [
        (60.0, 1.049, False),
        (60.0, 1.051, True),
        (75.0, 1.099, False),
        (80.0, 1.101, True),
        (60.0, -0.2, False),
    ],
)
def test_diffuse_ratio(zenith, ratio, failed):
    """Diffuse must not exceed global by more than 5 % (10 % at low sun)."""
    got = diffuse_ratio_test([200.0], [200.0 * ratio], [zenith])
    assert (got[0][0], got[1][0]) == (True, failed)


def test_diffuse_ratio_needs_light_and_values():
    tested, failed = diffuse_ratio_test(
        [50.0, np.nan, 200.0, 200.0], [90.0, 90.0, np.nan, 300.0], [60.0] * 4
    )
    assert_array_equal(tested, [False, False, False, True])
    assert_array_equal(failed, [False, False, False, True])


def test_windows_are_settable():
    """A station's own windows take the place of the defaults."""
    from sunledger.physics.limits import RatioWindow

    own = (RatioWindow(0.0, 80.0, 0.99, 1.01),)
    tested, failed = closure_test([204.0, 204.0], [200.0, 200.0], [0.0, 0.0], [60.0, 85.0], own)
    assert_array_equal(tested, [True, False])
    assert_array_equal(failed, [True, False])
