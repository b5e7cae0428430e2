"""Displacement of minutes by clock and lag, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from invented import MARCH, period, station_config
from sunledger.stages.beside import logger_of
from sunledger.stages.surroundings import surroundings
from sunledger.stages.timing import Clock, Timing, clock_of

TIME = MARCH + 60 * np.arange(4)
PERIOD = period(station_config(), MARCH, 4 / 1440)
LOGGER = logger_of(PERIOD, "global_1")


def clock(residual: list[float] | None) -> Clock:
    left = None if residual is None else np.array(residual, np.float32)
    return clock_of(LOGGER, left, TIME, 60, PERIOD)


def test_share_of_an_interval() -> None:
    """(3 + 6) s of 60 s are 0.15; nothing is displaced by more than all of it."""
    got = Timing(np.array([3.0, 0.0, 500.0]), 6.0, 60).share
    assert_allclose(got, [0.15, 0.1, 1.0])


def test_clock_and_lag_apart() -> None:
    """Of 9 s and 16 s the roots of 9/25 and 16/25 are 0.6 and 0.8; squares add up to 1."""
    got = Timing(np.array([9.0, 1.0, 70.0]), 16.0, 60).lasting
    assert_allclose(got.share, [25 / 60, 17 / 60, 1.0], rtol=1e-6)
    assert_allclose([got.clock[0], got.lag[0]], [0.6, 0.8], rtol=1e-6)
    assert_allclose(got.clock**2 + got.lag**2, 1.0, rtol=1e-6)


def test_lasting_leaves_what_it_was_made_of() -> None:
    """Single precision as given would else be overwritten."""
    displaced = np.array([9.0, 1.0], np.float32)
    timing = Timing(displaced, 16.0, 60)
    assert timing.lasting.share.size == 2
    assert displaced.tolist() == [9.0, 1.0]


def test_a_cut_is_the_same_minutes() -> None:
    whole = Timing(np.array([9.0, 1.0, 70.0]), 16.0, 60)
    part = whole.cut(np.array([True, False, True]))
    assert_array_equal(part.share, whole.share[[0, 2]])
    assert_array_equal(part.lasting.clock, whole.lasting.clock[[0, 2]])
    assert whole.cut(slice(None)) is whole


def test_true_times_stay_inside_the_period() -> None:
    """A residual that is not known counts as none; what began before the period belongs to it."""
    got = clock([-5.0, np.nan, 7.0, 90.0])
    assert got.true.tolist() == [MARCH, MARCH + 60, MARCH + 127, MARCH + 239]
    beside = got.displaced - clock(None).displaced
    assert_allclose(beside, [5.0, 0.0, 7.0, 90.0])


@pytest.mark.parametrize(
    ("start", "end", "inside"),
    [
        (0, 240, [1, 1, 1, 1]),
        (0, 239, [1, 1, 1, 0]),
        (1, 240, [0, 1, 1, 1]),
        (67, 127, [0, 0, 0, 0]),
        (60, 128, [0, 1, 1, 0]),
    ],
)
def test_minutes_between(start: int, end: int, inside: list[int]) -> None:
    """Half open, by true time."""
    got = clock([-5.0, np.nan, 7.0, 90.0]).between(MARCH + start, MARCH + end)
    assert got.tolist() == [bool(one) for one in inside]


def test_one_clock_serves_all_that_a_logger_reads() -> None:
    """Made again only for another residual; one displacement for each lag."""
    around = surroundings({}, TIME, np.full(4, 40.0), PERIOD, 60)
    residual = np.zeros(4, np.float32)
    first = around.clock(LOGGER, residual, PERIOD)
    assert around.clock(LOGGER, residual, PERIOD) is first
    assert around.clock(LOGGER, residual.copy(), PERIOD) is not first
    assert first.timing(6.0) is first.timing(6.0)
    assert first.timing(6.0) is not first.timing(7.0)
