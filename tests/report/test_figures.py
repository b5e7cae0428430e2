"""Figures are tested by the data they draw, not by pixels."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose

from sunledger.report import figures
from sunledger.vocabulary import GRADES, TESTS

START = 1932768000  # 2031-04-01


def minutes(zenith: float = 60.0, days: int = 2, start: int = START) -> xr.Dataset:
    """Minutes of a steady sky with a closing sum: 500 = 100 + 800 cos 60."""
    size = days * 1440
    held = {"ghi": 500.0, "dhi": 100.0, "dni": 800.0, "solar_zenith_angle": zenith}
    series = {name: ("time", np.full(size, value)) for name, value in held.items()}
    series["solar_azimuth_angle"] = ("time", np.linspace(90.0, 270.0, size))
    series["clock_residual_main"] = ("time", np.full(size, 3.0))
    for q in ("ghi", "dhi", "dni"):
        series[f"{q}_grade"] = ("time", np.full(size, GRADES["good"], np.int8))
        series[f"{q}_flags"] = ("time", np.zeros(size, np.int32))
        series[f"{q}_conditions"] = ("time", np.zeros(size, np.int32))
    return xr.Dataset(series, {"time": start + 60 * np.arange(size)}, {"interval": 60})


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


def test_closure_of_a_closing_sky_is_zero() -> None:
    """Residual is global less diffuse less direct times cosine; bad minutes are left out."""
    ds = minutes()
    ds["ghi"][3] = 510.0
    ds["dni_grade"][4] = GRADES["bad"]
    found = figures.closure_minutes(ds)
    assert found is not None
    assert found["residual"].size == 2 * 1440 - 1
    assert_allclose(found["residual"][3], 10.0)
    assert_allclose(np.delete(found["residual"], 3), 0.0, atol=1e-9)
    line = figures.closure_scatter(ds).axes[0].lines[0]
    assert_allclose(np.asarray(line.get_xdata()), 500.0)
    over = figures.closure_over_azimuth(ds).axes[0].lines[0]
    assert_allclose(np.asarray(over.get_xdata()), found["azimuth"])


def test_closure_without_sun_or_component_says_so() -> None:
    """Polar night and a lone component give a figure with words and no point."""
    night = figures.closure_scatter(minutes(zenith=110.0)).axes[0]
    assert not night.lines
    assert "no minute" in night.texts[0].get_text()
    assert figures.closure_minutes(minutes().drop_vars("dni")) is None
    assert figures.closure_scatter(minutes().drop_vars("dni")).axes[0].texts


def test_night_offsets_are_medians_of_the_dark() -> None:
    """A night of 1440 dark minutes has the median of its values; by day nothing is drawn."""
    ds = minutes(zenith=110.0)
    ds["ghi"][:] = -2.0
    ds["ghi"][0] = 900.0
    lines = {str(li.get_label()): li for li in figures.night_offsets(ds).axes[0].lines}
    assert_allclose(np.asarray(lines["ghi"].get_ydata()), [-2.0, -2.0])
    assert not figures.night_offsets(minutes()).axes[0].lines


def test_clock_residuals_name_their_logger() -> None:
    """One line a logger."""
    (line,) = figures.clock_residuals(minutes()).axes[0].lines
    assert line.get_label() == "main"
    assert_allclose(np.asarray(line.get_ydata()), 3.0)


@pytest.mark.parametrize("name", ["ghi", "dhi"])
def test_an_empty_month_still_gives_figures(name: str) -> None:
    """No minute at all is no reason to fail."""
    empty = minutes().isel(time=slice(0, 0))
    assert figures.day_by_minute(empty, name).axes
    assert figures.flags_over_time(empty, name).axes[0].texts
