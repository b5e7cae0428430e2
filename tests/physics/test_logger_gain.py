"""Gain and zero in series, by Ohm's law and by hand."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sunledger.physics.logger_gain import combined_gain_and_zero, true_signal


def test_two_devices_by_hand() -> None:
    """A multiplexer and a logger behind it: what goes in comes back out of the file."""
    signal = np.array([-50.0, 0.0, 8000.0])
    behind_multiplexer = signal / 1.001 + 3.0
    logged = behind_multiplexer / 0.998 - 2.0
    gain, zero = combined_gain_and_zero([(1.001, 3.0), (0.998, -2.0)])
    assert_allclose(true_signal(logged, gain, zero), signal, rtol=0, atol=1e-9)
    assert gain == pytest.approx(1.001 * 0.998, rel=1e-15)


def test_order_matters() -> None:
    assert combined_gain_and_zero([(1.1, 3.0), (1.0, 0.0)]) != combined_gain_and_zero(
        [(1.0, 0.0), (1.1, 3.0)]
    ) or combined_gain_and_zero([(1.0, 3.0), (1.1, 0.0)])[1] == pytest.approx(3.0 / 1.1)


def test_shunt() -> None:
    """Ohm's law: a shunt of 100.2 ohm taken for 100 ohm reads 0.2 % high."""
    current = 8e-5
    gain, zero = combined_gain_and_zero([(100.0 / 100.2, 0.0)])
    assert true_signal(current * 100.2e6, gain, zero) == pytest.approx(current * 100e6, rel=1e-12)


def test_nothing_on_the_way() -> None:
    assert combined_gain_and_zero([]) == (1.0, 0.0)


def test_gain_must_be_positive() -> None:
    with pytest.raises(ValueError, match=r"gain must be positive \(got -1.0\)"):
        combined_gain_and_zero([(-1.0, 0.0)])
