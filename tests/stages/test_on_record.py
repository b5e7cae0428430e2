"""What the record says of clock, age, level and soiling, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from invented import DAY, KINDS, MARCH, certificate, instrument, logger, period, station_config
from sunledger.config.models.base import parse_utc
from sunledger.stages.on_record import (
    clock_half_width,
    loss_on_record,
    tilt_on_record,
    years_of_age,
)

MINUTES = MARCH + 60 * np.arange(1440)


def test_a_held_clock_error_grows_with_the_time_since_the_check() -> None:
    """Half a second a day beyond the second that a check leaves open, both ways in time."""
    checks = [
        {"id": f"ck{i}", "type": "clock_check", "time": t, "logger": "main", "found": 3.0,
         "role": "keeper"} for i, t in enumerate(("2031-03-10", "2031-03-20"))
    ]  # fmt: skip
    resolved = period(station_config(entries=checks), parse_utc("2031-03-01"), days=40)
    time = parse_utc("2031-03-01") + DAY * np.arange(40)
    got = clock_half_width(resolved.loggers[0], time, 0.5)
    before = 1.0 + 0.5 * np.arange(9, 0, -1)
    after = 1.0 + 0.5 * np.arange(0, 21)
    assert_allclose(got, np.concatenate([before, np.ones(10), after]))


def test_a_clock_that_nobody_looked_at() -> None:
    """A minute either way; a clock on a time signal one second."""
    never = clock_half_width(period(station_config()).loggers[0], np.array([MARCH]), 0.5)
    assert_allclose(never, 60.0)
    signal = {"main": logger(tuple(KINDS), clock={"discipline": "time_signal"})}
    kept = clock_half_width(period(station_config(signal)).loggers[0], np.array([MARCH]), 0.5)
    assert_allclose(kept, 1.0)


def test_a_certificate_counts_as_a_year_old_until_it_is() -> None:
    """Dated 2028-03-16, noon of 2031-03-16 is 1095.5 days or 2.9993 years of 365.25 days later."""
    papers = [instrument(p, certificate(p, date="2028-03-16")) for p in KINDS]
    row = period(station_config(instruments=papers)).coefficients[0]
    dated = parse_utc("2028-03-16")
    assert years_of_age(row, dated + DAY * np.arange(365)) == 1.0
    assert years_of_age(row, dated - DAY * np.arange(365, 0, -1)) == 1.0
    assert years_of_age(row, np.array([MARCH + 43200])) == pytest.approx(2.99932, abs=1e-5)
    growing = years_of_age(row, dated + round(365.25 * DAY) + np.array([-60, 0, DAY]))
    assert_allclose(growing, [1.0, 1.0, 366.25 / 365.25])


def test_a_level_check_tells_of_the_time_before() -> None:
    """1 degree found at noon, nothing left: the usual 0.1 degree after, and at other positions."""
    check = {"id": "lv", "type": "level_check", "time": "2031-03-16T12:00:00", "role": "keeper",
             "position": "global_1", "found": {"size": 1.0}, "left": {"size": 0.0}}  # fmt: skip
    resolved = period(station_config(entries=[check]))
    assert_allclose(tilt_on_record(resolved, "global_1", MINUTES), np.repeat([1.0, 0.1], 720))
    assert tilt_on_record(resolved, "diffuse_1", MINUTES) == 0.1


def test_recorded_soiling_bounds_every_interval_that_it_touches() -> None:
    """5 % as stated, from within the minute 100 until the minute 200 begins."""
    wash = {"id": "cl", "type": "cleaning", "time": MARCH + 200 * 60, "positions": ["global_1"],
            "found": "dust", "role": "keeper", "soiled_since": MARCH + 100 * 60 + 30,
            "soiling_bound": 5.0}  # fmt: skip
    resolved = period(station_config(entries=[wash]))
    rows = {row.position: row for row in resolved.coefficients}
    expected = np.where((np.arange(1440) >= 100) & (np.arange(1440) < 200), 5.0, 0.0)
    assert_allclose(loss_on_record(resolved, rows["global_1"], MINUTES, 60), expected)
    assert loss_on_record(resolved, rows["direct_1"], MINUTES, 60) == 0.0
