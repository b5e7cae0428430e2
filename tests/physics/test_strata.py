"""Strata against the samples themselves."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from sunledger.physics.segments import Segments, Selection
from sunledger.physics.strata import Stratum


def uneven(size=400, seed=1):
    """Segments of 1 to 40 samples."""
    inner = np.cumsum(np.random.default_rng(seed).integers(1, 40, size))
    return Segments(np.concatenate([[0], inner[inner < size], [size]]))


def pieces(segments, values):
    """Samples of each segment."""
    return [values[a:b] for a, b in zip(segments.edges[:-1], segments.edges[1:], strict=True)]


@pytest.mark.parametrize("inside", ["runs", "scattered", "all", "none"])
def test_a_stratum_against_the_samples_themselves(inside):
    """The same bits as from all samples of the stratum, however it cuts the segments."""
    segments, random = uneven(3000, 5), np.random.default_rng(6)
    there = {
        "runs": np.arange(3000) % 700 < 300,
        "scattered": random.random(3000) < 0.5,
        "all": np.ones(3000, bool),
        "none": np.zeros(3000, bool),
    }[inside]
    valid = random.random(3000) < 0.9
    values = Selection(valid).zeroed(random.gamma(2.0, 200.0, 3000))
    part = Stratum(segments, there)
    assert_array_equal(part.possible, segments.counts(there))
    got = part.counts(part.cut(valid), segments.counts(valid))
    assert_array_equal(got, [p.sum() for p in pieces(segments, valid & there)])
    got = part.sums(part.cut(values), segments.sums(values))
    expected = segments.sums(np.where(there, values, 0.0))
    assert_array_equal(got, expected)
    several = np.stack([values, 3.0 * values])
    cut = np.stack([part.cut(one) for one in several])
    assert_array_equal(part.sums(cut, segments.sums(several))[0], expected)
    weights = valid.astype(float)
    expected = segments.products(values, np.where(there, weights, 0.0))
    got = part.products(part.cut(values), part.cut(weights), segments.products(values, weights))
    assert_array_equal(got, expected)
