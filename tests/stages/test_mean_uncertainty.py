"""Uncertainty of means: which minutes enter, worked by hand."""

from __future__ import annotations

import numpy as np
from numpy.testing import assert_allclose

from sunledger.physics.segments import Segments, Selection
from sunledger.stages.mean_uncertainty import mean_uncertainty, uncertainty_sums

NAN = np.nan


def test_mean_of_those_that_count() -> None:
    """Fully correlated, the careful side; a minute without one does not count."""
    chosen = Selection(np.array([1, 1, 1, 1, 0, 1], bool))
    values = np.array([2.0, NAN, 4.0, 8.0, 50.0, 3.0])
    got = uncertainty_sums(values, chosen, Segments(np.array([0, 4, 6])))
    assert got["uncertainty_count"].tolist() == [3, 1]
    assert_allclose(mean_uncertainty(*(got[n] for n in got)), [14 / 3, 3.0])


def test_without_gaps_the_count_is_that_of_the_quantity() -> None:
    """The quick way gives what the careful one gives."""
    chosen = Selection(np.array([1, 0, 1, 1], bool))
    got = uncertainty_sums(np.array([1.0, NAN, 3.0, 5.0]), chosen, Segments(np.array([0, 2, 4])))
    assert got["uncertainty_count"].tolist() == [1, 2]
    assert_allclose(mean_uncertainty(got["uncertainty"], got["uncertainty_count"]), [1.0, 4.0])


def test_nothing_known() -> None:
    """No uncertainty in, none out; none of a period without a minute."""
    segments = Segments(np.array([0, 2]))
    assert uncertainty_sums(None, Selection(np.ones(2, bool)), segments) == {}
    assert np.isnan(mean_uncertainty(np.zeros(1), np.zeros(1, np.int64))).all()
