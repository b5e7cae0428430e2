"""Clocks: where their periods begin, at fractional offsets and by the sun."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from sunledger.config.models.base import parse_utc
from sunledger.physics.sun import sun_times
from sunledger.stages.time_bases import TimeBase, grid

UTC = TimeBase()
NEPAL = TimeBase("local_standard", 20700)  # +05:45
WEST = TimeBase("local_standard", -12600)  # -03:30
SUN = TimeBase("true_solar", 0, 10.2)
DAY = 86400
TURN = parse_utc("2031-01-01")


def test_months_of_a_fractional_offset() -> None:
    """+05:45: March begins at 18:15 UTC of the last of February, and the year a day earlier."""
    start, end = NEPAL.bounds("2031-03", 60)
    assert start == parse_utc("2031-02-28") + 18 * 3600 + 900
    assert end == parse_utc("2031-03-31") + 18 * 3600 + 900
    assert NEPAL.bounds("2031", 60)[0] == parse_utc("2030-12-31") + 18 * 3600 + 900
    assert WEST.bounds("2031", 60)[0] == TURN + 3 * 3600 + 1800
    assert UTC.bounds("2032-02", 60) == (parse_utc("2032-02-01"), parse_utc("2032-03-01"))


@pytest.mark.parametrize(("base", "offset"), [(UTC, 0), (NEPAL, 20700), (WEST, -12600)])
@pytest.mark.parametrize("step", [300, 600, 900, 1800, 3600])
def test_a_fixed_clock(base: TimeBase, offset: int, step: int) -> None:
    """Every period begins on a whole step of the clock and is as long as that."""
    got = grid(base, base.bounds("2031-01", 60), step, 60)
    assert_array_equal(np.diff(got.edges), step)
    assert_array_equal(got.labels - got.edges[:-1], offset)
    assert_array_equal(got.labels % step, 0)
    assert got.labels.size == 31 * DAY // step


def test_true_solar_days() -> None:
    """From midnight to midnight of the sundial, to the minute; noon in the middle of the day."""
    got = grid(SUN, SUN.bounds("2031-01", 60), 3600, 60)
    assert got.labels.size == 31 * 24
    assert set(np.diff(got.edges)) <= {3540, 3600, 3660}
    noon = sun_times(got.edges[:-1][::24], 46.9, 10.2).solar_noon
    assert np.abs(got.edges[12::24] - noon).max() <= 30.5
    assert_array_equal(got.labels[::24] % DAY, 0)


def test_true_solar_bounds_hold_the_middles() -> None:
    """A minute belongs to the period in which its middle lies."""
    labels = DAY * np.arange(20000, 20400)
    edges = SUN.instants(labels, 60)
    assert all(SUN.label(int(e) + 30) >= label for e, label in zip(edges, labels, strict=True))
    assert all(SUN.label(int(e) - 30) < label for e, label in zip(edges, labels, strict=True))


def test_intervals_that_the_offset_cuts() -> None:
    """Hourly means at +05:45: each goes where its middle lies, and the bounds say so."""
    got = grid(NEPAL, NEPAL.bounds("2031-01", 3600), 3600, 3600)
    assert_array_equal(got.edges % 3600, 0)
    # 18:00 to 19:00 UTC has its middle at 00:15: the first hour of the day there
    assert_array_equal(got.labels - got.edges[:-1], 6 * 3600)


def test_a_window_cuts_its_first_and_last_period() -> None:
    """Whatever it is given."""
    window: Any = (TURN + 1800, TURN + 3 * 3600 + 600)
    got = grid(UTC, window, 3600, 60)
    assert (got.edges - TURN).tolist() == [1800, 3600, 7200, 10800, 11400]
    assert (got.labels - TURN).tolist() == [0, 3600, 7200, 10800]


def test_labels() -> None:
    """What the clock shows."""
    assert UTC.label(TURN) == TURN
    assert NEPAL.label(TURN) == TURN + 20700
    assert SUN.label(TURN) == pytest.approx(TURN + 10.2 * 240, abs=1200)
