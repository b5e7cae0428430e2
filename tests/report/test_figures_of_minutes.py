"""Figures by day and minute are tested by the data they draw."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from drawn_minutes import START, minutes
from sunledger.report import figures_of_minutes as figures
from sunledger.vocabulary import GRADES, TESTS


def test_days_are_rows_and_minutes_columns() -> None:
    """The 61st minute of the second day lies in row 1, column 60, and what is not there is NaN."""
    ds = minutes()
    ds["ghi"][1440 + 60] = 7.0
    ds["ghi"][5] = np.nan
    drawn = figures.day_by_minute(ds, "ghi").axes[0].images[0].get_array()
    assert drawn is not None
    assert drawn.shape == (2, 1440)
    assert drawn[1, 60] == 7.0
    assert np.ma.getmaskarray(drawn)[0, 5] or np.isnan(drawn[0, 5])


def test_darkness_is_dark() -> None:
    """The scale of the shortwave begins at 0 and does not shrink to the noise of a polar night."""
    ds = minutes(zenith=110.0)
    ds["ghi"][:] = -1.0
    assert figures.day_by_minute(ds, "ghi").axes[0].images[0].get_clim() == (0.0, 50.0)
    assert figures.day_by_minute(minutes(), "ghi").axes[0].images[0].get_clim() == (0.0, 500.0)


def test_a_file_that_begins_late_starts_at_its_own_day() -> None:
    """The axis of days begins with the day of the month."""
    axes = figures.day_by_minute(minutes(start=START + 9 * 86400), "ghi").axes[0]
    assert sorted(axes.get_ylim()) == [9.5, 11.5]


def test_worse_grades_are_darker() -> None:
    """Grey falls from good to bad, and missing is empty."""
    ds = minutes()
    order = ("good", "not_evaluated", "questionable", "bad", "missing")
    ds["ghi_grade"][:5] = [GRADES[g] for g in order]
    drawn = figures.grades_by_minute(ds, "ghi").axes[0].images[0].get_array()
    assert drawn is not None
    row = np.ma.filled(np.ma.asarray(drawn, float), np.nan)[0, :5]
    assert np.all(np.diff(row[:4]) < 0)
    assert np.isnan(row[4])


def test_a_test_that_failed_has_a_row_with_its_minutes() -> None:
    """Only tests that failed are drawn, at the time at which they did."""
    ds = minutes()
    ds["ghi_flags"][720] = TESTS["spike"].mask
    lines = figures.flags_over_time(ds, "ghi").axes[0].lines
    assert [line.get_gid() for line in lines] == ["spike"]
    assert_allclose(lines[0].get_xdata(), [1.5])
    assert not figures.flags_over_time(ds, "dhi").axes[0].lines


def test_the_more_tests_failed_the_darker() -> None:
    """Tests that tell of the sun are not counted; what is missing is empty."""
    ds = minutes()
    for at, names in enumerate(
        ((), ("zenith_changes_fast",), ("spike",), ("spike", "stuck_value"), tuple(TESTS))
    ):
        ds["ghi_flags"][at] = sum(TESTS[n].mask for n in names)
    ds["ghi"][5] = np.nan
    drawn = figures.flags_by_minute(ds, "ghi").axes[0].images[0].get_array()
    row = np.ma.filled(np.ma.asarray(drawn, float), np.nan)[0, :6]
    assert_allclose(row, [1.0, 1.0, 0.75, 0.5, 0.0, np.nan])


def test_the_axis_of_flags_spans_the_days_of_the_file() -> None:
    ds = minutes()
    ds["ghi_flags"][720] = TESTS["spike"].mask
    assert figures.flags_over_time(ds, "ghi").axes[0].get_xlim() == (1.0, 3.0)


@pytest.mark.parametrize("name", ["ghi", "dhi"])
def test_an_empty_month_still_gives_figures(name: str) -> None:
    """No minute at all is no reason to fail."""
    empty = minutes().isel(time=slice(0, 0))
    assert figures.day_by_minute(empty, name).axes
    assert figures.flags_over_time(empty, name).axes[0].texts
    assert figures.flags_by_minute(empty, name).axes
