"""Logger clocks: hand-worked labels, round trips over steps, and the rule of the grid."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.physics.clock import (
    MISSING_TIME,
    ClockSegments,
    choose_one_per_interval,
    logger_error,
    true_from_logger,
    whole_interval_move,
)

INF = np.inf
DAY = 1924992000.0  # 2031-01-01 00:00 UTC

HELD = ClockSegments([-INF], [INF], [45.0], [45.0])
DRIFT = ClockSegments([DAY], [DAY + 1000.0], [0.0], [10.0])
# at DAY the clock, 90 s ahead, is set right: labels from DAY to DAY + 90 come twice
SET_BACK = ClockSegments([-INF, DAY], [DAY, INF], [90.0, 0.0], [90.0, 0.0])
# at DAY the clock, 120 s behind, is set right: labels from DAY - 120 to DAY never come
SET_FORWARD = ClockSegments([-INF, DAY], [DAY, INF], [-120.0, 0.0], [-120.0, 0.0])
CHECKED = ClockSegments(
    [-INF, DAY, DAY + 5000.0, DAY + 9000.0],
    [DAY, DAY + 5000.0, DAY + 9000.0, INF],
    [3.0, 3.0, 0.0, -7.0],
    [3.0, 80.0, -7.0, -7.0],
)


def test_constant_error_is_taken_off():
    """A clock 45 s ahead: the label 00:01:00 was written at 00:00:15."""
    got = true_from_logger([DAY + 60.0], 0, HELD)
    assert_array_equal(got.true_time, [DAY + 15.0])
    assert_array_equal(got.segment, [0])
    assert not got.ambiguous.any()
    assert not got.outside.any()


def test_drift_by_hand():
    """Gaining 1 % from right: label + 505 s was true + 500 s; the ends are exact."""
    got = true_from_logger(DAY + np.array([0.0, 505.0, 1009.99]), 0, DRIFT)
    assert_allclose(got.true_time - DAY, [0.0, 500.0, 999.990099], atol=1e-6)
    assert not got.outside.any()
    assert_allclose(logger_error(DAY + np.array([0.0, 500.0]), DRIFT), [0.0, 5.0])


def test_set_back_is_resolved_by_file_order():
    """The doubled label + 30 s: first before the setting (true - 60), then after it (true + 30)."""
    got = true_from_logger(DAY + np.array([30.0, 30.0, 90.0, -1.0]), [0, 1, 0, 0], SET_BACK)
    assert_array_equal(got.true_time - DAY, [-60.0, 30.0, 90.0, -91.0])
    assert_array_equal(got.ambiguous, [True, True, False, False])
    assert_array_equal(got.segment, [0, 1, 1, 0])


def test_occurrence_matters_only_where_labels_are_doubled():
    """A duplicate elsewhere keeps its one segment; a third pass takes the last."""
    got = true_from_logger(DAY + np.array([500.0, 30.0]), [1, 5], SET_BACK)
    assert_array_equal(got.segment, [1, 1])


def test_set_forward_leaves_a_hole():
    """Labels in the hole go to the nearest segment, the earlier when equal, and are marked."""
    labels = DAY + np.array([-121.0, -120.0, -61.0, -60.0, -59.0, 0.0])
    got = true_from_logger(labels, 0, SET_FORWARD)
    assert_array_equal(got.outside, [False, True, True, True, True, False])
    assert_array_equal(got.segment, [0, 0, 0, 0, 1, 1])
    assert_array_equal(got.true_time - DAY, [-1.0, 0.0, 59.0, 60.0, -59.0, 0.0])


def test_beyond_bounded_segments():
    """Where the segments end the nearest line is carried on, and marked."""
    got = true_from_logger(DAY + np.array([-10.0, 1111.0]), 0, DRIFT)
    assert got.outside.all()
    assert_allclose(got.true_time - DAY, [-10.0 / 1.01, 1100.0])


@pytest.mark.parametrize("segments", [HELD, SET_BACK, SET_FORWARD, CHECKED])
def test_round_trip(segments):
    """True time to label to true time, where each label's pass is known, within a microsecond."""
    true = DAY + np.arange(-3000.0, 12000.0, 17.0)
    labels = true + logger_error(true, segments)
    earlier = np.zeros(true.shape, dtype=np.int64)
    index = np.searchsorted(segments.start_true, true, side="right") - 1
    for other in range(segments.start_true.size):
        shown = (labels >= segments.logger_start[other]) & (labels < segments.logger_end[other])
        earlier += shown & (other < index)
    got = true_from_logger(labels, earlier, segments)
    assert_allclose(got.true_time, true, rtol=0, atol=1e-6)
    assert_array_equal(got.segment, index)
    assert not got.outside.any()


def test_true_time_does_not_depend_on_the_cut():
    """Bit for bit the same in any pieces, and for each label alone."""
    rng = np.random.default_rng(1)
    labels = DAY + rng.uniform(-3000.0, 12000.0, 400)
    turn = rng.integers(0, 2, 400)
    whole = true_from_logger(labels, turn, CHECKED)
    for cuts in ([1, 7, 100], np.arange(1, 400)):
        parts = [
            true_from_logger(a, b, CHECKED)
            for a, b in zip(np.split(labels, cuts), np.split(turn, cuts), strict=True)
        ]
        for name in ("true_time", "segment", "ambiguous", "outside"):
            joined = np.concatenate([getattr(part, name) for part in parts])
            assert_array_equal(joined, getattr(whole, name))


def test_missing_and_no_labels():
    got = true_from_logger([np.nan, DAY], 0, HELD)
    assert np.isnan(got.true_time[0])
    assert_array_equal(got.segment, [-1, 0])
    assert_array_equal(got.outside, [False, False])
    assert true_from_logger([], 0, HELD).true_time.shape == (0,)
    assert np.isnan(true_from_logger([np.nan], 0, HELD).true_time).all()


def test_logger_error_where_no_segment_reaches():
    assert np.isnan(logger_error([DAY - 1.0, DAY + 1000.0, np.nan], DRIFT)).all()
    assert_array_equal(logger_error([0.0, DAY], HELD), 45.0)


@pytest.mark.parametrize(
    ("arrays", "message"),
    [
        (([], [], [], []), "at least one is needed"),
        (([0.0], [1.0, 2.0], [0.0], [0.0]), "same single dimension"),
        (([0.0, 5.0], [5.0, 5.0], [0.0, 0.0], [0.0, 0.0]), r"before end \(got segment 1\)"),
        (([0.0, 4.0], [5.0, 9.0], [0.0, 0.0], [0.0, 0.0]), r"without overlap \(got segment 1\)"),
        (([0.0], [INF], [0.0], [1.0]), "unbounded segment must be constant"),
        (([0.0], [9.0], [0.0], [np.nan]), "errors must be finite"),
        (([0.0], [9.0], [0.0], [-9.0]), r"stand still or run backwards \(rate -1\)"),
    ],
)
def test_segments_are_checked(arrays, message):
    with pytest.raises(ValueError, match=message):
        ClockSegments(*arrays)


def test_whole_interval_move_by_hand():
    """Half a minute late goes to the later minute, with a residual of minus 30 s."""
    starts = DAY + np.array([0.0, 29.9, 30.0, 31.0, 89.0, -30.0, -30.1])
    grid, residual = whole_interval_move(starts, 60)
    assert grid.dtype == np.int64
    assert_array_equal(grid - int(DAY), [0, 0, 60, 60, 60, 0, -60])
    assert_allclose(residual, [0.0, 29.9, -30.0, -29.0, 29.0, -30.0, 29.9], atol=1e-6)


@pytest.mark.parametrize("interval", [1, 7, 60, 600])
def test_whole_interval_move_keeps_its_promise(interval):
    """Grid plus residual is the start, the residual within half an interval, before 1970 too."""
    starts = np.random.default_rng(2).uniform(-2e9, 2e9, 5000)
    starts[:100] = np.arange(100) * interval / 2.0
    grid, residual = whole_interval_move(starts, interval)
    assert np.all(grid % interval == 0)
    assert np.all((residual >= -interval / 2) & (residual < interval / 2))
    assert_array_equal(grid + residual, starts)


def test_whole_interval_move_edges():
    grid, residual = whole_interval_move([np.nan, 0.0], 60)
    assert_array_equal(grid, [MISSING_TIME, 0])
    assert_array_equal(residual, [np.nan, 0.0])
    for wrong in (0, -60, 1.5):
        with pytest.raises(ValueError, match="interval must be a positive whole number"):
            whole_interval_move([0.0], wrong)


def test_choose_one_per_interval():
    """Smaller residual wins; equal sizes: the earlier in file order, whatever the array order."""
    grid = [0, 0, 60, 60, 120, 180, 180, 180]
    residual = [20.0, -10.0, 5.0, -5.0, 29.0, 1.0, np.nan, -1.0]
    order = [0, 1, 3, 2, 4, 7, 5, 6]
    got = choose_one_per_interval(grid, residual, order)
    assert_array_equal(got, [False, True, False, True, True, False, False, True])


def test_choose_one_each_interval_has_one_winner():
    """Each interval with a known residual has exactly one winner, in any order of the input."""
    rng = np.random.default_rng(3)
    grid = rng.integers(0, 50, 300) * 60
    residual, order = np.round(rng.uniform(-30, 30, 300)), np.arange(300)
    wins = choose_one_per_interval(grid, residual, order)
    assert_array_equal(np.sort(grid[wins]), np.unique(grid))
    turned = rng.permutation(300)
    assert_array_equal(
        choose_one_per_interval(grid[turned], residual[turned], order[turned]), wins[turned]
    )


def test_choose_one_without_readings():
    assert choose_one_per_interval([], [], []).shape == (0,)
    assert not choose_one_per_interval([MISSING_TIME], [np.nan], [0]).any()
