"""Combination of uncertainties against JCGM 100:2008 and textbook tables."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.gum import (
    combined_standard_uncertainty,
    coverage_factor,
    effective_degrees_of_freedom,
    expanded_uncertainty,
    rectangular,
)


def test_end_gauge(published):
    """JCGM 100:2008 H.1: uc 32 nm, 16 degrees of freedom, k99 2.92, U99 93 nm."""
    rows = published("end_gauge_budget.csv")
    parts = [float(row["contribution_nm"]) for row in rows]
    degrees = [float(row["degrees_of_freedom"]) for row in rows]
    combined = combined_standard_uncertainty(parts)
    assert abs(combined - 32.0) <= 0.5
    effective = effective_degrees_of_freedom(parts, degrees)
    assert np.floor(effective) == 16
    factor = coverage_factor(effective, 0.99)
    assert abs(factor - 2.92) <= 0.005
    # the guide multiplies the rounded 32 nm
    assert abs(expanded_uncertainty(32.0, factor) - 93.0) <= 0.5


def test_end_gauge_inputs():
    """H.1.3.2: 5.8, 3.9 and 6.7 nm make 9.7; H.1.3.4: 0.05 rectangular is 0.029."""
    assert abs(combined_standard_uncertainty([5.8, 3.9, 6.7]) - 9.7) <= 0.05
    assert abs(rectangular(0.05) - 0.029) <= 5e-4
    assert_allclose(rectangular([np.sqrt(3.0), 0.0]), [1.0, 0.0])


@pytest.mark.parametrize(
    ("degrees", "level", "factor"),
    [
        (1, 0.95, 12.71),
        (10, 0.95, 2.23),
        (50, 0.9545, 2.05),
        (np.inf, 0.9545, 2.000),
        (np.inf, 0.99, 2.576),
    ],
)
def test_students_t(degrees, level, factor):
    """JCGM 100:2008 Table G.2, to half a unit of the last printed digit."""
    decimals = 3 if np.isinf(degrees) else 2
    assert abs(coverage_factor(degrees, level) - factor) <= 0.5 * 10.0**-decimals


def test_degrees_of_freedom_are_cut_down():
    """16.7 is used as 16 (G.4.1)."""
    assert coverage_factor(16.7) == coverage_factor(16.0)
    assert_allclose(coverage_factor([np.inf, 16.0]), [1.959964, 2.119905], atol=1e-6)
    assert np.isnan(coverage_factor(np.nan))


def test_arrays_and_missing_values():
    """3 and 4 make 5; one missing contribution makes the whole unknown."""
    got = combined_standard_uncertainty([[3.0, 3.0, np.nan], 4.0])
    assert_array_equal(got, [5.0, 5.0, np.nan])


def test_effective_degrees_limits():
    """One contribution keeps its own; certain ones give infinity; equal ones add."""
    assert_allclose(effective_degrees_of_freedom([2.0], [7.0]), 7.0)
    assert np.isinf(effective_degrees_of_freedom([2.0, 3.0], [np.inf, np.inf]))
    assert_allclose(effective_degrees_of_freedom([[1.0, 2.0], [1.0, 2.0]], [5.0, 5.0]), 10.0)


def test_refusals():
    with pytest.raises(ValueError, match="at least one"):
        combined_standard_uncertainty([])
    with pytest.raises(ValueError, match=r"as many as contributions, 2 \(got 1\)"):
        effective_degrees_of_freedom([1.0, 2.0], [3.0])
    with pytest.raises(ValueError, match="degrees of freedom must be positive"):
        effective_degrees_of_freedom([1.0], [0.0])
    with pytest.raises(ValueError, match=r"level must lie between 0 and 1 \(got 95\)"):
        coverage_factor(10.0, 95)


def test_end_gauge_parts_from_what_was_observed():
    """H.1.3.1 to H.1.3.4; what was observed is from memory, the results are as printed.

    75 nm with k = 3; 13 nm over five observations, 10 nm at 95 % with five degrees of freedom,
    20 nm at three standard deviations; 2e-6 and 1e-6 a degree, 0.2 and 0.5 / sqrt 2 degree.
    """
    assert 75.0 / 3.0 == 25.0
    of_difference = [13.0 / np.sqrt(5), 10.0 / float(coverage_factor(5, 0.95)), 20.0 / 3.0]
    for got, printed in zip(of_difference, (5.8, 3.9, 6.7), strict=True):
        assert abs(got - printed) <= 0.05
    assert abs(combined_standard_uncertainty(of_difference) - 9.7) <= 0.05
    assert abs(rectangular(2e-6) - 1.2e-6) <= 0.5e-7
    assert abs(rectangular(1e-6) - 0.58e-6) <= 0.5e-8
    assert abs(combined_standard_uncertainty([0.2, 0.5 / np.sqrt(2)]) - 0.41) <= 0.005


def test_end_gauge_with_second_order_terms():
    """H.1.7: 11.7 and 1.7 nm beside the first-order parts make 34 nm in place of 32."""
    length = 50.000623e6
    pair = combined_standard_uncertainty([length * 0.58e-6 * 0.41, length * 1.2e-6 * 0.029])
    # the guide takes 50 mm for the length, and rounds each part before it combines them
    assert abs(pair - np.hypot(11.7, 1.7)) <= 0.25
    first_order = [25.0, 9.7, 0.0, 0.0, 2.9, 16.7]
    assert abs(combined_standard_uncertainty([*first_order, 11.7, 1.7]) - 34.0) <= 0.5


def test_end_gauge_intermediate_figures():
    """H.1 from its inputs: c u of each, 25.6 degrees for d, uc, degrees of freedom, U.

    Model l = ls + d - ls (da th + as dt), first order; degrees of freedom 24, 5 and 8 of the
    three parts of d (H.1.6).
    """
    length, expansion, off = 50.000623e6, 11.5e-6, -0.1
    scale = 25.0  # nm
    parts_of_d = [5.8, 3.9, 6.7]
    difference = float(combined_standard_uncertainty(parts_of_d))
    of_expansion = abs(-length * off) * float(rectangular(1.0e-6))
    of_temperature = length * expansion * float(rectangular(0.05))
    assert abs(of_expansion - 2.9) <= 0.05
    assert abs(of_temperature - 16.6) <= 0.05  # printed 16.7 for the rounded 0.029
    assert abs(length * expansion * 0.029 - 16.7) <= 0.05
    degrees_of_d = float(effective_degrees_of_freedom(parts_of_d, [24.0, 5.0, 8.0]))
    # the guide takes the rounded 9.7 for the combined 9.68
    assert abs(degrees_of_d * (9.7 / difference) ** 4 - 25.6) <= 0.05
    parts, degrees = [scale, difference, of_expansion, of_temperature], [18.0, degrees_of_d, 50, 2]
    combined = float(combined_standard_uncertainty(parts))
    effective = float(effective_degrees_of_freedom(parts, degrees))
    # printed with their digits cut off: 1002 nm**2, 16.7
    assert int(combined**2) == 1002
    assert int(10 * effective) == 167
    assert abs(combined - 31.7) <= 0.05
    # with the rounded 32 nm, as the guide has it: 93 nm at 99 %; at 95 % 68 nm (67 unrounded)
    for level, factor, whole, exact in ((0.99, 2.92, 93.0, 92.5), (0.95, 2.12, 68.0, 67.1)):
        known = coverage_factor(effective, level)
        assert abs(known - factor) <= 0.005
        assert abs(expanded_uncertainty(32.0, known) - whole) <= 0.5
        assert abs(expanded_uncertainty(combined, known) - exact) <= 0.05
    result = length + 215.0
    assert abs(result / 1e6 - 50.000838) <= 5e-7
