"""Non-linearity: by hand, against ISO 9060's way of stating it, and there and back."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.nonlinearity import linearised, nonlinear_reading

CLASS_A = [[100.0, 0.5], [500.0, 0.0], [1000.0, -0.5]]
"""ISO 9060:2018, class A: within 0.5 % of the response at 500 W m-2 from 100 to 1000 W m-2."""


def test_the_limit_of_class_a() -> None:
    """1000 W m-2 read 0.5 % low, 100 W m-2 0.5 % high, 500 W m-2 right."""
    truth, outside = linearised([995.0, 100.5, 500.0], CLASS_A)
    assert_allclose(truth, [1000.0, 100.0, 500.0], rtol=0, atol=1e-9)
    assert not outside.any()


@pytest.mark.parametrize("table", [CLASS_A, [[0.0, -5.0], [700.0, 5.0], [1400.0, -5.0]]])
def test_there_and_back(table: list[list[float]]) -> None:
    """The worst table that configuration accepts too."""
    truth = np.linspace(-10.0, 1600.0, 3221)
    assert_allclose(linearised(nonlinear_reading(truth, table), table)[0], truth, atol=1e-9)


def test_beyond_the_table() -> None:
    """The value at the edge; marked above, not in the dark."""
    truth, outside = linearised([1194.0, 10.05, -2.01], CLASS_A)
    assert_allclose(truth, [1200.0, 10.0, -2.0], rtol=1e-12)
    assert_array_equal(outside, [True, False, False])


def test_nan_and_scalar() -> None:
    assert np.isnan(linearised(np.nan, CLASS_A)[0])
    assert linearised(500.0, CLASS_A)[0] == pytest.approx(500.0, abs=1e-12)


def test_table_must_rise() -> None:
    with pytest.raises(ValueError, match="irradiances of the table must rise"):
        linearised(1.0, [[500.0, 0.0], [100.0, 0.5]])
