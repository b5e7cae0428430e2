"""Global attributes: complete, in UTC, and apart from the change record the same every time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from archive.samples import ENTRY, NETWORK, STATION, TRACES, attributes, month_start, notes
from sunledger.archive.content import CHANGE_RECORD_ATTRIBUTES
from sunledger.archive.conventions_global import (
    global_attributes,
    iso_duration,
    iso_time,
    issue_attributes,
)

TIMES = month_start("2031-02") + 60 * np.arange(28 * 1440)


def test_times_are_utc() -> None:
    """Seconds since 1970 of 2001-09-09T01:46:40Z are 10**9, as widely published."""
    assert iso_time(10**9) == "2001-09-09T01:46:40Z"


def test_change_record_is_exactly_what_the_logical_digest_leaves_out() -> None:
    assert set(issue_attributes(ENTRY)) == CHANGE_RECORD_ATTRIBUTES
    said = notes("minute", "2031-02", TIMES, "PT1M")
    one = global_attributes(NETWORK, STATION, said, TRACES, ENTRY)
    entry = replace(
        ENTRY, version=2, action="revised", issued="2032-01-01", software="other", status="final"
    )
    other = global_attributes(NETWORK, STATION, said, TRACES, entry)
    differing = {name for name in one if one[name] != other[name]}
    assert differing == CHANGE_RECORD_ATTRIBUTES


def test_history_tells_when_what_by_what_and_why() -> None:
    entry = replace(ENTRY, version=2, action="revised", cause="certificate K-7")
    said = issue_attributes(entry)
    assert said["history"] == "2031-05-01T00:00:00Z revised by sunledger 0.1.0 (certificate K-7)"
    assert said["product_version"] == "2"
    assert said["date_issued"] == "2031-05-01T00:00:00Z"


def test_identifier_has_no_blanks_and_coverage_ends_at_the_last_stamp() -> None:
    said = attributes("minute", "2031-02", TIMES, "PT1M")
    assert said["id"] == "ossel-minute-2031-02"
    assert said["time_coverage_start"] == "2031-02-01T00:00:00Z"
    assert said["time_coverage_end"] == "2031-02-28T23:59:00Z"
    assert said["geospatial_bounds"] == "POINT (46.8 9.8)"
    assert said["Conventions"] == "CF-1.11, ACDD-1.3"


def test_nothing_is_empty_and_only_rising_time_is_a_time_series() -> None:
    minute = attributes("minute", "2031-02", TIMES, "PT1M")
    voltage = attributes("voltage", "2031-02", TIMES, "PT1M")
    assert [name for name, value in minute.items() if value == ""] == []
    assert set(minute) - set(voltage) == {"featureType"}


@pytest.mark.parametrize(
    ("seconds", "expected"), [(1, "PT1S"), (60, "PT1M"), (600, "PT10M"), (3600, "PT1H")]
)
def test_durations_are_in_their_largest_unit(seconds: int, expected: str) -> None:
    """ISO 8601, as ACDD asks for."""
    assert iso_duration(seconds) == expected
