"""Budget inputs from ISO classes."""

from __future__ import annotations

import pytest

from sunledger.physics.uncertainty_inputs import pyranometer_limits, pyrheliometer_limits


def test_pyranometer_class_a():
    """Class limits in, zero offset a included while the thermal offset is not corrected."""
    limits = pyranometer_limits("A", 1.2)
    assert (limits.calibration, limits.non_stability, limits.non_linearity) == (1.2, 0.8, 0.5)
    assert (limits.temperature, limits.directional) == (1, 10)
    assert (limits.zero_offset_a, limits.zero_offset_b) == (7, 2)
    assert (limits.thermal_sensitivity, limits.logger) == (0.0, 1.0)


def test_corrected_thermal_offset_replaces_zero_offset_a():
    """With a correction, its own uncertainty enters and the class limit does not."""
    limits = pyranometer_limits("A", 1.2, thermal_sensitivity=0.4)
    assert limits.zero_offset_a == 0.0
    assert limits.thermal_sensitivity == 0.4
    assert limits.thermal_sensitivity_half_width == 10.0
    assert limits.net_longwave_half_width == 5.0


def test_pyrheliometer_class_a():
    limits = pyrheliometer_limits("A", 0.8)
    assert (limits.non_stability, limits.non_linearity, limits.temperature) == (0.5, 0.2, 0.5)
    assert limits.zero_offset == 1


def test_unknown_classes():
    with pytest.raises(ValueError, match=r"iso_class must be one of A, B, C \(got 'AA'\)"):
        pyranometer_limits("AA", 1.0)
    with pytest.raises(ValueError, match=r"iso_class must be one of AA, A, B, C \(got 'D'\)"):
        pyrheliometer_limits("D", 1.0)
