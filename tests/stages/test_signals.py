"""Signals of a position: units, sensors, and the way into the file."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from invented import period, readings, station_config, timed
from sunledger.stages.signals import PositionReadings, fingerprint, without_over_range


def of_position(position: str) -> PositionReadings:
    """A day of the invented station."""
    config = station_config()
    resolved = period(config)
    ds = timed(config, resolved, readings(config))
    return PositionReadings(ds, resolved, resolved.loggers[0], position)


def test_millivolts_become_microvolts() -> None:
    """300 W m-2 of sky less the body's emission, in microvolts."""
    mine = of_position("global_1")
    assert set(mine.signals) == {"mean", "min", "max", "std"}
    assert mine.signals["mean"][0] == pytest.approx(8.0 * 400.3, rel=1e-3)
    assert mine.path is None


def test_a_sensor_that_is_not_there() -> None:
    row = period(station_config()).coefficients[0]
    where = np.array([True, True] + [False] * 1438)
    assert np.isnan(of_position("global_1").temperature("body_temperature", row, where)).all()


def test_over_range_is_missing() -> None:
    assert_array_equal(without_over_range(np.array([1.0, np.inf, -np.inf])), [1.0, np.nan, np.nan])


def test_fingerprint_stands_still_only_while_everything_does() -> None:
    """Mean frozen with a moving deviation is not frozen; a missing mean has none."""
    frozen = {s: np.full(3, 2.0) for s in ("mean", "min", "max", "std")}
    assert np.ptp(fingerprint(frozen)) == 0.0
    for statistic in frozen:
        moved = frozen | {statistic: np.array([2.0, 2.0, 2.1])}
        assert np.ptp(fingerprint(moved)[:2]) == 0.0
        assert np.ptp(fingerprint(moved)) > 0.0
    assert np.isnan(fingerprint(frozen | {"mean": np.array([np.inf, np.nan, 1.0])})[:2]).all()
