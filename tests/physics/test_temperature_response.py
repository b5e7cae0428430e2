"""Temperature response from a certificate's table."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.temperature_response import relative_response

TABLE = [[-20.0, -1.0], [0.0, -0.2], [20.0, 0.0], [40.0, 0.6]]


def test_points_of_the_table_are_met() -> None:
    """At a tabulated temperature the factor is the tabulated one."""
    celsius = np.array([-20.0, 0.0, 20.0, 40.0])
    factor, outside = relative_response(celsius + 273.15, TABLE)
    assert_allclose(factor, [0.99, 0.998, 1.0, 1.006], rtol=0, atol=1e-14)
    assert not outside.any()


def test_linear_between_points() -> None:
    """Half way between 20 and 40 degC half the deviation; by hand -0.6 % at -10 degC."""
    factor, _ = relative_response(np.array([30.0, -10.0]) + 273.15, TABLE)
    assert_allclose(factor, [1.003, 0.994], rtol=0, atol=1e-14)


def test_edge_is_held_and_told() -> None:
    """Outside the table the value at its edge is taken, and the reading is marked."""
    factor, outside = relative_response(np.array([-35.0, 55.0, 39.9]) + 273.15, TABLE)
    assert_allclose(factor[:2], [0.99, 1.006], rtol=0, atol=1e-14)
    assert_array_equal(outside, [True, True, False])


def test_missing_temperature_gives_no_factor() -> None:
    """NaN stays NaN and is not outside."""
    factor, outside = relative_response(np.array([np.nan, 293.15]), TABLE)
    assert_array_equal(np.isnan(factor), [True, False])
    assert not outside.any()


def test_scalar() -> None:
    """A single temperature works as well."""
    factor, outside = relative_response(293.15, TABLE)
    assert float(factor) == 1.0
    assert not outside


def test_table_must_rise() -> None:
    """A table out of order is refused, and so is a temperature given twice."""
    for celsius in ((20.0, 0.0), (20.0, 20.0)):
        with pytest.raises(ValueError, match="temperatures of the table must rise"):
            relative_response(280.0, [[t, 0.0] for t in celsius])
