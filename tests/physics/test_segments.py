"""Sums over segments: by plain loops, and the same bits wherever a series is cut."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.segments import Segments, Selection

NAN = np.nan


def uneven(size=400, seed=1):
    """Segments of 1 to 40 samples."""
    inner = np.cumsum(np.random.default_rng(seed).integers(1, 40, size))
    return Segments(np.concatenate([[0], inner[inner < size], [size]]))


def pieces(segments, values):
    """Samples of each segment."""
    return [values[a:b] for a, b in zip(segments.edges[:-1], segments.edges[1:], strict=True)]


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_against_plain_loops(kind):
    """Sums, extremes and counts."""
    segments = uneven()
    values = np.random.default_rng(2).gamma(2.0, 200.0, 400).astype(kind)
    mask = values > 300.0
    parts = pieces(segments, values)
    assert_allclose(segments.sums(values), [p.sum() for p in parts], rtol=1e-6)
    assert_array_equal(segments.lowest(values), [p.min() for p in parts])
    assert_array_equal(segments.highest(values), [p.max() for p in parts])
    assert_array_equal(segments.counts(mask), [p.sum() for p in pieces(segments, mask)])
    assert_array_equal(segments.widths, [p.size for p in parts])


@pytest.mark.parametrize("width", [3, 15, 17, 250, 255, 256, 300, 1440])
def test_counts_of_long_segments(width):
    """A byte holds 255: longer segments are counted as well."""
    mask = np.ones(4 * width, bool)
    mask[0] = False
    got = Segments(np.arange(0, 4 * width + 1, width)).counts(mask)
    assert got.tolist() == [width - 1, width, width, width]


def test_counts_of_nothing_and_of_everything():
    """Both are answered without adding."""
    segments = Segments(np.array([0, 2, 5]))
    assert segments.counts(np.zeros(5, bool)).tolist() == [0, 0]
    assert segments.counts(np.ones(5, bool)).tolist() == [2, 3]


def test_a_segment_does_not_depend_on_the_others():
    """Bit for bit, alone or among others, and behind samples that belong to none."""
    segments = uneven(3000, 3)
    values = np.random.default_rng(4).gamma(2.0, 200.0, 3000) / 3.0
    whole = segments.sums(values)
    for number in (0, 7, whole.size - 1):
        first, past = segments.edges[number], segments.edges[number + 1]
        alone = Segments(np.array([0, past - first]))
        assert alone.sums(values[first:past].copy())[0] == whole[number]
        assert alone.sums(values[first:])[0] == whole[number]


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_selection_blanks_whatever_does_not_count(kind):
    """NaN, infinities and large numbers leave no trace; a NaN that counts stays."""
    values = np.array([1.5, NAN, -np.inf, 900.0, NAN, -2.25], kind)
    chosen = Selection(np.array([1, 0, 0, 0, 1, 1], bool))
    assert_array_equal(chosen.zeroed(values), [1.5, 0, 0, 0, NAN, -2.25])
    assert chosen.zeroed(values).dtype == np.float64
    assert_array_equal(chosen.filled(values, np.inf), [1.5, np.inf, np.inf, np.inf, NAN, -2.25])
    assert_array_equal(chosen.filled(values, -np.inf)[1:4], [-np.inf] * 3)


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_selection_takes_others_bit_for_bit(kind):
    """NaN, infinities and the sign of zero pass from either side."""
    one, two = np.array([1.5, NAN, -0.0, 7.0], kind), np.array([NAN, -np.inf, 3.0, -0.0], kind)
    got = Selection(np.array([1, 0, 1, 0], bool)).either(one, two)
    assert got.tobytes() == np.array([1.5, -np.inf, -0.0, -0.0], kind).tobytes()


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_a_sum_hangs_on_its_segment_alone(kind):
    """The same bits in a table, by itself and among segments of other widths."""
    random, segments = np.random.default_rng(7), uneven(3000, 8)
    table, weights = random.gamma(2.0, 200.0, (3, 3000)).astype(kind), random.random(3000)
    weights = (weights < 0.9).astype(kind)
    sums, products = segments.sums(table), segments.products(table, weights)
    for row, one in enumerate(table):
        for number, (part, w) in enumerate(
            zip(pieces(segments, one), pieces(segments, weights), strict=True)
        ):
            alone = Segments(np.array([0, part.size]))
            assert sums[row, number] == alone.sums(part)[0]
            assert products[row, number] == alone.products(part, w)[0]
            assert_allclose(products[row, number], np.dot(part, w), rtol=1e-5)


@pytest.mark.parametrize("edges", [[0], [1, 2], [0, 2, 2], [0, 3, 1]])
def test_edges_that_are_none(edges):
    """They rise from 0."""
    with pytest.raises(ValueError, match="edges must rise strictly from 0"):
        Segments(np.array(edges))


def test_which_segments_make_up_longer_ones():
    """By hand; None where an edge lies within a segment, or beyond the last."""
    quarters = Segments(np.array([0, 15, 29, 45, 60, 75]))
    assert quarters.groups(Segments(np.array([0, 29, 75]))).edges.tolist() == [0, 2, 5]
    assert quarters.groups(quarters).widths.tolist() == [1] * 5
    assert quarters.groups(Segments(np.array([0, 30, 75]))) is None
    assert quarters.groups(Segments(np.array([0, 29, 90]))) is None


@pytest.mark.parametrize("width", [1, 2, 3, 4, 5])
def test_short_rows_among_others_and_alone(width):
    """The same bits whether all segments are as short or not, whole numbers stay whole."""
    values = np.random.default_rng(6).normal(0.0, 1e3, (3, 8 * width + 7))
    uneven = Segments(np.append(np.arange(0, 8 * width + 1, width), 8 * width + 7))
    even = Segments(np.arange(0, 8 * width + 1, width))
    got = even.sums(values)
    assert_array_equal(uneven.sums(values)[:, :-1], got)
    expected = values[:, : 8 * width].reshape(3, 8, width).sum(axis=-1)
    assert_allclose(got, expected, rtol=1e-12, atol=1e-10)
    assert not np.shares_memory(got, values)
    assert even.sums(values.astype(np.int64)).dtype == np.int64


def test_several_masks_of_which_none_is_true():
    """A row each."""
    segments = Segments(np.array([0, 3, 5]))
    assert segments.counts(np.zeros((2, 5), bool)).tolist() == [[0, 0], [0, 0]]
    assert segments.counts(np.ones((2, 5), bool)).tolist() == [[3, 2], [3, 2]]
