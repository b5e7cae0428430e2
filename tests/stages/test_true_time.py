"""True start times against a logger simulated without the package's clock arithmetic."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose, assert_array_equal

from free_clock import Stretch, clock_entries, clocked_readings
from invented import DAY, MARCH, logger, period, readings, station_config, timed
from sunledger.config.clocks import ClockSegment
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST, parse_utc
from sunledger.config.models.processing import Processing
from sunledger.stages.true_time import (
    clock_lines,
    labels_as_utc_starts,
    months_since_epoch,
    passes_in_file_order,
    with_true_times,
)

APRIL = parse_utc("2031-04-01")
HOUR = 3600


def station(stretches: list[Stretch], **changes: Any) -> StationConfig:
    """A station with one global on one free clock, and the checks of that clock."""
    plain = {"utc_offset": "+00:00", "label": "start"} | changes
    return station_config(
        {"main": logger(("global_1",), **plain)}, entries=clock_entries(stretches)
    )


def start_times(
    stretches: list[Stretch], **changes: Any
) -> tuple[xr.Dataset, np.ndarray, np.ndarray]:
    """Readings with the start times found, those found, and the true ones."""
    config = station(stretches, **changes)
    ds, true = clocked_readings(config, stretches)
    begin, end = stretches[0].start - DAY, stretches[-1].end + DAY
    out = with_true_times(ds, period(config, begin, (end - begin) / DAY))
    return out, out["start_time_main"].values, true


def set_at(time: int, before: float, after: float, drift: float = 0.0) -> list[Stretch]:
    """A clock that drifts for half a day, is set, and drifts for half a day."""
    return [
        Stretch(time - DAY // 2, time, before - drift, before),
        Stretch(time, time + DAY // 2, after, after + drift),
    ]


@pytest.mark.parametrize("drift", [0.0, 7.0, -11.0])
@pytest.mark.parametrize("before", [100.0, 620.0, 3 * HOUR + 5.0, -100.0, -620.0, -3 * HOUR - 5.0])
def test_a_clock_that_was_set(before: float, drift: float) -> None:
    """Set back or forward, with drift on both sides: every reading gets the time it was taken."""
    _, found, true = start_times(set_at(MARCH + 43_217, before, 0.4, drift))
    assert_allclose(found, true, rtol=0, atol=1e-5)


@pytest.mark.parametrize("days", [1, 3])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_clock_that_was_days_out(days: int, sign: int) -> None:
    """An error of days is no other than one of seconds."""
    error, time = sign * days * DAY + 7.0, MARCH + 500
    stretches = [Stretch(time - 4 * DAY, time, error, error), Stretch(time, time + 4 * DAY, 0, 0)]
    _, found, true = start_times(stretches)
    assert_allclose(found, true, rtol=0, atol=1e-5)


@pytest.mark.parametrize("error", [120.0, 121.0, 630.0, 7300.0])
@pytest.mark.parametrize("early", [-40, 0, 40, 90])
@pytest.mark.parametrize("instant", [APRIL, MARCH + DAY], ids=["month", "midnight"])
def test_set_back_over_midnight_and_a_month_boundary(
    instant: int, early: int, error: float
) -> None:
    """The labels of the last minutes come again on both sides of the boundary."""
    _, found, true = start_times(set_at(instant - early, error, 0.0))
    assert_allclose(found, true, rtol=0, atol=1e-5)


def test_a_month_read_alone_gives_what_both_give_together() -> None:
    """Passes are counted within a month of labels, so that either month can be read alone."""
    stretches = set_at(APRIL + 30, 130.0, 0.0)
    config = station(stretches)
    ds, true = clocked_readings(config, stretches)
    resolved = period(config, APRIL - 2 * DAY, 4)
    for month in (ds["logger_time_main"] < APRIL, ds["logger_time_main"] >= APRIL):
        rows = np.flatnonzero(month.values)
        alone = with_true_times(ds.isel(reading_main=rows), resolved)
        assert_allclose(alone["start_time_main"], true[rows], rtol=0, atol=1e-5)


def test_two_settings_back_over_the_same_labels() -> None:
    """Ten minutes back, and before that time is over ten more: some labels stand three times."""
    stretches = [
        Stretch(MARCH, MARCH + HOUR, 1200.0, 1200.0),
        Stretch(MARCH + HOUR, MARCH + HOUR + 900, 600.0, 600.0),
        Stretch(MARCH + HOUR + 900, MARCH + 3 * HOUR, 0.0, 0.0),
    ]
    _, found, true = start_times(stretches)
    assert_allclose(found, true, rtol=0, atol=1e-5)


def test_a_repeated_label_of_the_same_run_is_no_new_pass() -> None:
    """A conflicting line among the ambiguous labels does not push the others on."""
    stretches = set_at(MARCH + 43_200, 600.0, 0.0)
    config = station(stretches)
    ds, true = clocked_readings(config, stretches)
    row = int(np.flatnonzero(ds["logger_time_main"].values > MARCH + 43_300)[0])
    order = np.insert(np.arange(true.size), row, row)
    twice = ds.isel(reading_main=order)
    twice["line_status_main"].values[row + 1] = 1
    out = with_true_times(twice, period(config, MARCH - DAY, 3))
    assert_allclose(out["start_time_main"], true[order], rtol=0, atol=1e-5)


@pytest.mark.parametrize("offset", ["+05:45", "-03:30", "+00:00", "-11:00", "+14:00"])
@pytest.mark.parametrize("label", ["start", "end"])
def test_zone_and_label_convention(offset: str, label: str) -> None:
    """A label less the zone, and less one interval where it marks the end."""
    _, found, true = start_times(set_at(MARCH + DAY, 35.0, 0.0), utc_offset=offset, label=label)
    assert_allclose(found, true, rtol=0, atol=1e-5)


def test_labels_by_hand() -> None:
    """12:00 at +05:45, marking the end of ten minutes, began at 06:05 UTC."""
    config = station_config({"main": logger(("global_1",), utc_offset="+05:45", interval=600)})
    (main,) = period(config).loggers
    noon = np.array([parse_utc("2031-03-16 12:00")])
    assert labels_as_utc_starts(noon, main)[0] == parse_utc("2031-03-16 06:05")
    start = replace(main, label="start", utc_offset=-34200)
    assert labels_as_utc_starts(noon, start)[0] == parse_utc("2031-03-16 21:30")


def test_policy_hold_keeps_the_earlier_error() -> None:
    """Drift of 20 s from left to found: half a day on, interpolated 10 s, held none of it."""
    stretches = [Stretch(MARCH, MARCH + DAY, 0.0, 20.0)]
    config = station(stretches)
    ds, true = clocked_readings(config, stretches)
    hold = Processing.model_validate({"time_correct": {"policy": "hold"}})
    held = with_true_times(ds, period(config, MARCH - DAY, 3, hold))["start_time_main"].values
    assert_array_equal(held, ds["logger_time_main"].values)
    assert held[720] - true[720] == pytest.approx(10.0, abs=0.02)


def test_before_the_first_and_after_the_last_check_the_error_is_held() -> None:
    """Drift is not carried on beyond the checks."""
    stretches = [Stretch(MARCH, MARCH + DAY, 10.0, 20.0)]
    config = station(stretches)
    ds = readings(config, start=MARCH - DAY, minutes=3 * 1440)
    out = with_true_times(ds, period(config, MARCH - DAY, 3))
    error = out["logger_time_main"].values - out["start_time_main"].values
    assert_allclose(error[[0, 1439]], 10.0, rtol=0, atol=1e-6)
    assert_allclose(error[[-1, -1439]], 20.0, rtol=0, atol=1e-6)


def test_a_time_signal_has_no_error() -> None:
    """Checks of a disciplined clock are not applied."""
    stretches = [Stretch(MARCH, MARCH + DAY, 40.0, 40.0)]
    config = station(stretches, clock={"discipline": "time_signal", "bound": 1.0})
    out = timed(config, period(config), readings(config))
    assert_array_equal(out["start_time_main"], out["logger_time_main"])


def test_a_label_that_the_clock_can_never_have_shown() -> None:
    """Set forward over it: such a reading is marked, and keeps the nearest line."""
    stretches = set_at(MARCH + 43_200, -600.0, 0.0)
    config = station(stretches)
    ds = readings(config)
    out = with_true_times(ds, period(config, MARCH - DAY, 3))
    marked = out["logger_time_main"].values[out["in_hole_main"].values]
    assert_array_equal(marked, np.arange(MARCH + 42_600, MARCH + 43_200, 60))


def test_only_readings_that_touch_the_period_stay() -> None:
    """One that began less than an interval before it still reaches into it."""
    stretches = [Stretch(MARCH - DAY, MARCH + 2 * DAY, 25.0, 25.0)]
    config = station(stretches)
    ds, _ = clocked_readings(config, stretches)
    start = with_true_times(ds, period(config, MARCH, 1))["start_time_main"].values
    assert (start[0], start[-1]) == (MARCH - 25, MARCH + DAY - 25)
    assert start.size == 1441


def test_every_logger_has_its_own_clock() -> None:
    """The other logger's readings are not touched by the checks of the first."""
    loggers = {
        "main": logger(("global_1",)),
        "beam": logger(("direct_1",), serial_number="NR-LG-2"),
    }
    entries = clock_entries([Stretch(MARCH, MARCH + DAY, 40.0, 40.0)])
    config = station_config(loggers, entries=entries)
    out = timed(config, period(config), readings(config), readings(config, "beam"))
    assert out["start_time_beam"].values[0] == MARCH
    assert out["start_time_main"].values[0] == MARCH - 40


def test_input_is_left_unchanged() -> None:
    """Nothing is written into the readings given."""
    stretches = set_at(MARCH + 43_200, 600.0, 0.0)
    config = station(stretches)
    ds, _ = clocked_readings(config, stretches)
    before = ds.copy(deep=True)
    with_true_times(ds, period(config))
    xr.testing.assert_identical(ds, before)


def test_no_reading_at_all() -> None:
    """An empty logger stays empty."""
    config = station([Stretch(MARCH, MARCH + DAY, 0.0, 0.0)])
    ds = readings(config).isel(reading_main=slice(0))
    assert with_true_times(ds, period(config)).sizes["reading_main"] == 0


def test_unbounded_segments_become_infinite() -> None:
    """Far past and far future are no instants."""
    lines = clock_lines(
        (ClockSegment(FAR_PAST, 5, 1.0, 1.0, False), ClockSegment(5, FAR_FUTURE, 2.0, 2.0, False))
    )
    assert_array_equal(lines.start_true, [-np.inf, 5])
    assert_array_equal(lines.end_true, [5, np.inf])


def test_months_since_epoch() -> None:
    """Across a year's end, and before 1970."""
    texts = ["1969-12-31 23:59", "1970-01-01", "2031-12-31 23:59", "2032-01-01"]
    labels = np.array([parse_utc(t) for t in texts], np.int64)
    assert_array_equal(months_since_epoch(labels), [-1, 0, 743, 744])


def test_passes_by_hand() -> None:
    """Set back two minutes at 10:04 by its clock: 10:02 and 10:03 stand twice."""
    labels = np.array([0, 60, 120, 180, 120, 180, 240], np.int64)
    lines = clock_lines(
        (
            ClockSegment(FAR_PAST, 120, 120.0, 120.0, True),
            ClockSegment(120, FAR_FUTURE, 0.0, 0.0, True),
        )
    )
    kept = np.ones(labels.size, bool)
    got = passes_in_file_order(labels, labels + 59.5, kept, lines)
    assert_array_equal(got, [0, 0, 0, 0, 1, 1, 0])


def test_an_interval_cut_by_a_setting_belongs_to_the_clock_that_finished_it() -> None:
    """Set back 35 s on the hour: 00:00 is begun twice, and written once, by the later clock."""
    config = station(set_at(MARCH + DAY, 35.0, 0.0))
    ds = readings(config, start=MARCH + DAY - 600, minutes=20)
    start = with_true_times(ds, period(config, MARCH, 2))["start_time_main"].values
    expected = MARCH + DAY - 600 + 60.0 * np.arange(20) - np.repeat([35.0, 0.0], 10)
    assert_array_equal(start, expected)
