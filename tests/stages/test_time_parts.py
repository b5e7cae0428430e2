"""Labels from parts are those of the standard library's calendar."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from sunledger.stages.time_parts import labels_of_parts

MOMENTS = st.datetimes(datetime(1, 1, 1), datetime(9999, 12, 31))


@given(st.lists(MOMENTS, min_size=1, max_size=30), st.integers(1, 4))
def test_labels_are_those_of_the_standard_library(moments: list[datetime], times: int) -> None:
    """By month and day, and by day of the year; days in any order, each several times."""
    moments = [m.replace(microsecond=0) for m in moments for _ in range(times)]
    start = datetime(1970, 1, 1, tzinfo=UTC)
    expected = [(m.replace(tzinfo=UTC) - start) // timedelta(seconds=1) for m in moments]
    clock = {
        "H": np.array([m.hour for m in moments]),
        "M": np.array([m.minute for m in moments]),
        "S": np.array([m.second for m in moments]),
    }
    year = np.array([m.year for m in moments], np.int32)
    by_month = {"m": np.array([m.month for m in moments]), "d": np.array([m.day for m in moments])}
    by_day = {"j": np.array([m.timetuple().tm_yday for m in moments])}
    for day in (by_month, by_day):
        labels, valid = labels_of_parts({"Y": year, **day, **clock})
        assert valid.all()
        assert labels.tolist() == expected


def test_what_the_calendar_lacks() -> None:
    """The 29th of February of a common year, month 13, day 0; none spoils its neighbours."""
    parts = {"Y": [2031, 2032, 2031, 2031, 2031], "m": [2, 2, 13, 1, 1], "d": [29, 29, 1, 0, 1]}
    _, valid = labels_of_parts({key: np.array(part) for key, part in parts.items()})
    assert valid.tolist() == [False, True, False, False, True]


def test_no_rows() -> None:
    labels, valid = labels_of_parts({"Y": np.zeros(0, np.int32)})
    assert labels.size == valid.size == 0
