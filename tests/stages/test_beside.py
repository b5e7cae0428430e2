"""What a reading needs of elsewhere: same times, nights of its own deployment, however cut."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from invented import (
    DAY,
    KINDS,
    MARCH,
    certificate,
    instrument,
    period,
    readings,
    station_config,
    timed,
)
from sunledger.config.loading import StationConfig
from sunledger.stages.beside import at_same_time, logger_of, sun_at
from sunledger.stages.calibrate import NIGHTS_REACH, REACH, calibrate, reach_of
from sunledger.vocabulary import CONDITIONS


def test_nearest_in_time() -> None:
    """In any order, within half an interval; NaN where none is near."""
    got = at_same_time(
        np.array([3.0, 1.0, 2.0]), np.array([120.0, 0.0, np.nan]), np.array([10, 95, 60, 400]), 30
    )
    assert_array_equal(got, [1.0, 3.0, np.nan, np.nan])
    assert np.isnan(at_same_time(np.empty(0), np.empty(0), np.array([1.0]), 30.0)).all()


def test_logger_and_sun() -> None:
    resolved = period(station_config())
    assert logger_of(resolved, "sky_1").name == "main"
    assert sun_at(resolved, np.array([MARCH + 40200.0])).zenith[0] == pytest.approx(49.0, abs=0.5)


def night_station() -> StationConfig:
    """A global whose thermal offset is taken from the nights."""
    mine = instrument("global_1", certificate("global_1", offset_in_responsivity="removed"))
    mine["thermal_offset"] = {"method": "night"}
    return station_config(instruments=[mine, *(instrument(p) for p in KINDS if p != "global_1")])


def global_of_days(start: int, days: int) -> np.ndarray:
    """Night values that change from night to night, 500 W m-2 by day, offset included."""
    resolved = period(night_station(), start, days)
    time = start + 60.0 * np.arange(1440 * days)
    up = sun_at(resolved, time + 30.0).zenith < 90.0
    offset = -4.0 - 2.0 * ((time - MARCH) / DAY)  # linear in time, as the correction takes it
    return np.where(up, 500.0 + offset, offset)


def calibrated(start: int, days: int) -> tuple[np.ndarray, np.ndarray]:
    """Global and its conditions."""
    config = night_station()
    resolved = period(config, start, days)
    ds = readings(config, start=start, minutes=1440 * days)
    ds["global_1_mean"].values[:] = global_of_days(start, days) * 8.0 / 1000.0
    out = calibrate(timed(config, resolved, ds), resolved)
    return out["global_1"].values, out["global_1_conditions"].values


def test_offset_from_the_nights_is_taken_off() -> None:
    """500 W m-2 by day and none at night; the last minutes have no night after them."""
    values, words = calibrated(MARCH, 4)
    inner = slice(1440, 3 * 1440)
    by_day = values[inner] > 100
    assert values[inner][by_day] == pytest.approx(500.0, abs=0.01)
    assert values[inner][~by_day] == pytest.approx(0.0, abs=0.3)
    missing = (words & CONDITIONS["correction_not_applied"].mask) != 0
    assert not missing[inner].any()
    assert missing[-40:].all()


def test_result_does_not_depend_on_the_cut() -> None:
    """One day with the declared reach on both sides gives the same bits as a week."""
    whole, words = calibrated(MARCH, 7)
    reach = -(-NIGHTS_REACH // DAY)
    part, marks = calibrated(MARCH + (3 - reach) * DAY, 1 + 2 * reach)
    inside = slice(reach * 1440, (reach + 1) * 1440)
    assert_array_equal(part[inside], whole[3 * 1440 : 4 * 1440])
    assert_array_equal(marks[inside], words[3 * 1440 : 4 * 1440])


def test_reach_only_where_nights_are_asked_for() -> None:
    assert reach_of(period(station_config()).coefficients) == REACH
    assert reach_of(period(night_station()).coefficients) == NIGHTS_REACH
