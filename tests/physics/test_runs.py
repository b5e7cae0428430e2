"""Run lengths, worked by hand and against a plain loop."""

from __future__ import annotations

from itertools import groupby

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from sunledger.physics.runs import constant_run_length, run_length

NAN = np.nan


def test_run_length_by_hand():
    got = run_length([True, True, False, True, False, False, True, True, True])
    assert_array_equal(got, [2, 2, 0, 1, 0, 0, 3, 3, 3])
    assert got.dtype == np.int64


def test_constant_run_length_by_hand():
    """A gap ends a run and belongs to none, even between equal values."""
    got = constant_run_length([5.0, 5.0, NAN, 5.0, 6.0, 6.0, 6.0, NAN, NAN, 0.0])
    assert_array_equal(got, [2, 2, 0, 1, 3, 3, 3, 0, 0, 1])


def test_a_gap_is_not_a_zero():
    """NaN next to 0 must not join the run of zeros; infinity is a gap as well."""
    assert_array_equal(constant_run_length([0.0, NAN, 0.0, np.inf, np.inf]), [1, 0, 1, 0, 0])


@pytest.mark.parametrize("resolution", [0.0, 0.1, 1.0])
def test_agrees_with_a_plain_loop(resolution):
    """Random values with gaps against itertools, at several resolutions."""
    rng = np.random.default_rng(1)
    values = np.round(rng.uniform(0, 2, 2000), 1)
    values[rng.random(2000) < 0.1] = NAN
    keys = [
        None if np.isnan(v) else (round(v / resolution) if resolution else v)
        for v in values.tolist()
    ]
    expected = []
    for key, group in groupby(keys):
        length = len(list(group))
        expected += [0 if key is None else length] * length
    assert_array_equal(constant_run_length(values, resolution), expected)


def test_resolution_joins_rounding_noise_but_not_a_ramp():
    """Noise in the last bits is one run; steps of one resolution are not."""
    noisy = 123.4 + np.array([0.0, 1e-12, -1e-12, 0.0])
    assert_array_equal(constant_run_length(noisy, 0.1), 4)
    assert constant_run_length(noisy).max() < 4
    assert_array_equal(constant_run_length(np.arange(10) * 0.1, 0.1), 1)


def test_a_slow_ramp_is_not_one_run():
    """100 samples over ten steps give runs of about ten, though neighbours differ by 0.01."""
    assert constant_run_length(np.arange(100) * 0.01, 0.1).max() <= 11


def test_float32_and_empty():
    assert_array_equal(constant_run_length(np.float32([0.1, 0.1, 0.2]), 0.1), [2, 2, 1])
    assert constant_run_length([]).shape == (0,)
    assert run_length([]).shape == (0,)
    assert_array_equal(run_length([True]), [1])


def test_refusals():
    with pytest.raises(ValueError, match=r"one dimension, time \(got 2\)"):
        run_length(np.zeros((2, 2), bool))
    with pytest.raises(ValueError, match=r"one dimension, time \(got 0\)"):
        constant_run_length(1.0)
    with pytest.raises(ValueError, match=r"resolution must not be negative \(got -1\)"):
        constant_run_length([1.0], -1)
