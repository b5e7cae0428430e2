"""Which reading fills which interval: doubled, emptied, conflicting and rejected."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_array_equal

from free_clock import Stretch, clock_entries, clocked_readings, written
from invented import DAY, MARCH, logger, period, readings, station_config, timed
from sunledger.config.clocks import ClockSegment
from sunledger.config.conditions import ConditionInterval
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import ResolvedLogger
from sunledger.stages.placement import (
    Placement,
    clock_steps,
    condition_words,
    emptied_slots,
    place_readings,
    rejected_line_words,
    unverified_words,
)
from sunledger.stages.time_correct import grid_of
from sunledger.vocabulary import CONDITIONS

GRID = MARCH + 60 * np.arange(20, dtype=np.int64)
NO_STEPS = np.zeros(0, np.int64)


def slots_with(words: np.ndarray, name: str) -> list[int]:
    """Grid indices with a condition."""
    return np.flatnonzero(words & CONDITIONS[name].mask).tolist()


def resolved_logger(**changes: Any) -> ResolvedLogger:
    """The invented logger, its clock right."""
    config = station_config({"main": logger(("global_1",), utc_offset="+00:00", label="start")})
    return period(config).loggers[0].__class__(**{**period(config).loggers[0].__dict__, **changes})


def written_at(
    starts: list[float], labels: list[int] | None = None, status: list[int] | None = None
) -> xr.Dataset:
    """Readings with these true starts, labels and line statuses; lines from 2 on."""
    size = len(starts)
    data = {
        "start_time_main": np.array(starts, float),
        "logger_time_main": np.array(starts if labels is None else labels, np.int64),
        "line_status_main": np.array(status or [0] * size, np.int8),
        "source_file_main": np.zeros(size, np.int32),
        "source_line_main": np.arange(2, size + 2, dtype=np.int32),
    }
    return xr.Dataset({name: ("reading_main", values) for name, values in data.items()})


def placed(ds: xr.Dataset, item: ResolvedLogger | None = None) -> Placement:
    """Placement of readings on twenty minutes."""
    return place_readings(ds, item or resolved_logger(), GRID, 60)


def test_a_clock_that_is_right() -> None:
    """Every reading in its own interval, no residual, nothing marked."""
    got = placed(written_at(list(GRID)))
    assert_array_equal(got.slots, np.arange(20))
    assert_array_equal(got.residual, 0)
    assert not got.words.any()
    assert got.displaced == 0


def test_nearest_interval_wins_and_the_rest_is_the_residual() -> None:
    """29 s late stays; 30 s late belongs to the next interval, 30 s early."""
    assert placed(written_at([MARCH + 89.0])).residual[1] == 29.0
    got = placed(written_at([MARCH + 90.0]))
    assert (got.slots.tolist(), got.residual[2]) == ([2], -30.0)


def test_of_two_the_nearer_is_kept() -> None:
    """The other loses its interval, and is counted; its value is blended into nothing."""
    got = placed(written_at([MARCH + 70.0, MARCH + 59.0, MARCH + 120.0]))
    assert got.rows.tolist() == [1, 2]
    assert got.put(np.array([5.0, 7.0, 9.0]))[1:3].tolist() == [7.0, 9.0]
    assert slots_with(got.words, "interval_doubled") == [1]
    assert got.displaced == 1


@pytest.mark.parametrize("order", [[50.0, 70.0], [70.0, 50.0]])
def test_of_two_equally_near_the_earlier_in_the_file_is_kept(order: list[float]) -> None:
    """10 s early or 10 s late: the line decides."""
    got = placed(written_at([MARCH + s for s in order]))
    assert got.rows.tolist() == [0]


def test_conflicting_lines_never_fill_an_interval() -> None:
    """The first is kept; the interval is marked, also for a conflict that stands alone."""
    got = placed(written_at([*GRID[:3], GRID[2], GRID[5]], status=[0, 0, 0, 1, 1]))
    assert got.rows.tolist() == [0, 1, 2]
    assert slots_with(got.words, "label_conflict") == [2, 5]
    assert np.isnan(got.residual[5])


def test_readings_outside_the_grid_are_left_out() -> None:
    """Before and after; the edges belong to the grid."""
    got = placed(written_at([GRID[0] - 31.0, GRID[0] - 30.0, GRID[-1] + 29.0, GRID[-1] + 30.0]))
    assert_array_equal(got.slots, [0, 19])


def test_put_keeps_types() -> None:
    """Booleans and words have no NaN: what stands in gaps is told."""
    got = placed(written_at([GRID[3]]))
    assert got.put(np.array([True]), False).dtype == bool
    assert got.put(np.array([5], np.int32), 0).tolist() == [0] * 3 + [5] + [0] * 16
    assert np.isnan(got.put(np.array([5.0]))).sum() == 19


# --- emptied -------------------------------------------------------------------------------


def test_drift_over_half_an_interval_empties_one() -> None:
    """A slow clock: labels advance by a minute, true starts by a little more."""
    starts = np.array([29.98, 90.00, 150.02])
    got = emptied_slots(starts, np.array([0, 60, 120]), 60, NO_STEPS)
    assert_array_equal(got, [60])


def test_a_pause_is_no_emptied_interval() -> None:
    """A reading that is not there is missing; the clock has nothing to do with it."""
    assert emptied_slots(np.array([0.0, 120.0]), np.array([0, 120]), 60, NO_STEPS).size == 0
    drifting = np.array([10.0, 129.99])
    assert emptied_slots(drifting, np.array([0, 120]), 60, NO_STEPS).size == 0


def test_a_setting_forward_empties_one() -> None:
    """80 s slow and set: labels jump by three minutes, the truth by 100 s."""
    starts, labels = np.array([20.0, 120.0]), np.array([-60, 120])
    assert_array_equal(emptied_slots(starts, labels, 60, np.array([80])), [60])
    assert emptied_slots(starts, labels, 60, NO_STEPS).size == 0


def test_a_pause_across_a_setting_is_a_pause() -> None:
    """A setting cuts two intervals at most; where more is lost, the logger was not writing."""
    for end, empty in ((190.0, [60, 120]), (209.0, [60, 120]), (211.0, [])):
        got = emptied_slots(np.array([30.0 - 0.5, end]), np.array([-60, 180]), 60, np.array([80]))
        assert_array_equal(got, empty)


def test_an_interval_filled_after_all_is_not_empty() -> None:
    """By a reading that stands elsewhere in the files."""
    starts = [MARCH + 29.98, MARCH + 90.0, MARCH + 61.0]
    labels = [MARCH, MARCH + 60, MARCH + 3600]
    assert slots_with(placed(written_at(starts[:2], labels[:2])).words, "interval_emptied") == [1]
    assert slots_with(placed(written_at(starts, labels)).words, "interval_emptied") == []


def test_clock_steps_are_where_the_error_jumps() -> None:
    """Not where one drift follows another without a setting."""
    rows = (
        ClockSegment(0, 10, 0.0, 5.0, True),
        ClockSegment(10, 20, 5.0, 7.0, True),
        ClockSegment(20, 30, 0.0, 0.0, True),
    )
    assert_array_equal(clock_steps(resolved_logger(segments=rows)), [20])


def free(stretches: list[Stretch]) -> StationConfig:
    """One global on one free clock."""
    item = logger(("global_1",), utc_offset="+00:00", label="start")
    return station_config({"main": item}, entries=clock_entries(stretches))


SETTINGS = [-3700.0, -95.0, -80.0, -50.0, -20.0, 20.0, 50.0, 80.0, 95.0, 3700.0]


@pytest.mark.parametrize("error", SETTINGS)
@pytest.mark.parametrize("second", [0, 13, 30, 47])
def test_a_setting_leaves_no_empty_minute_unexplained(error: float, second: int) -> None:
    """Back or forward, at any second: as counted by hand from the true starts."""
    time = MARCH + DAY // 2 + second
    stretches = [Stretch(MARCH, time, error, error), Stretch(time, MARCH + DAY, 0.0, 0.0)]
    config = free(stretches)
    ds, _ = clocked_readings(config, stretches)
    resolved = period(config)
    got = place_readings(
        timed(config, resolved, ds), resolved.loggers[0], grid_of(resolved, 60), 60
    )
    number = np.bincount(
        np.floor((written(stretches)[1] - MARCH) / 60 + 0.5).astype(int), minlength=1441
    )[:1440]
    inner = slice(5, 1435)
    assert_array_equal(
        (got.words & CONDITIONS["interval_emptied"].mask != 0)[inner], (number == 0)[inner]
    )
    assert_array_equal(
        (got.words & CONDITIONS["interval_doubled"].mask != 0)[inner], (number == 2)[inner]
    )


# --- rejected lines ------------------------------------------------------------------------


def quarantined(ds: xr.Dataset, *rows: tuple[int, int]) -> xr.Dataset:
    """Readings with rejected lines, each a file and a line."""
    file, line = (np.array(column, np.int32) for column in zip(*rows, strict=True))
    return ds.assign(
        quarantine_file_main=("quarantine_main", file),
        quarantine_line_main=("quarantine_main", line),
    )


def rejected(ds: xr.Dataset) -> list[int]:
    """Minutes marked."""
    return slots_with(rejected_line_words(ds, resolved_logger(), GRID, 60), "line_rejected")


def test_a_rejected_line_marks_its_minute() -> None:
    """As counted in lines from the last good one before it."""
    ds = written_at(list(GRID)).isel(reading_main=[0, 1, 2, 5, 6])  # lines 5 and 6 are bad
    assert rejected(quarantined(ds, (0, 5), (0, 6))) == [3, 4]


def test_a_rejected_line_of_another_file_marks_nothing_here() -> None:
    """And neither does one before the first good line, or far behind the last."""
    ds = written_at(list(GRID[:3]))
    assert rejected(quarantined(ds, (1, 5))) == []
    assert rejected(quarantined(ds, (0, 1))) == []
    assert rejected(quarantined(ds, (0, 4 + 121))) == []


def test_a_conflicting_line_is_not_a_rejected_one() -> None:
    """It stands in the same table, and among the readings."""
    ds = written_at([*GRID[:3], GRID[2], *GRID[3:5]], status=[0, 0, 0, 1, 0, 0])
    assert rejected(quarantined(ds, (0, 5))) == []


def test_without_a_table_nothing_is_marked() -> None:
    """Readings in memory may come without one."""
    assert rejected(written_at(list(GRID))) == []
    assert rejected(quarantined(written_at([]), (0, 5))) == []


def test_lines_of_a_fast_logger_count_in_its_own_interval() -> None:
    """Ten seconds a line: the twelfth line after 00:00:00 stood at 00:02:00."""
    config = station_config({"main": logger(("global_1",), interval=10)})
    item = period(config).loggers[0]
    ds = written_at([MARCH + 10.0 * i for i in range(12)])
    words = rejected_line_words(quarantined(ds, (0, 14), (0, 19)), item, GRID, 60)
    assert slots_with(words, "line_rejected") == [2]
    assert rejected_line_words(quarantined(ds, (0, 20)), item, GRID, 60)[3]


# --- what the record says ------------------------------------------------------------------


def test_conditions_touch_whole_intervals() -> None:
    """A bit is set wherever the interval is touched; a half-open end touches nothing more."""
    item = ConditionInterval("maintenance", "global_1", MARCH + 61, MARCH + 180, "x")
    assert slots_with(condition_words((item,), {"global_1"}, GRID, 60), "maintenance") == [1, 2]


@pytest.mark.parametrize(
    ("start", "end", "slots"),
    [(-500, 1, [0]), (1199, 9999, [19]), (-60, 0, []), (1200, 1260, []), (-60, 9999, range(20))],
)
def test_conditions_beyond_the_grid(start: int, end: int, slots: Any) -> None:
    """Only what overlaps it."""
    item = ConditionInterval("maintenance", "*", MARCH + start, MARCH + end, "x")
    got = slots_with(condition_words((item,), {"*"}, GRID, 60), "maintenance")
    assert got == list(slots)


def test_conditions_of_other_targets_do_not_count() -> None:
    """What bears on the diffuse does not bear on the global."""
    item = ConditionInterval("maintenance", "diffuse_1", MARCH, MARCH + 600, "x")
    assert not condition_words((item,), {"global_1", "ghi", "*"}, GRID, 60).any()


def test_unverified_segments_mark_their_minutes() -> None:
    """Those that begin in one."""
    rows = (
        ClockSegment(MARCH - DAY, MARCH + 90, 0.0, 0.0, False),
        ClockSegment(MARCH + 90, MARCH + 600, 0.0, 0.0, True),
        ClockSegment(MARCH + 600, MARCH + DAY, 0.0, 0.0, False),
    )
    words = unverified_words(resolved_logger(segments=rows), GRID)
    assert slots_with(words, "clock_unverified") == [0, 1, *range(10, 20)]


def test_grid_of_invented_readings_is_filled() -> None:
    """The builder's readings, labels at the end and an hour east, fill their day."""
    config = station_config()
    resolved = period(config)
    ds = timed(config, resolved, readings(config))
    got = place_readings(ds, resolved.loggers[0], grid_of(resolved, 60), 60)
    assert_array_equal(got.residual, np.zeros(1440))
