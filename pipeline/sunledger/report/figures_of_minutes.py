"""Figures of the minutes of a month by day and time of day, for :mod:`sunledger.report.figures`.

Colours follow the lightness of a grey scale, so that a print without colour tells the same.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import xarray as xr
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.image import AxesImage

from sunledger.archive.minute_series import read_minutes
from sunledger.report.axes import new_axes, say_empty
from sunledger.vocabulary import GRADES, SHORTWAVE, TESTS

Array = npt.NDArray[np.float64]
Minutes = Path | xr.Dataset

DAY = 86400
GRADE_GREYS = {"good": 0.96, "not_evaluated": 0.8, "questionable": 0.45, "bad": 0.0}
LEAST_SCALE = 50.0
"""Top of the scale of the shortwave where there is less light, as at polar night. [W m-2]"""
NOT_COUNTED = ("missing", "below_horizon_profile", "zenith_changes_fast")
"""Tests that tell of the sun or of nothing measured, not of the value."""
MANY_FLAGS = 4
"""From this number of failed tests on, a minute is black."""


def minutes_of(source: Minutes) -> xr.Dataset:
    """
    Minutes of a product file.

    Parameters
    ----------
    source : Path or xarray.Dataset
        Minute file, or its minutes as
        :func:`sunledger.archive.minute_series.read_minutes` gives them.

    Returns
    -------
    minutes : xarray.Dataset
        Along ``time``. [s since 1970-01-01]
    """
    return source if isinstance(source, xr.Dataset) else read_minutes(source)


def day_grid(time: npt.NDArray[np.int64], values: npt.ArrayLike, interval: int) -> Array:
    """
    Values laid out by day and time of day.

    Parameters
    ----------
    time : array, shape (time,)
        Starts of the intervals. [s]
    values : array-like, shape (time,)
        Anything.
    interval : int
        Length of an interval. [s]

    Returns
    -------
    grid : array, shape (days, intervals of a day)
        From the day of the first time; NaN where there is no value.
    """
    days = (time - time[0] // DAY * DAY) // DAY if time.size else time
    grid = np.full((int(days[-1]) + 1 if time.size else 1, DAY // interval), np.nan)
    grid[days, time % DAY // interval] = np.asarray(values, dtype=np.float64)
    return grid


def day_by_minute(source: Minutes, quantity: str) -> Figure:
    """
    A quantity over the days of the month and the minutes of the day.

    Parameters
    ----------
    source : Path or xarray.Dataset
        Minute file.
    quantity : str
        Such as ``ghi``.

    Returns
    -------
    figure : matplotlib.figure.Figure
        Light is much, dark little; where nothing was measured, the hatched ground shows.
    """
    ds = minutes_of(source)
    figure, axes = new_axes(9.0, 4.2)
    image = _grid_image(axes, ds, ds[quantity].values)
    image.set_cmap("cividis")
    if quantity in SHORTWAVE:
        values = ds[quantity].values
        top = float(values[np.isfinite(values)].max(initial=0.0))
        image.set_clim(0.0, max(top, LEAST_SCALE))
    figure.colorbar(image, ax=axes, label=f"{quantity} [W m-2]")
    axes.set_title(f"{quantity}, day by minute")
    return figure


def grades_by_minute(source: Minutes, quantity: str) -> Figure:
    """
    Grades of a quantity over the days of the month and the minutes of the day.

    Parameters
    ----------
    source : Path or xarray.Dataset
        Minute file.
    quantity : str
        Such as ``ghi``.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The worse the grade, the darker; missing is hatched.
    """
    ds = minutes_of(source)
    grade = ds[f"{quantity}_grade"].values
    shade = np.full(grade.shape, np.nan)
    for name, grey in GRADE_GREYS.items():
        shade[grade == GRADES[name]] = grey
    figure, axes = new_axes(9.0, 4.2)
    image = _grid_image(axes, ds, shade)
    image.set(cmap="gray", clim=(0, 1))
    words = "white good, light not evaluated, dark questionable, black bad, hatched missing"
    axes.set_title(f"Grades of {quantity}: {words}", fontsize=9)
    return figure


def flags_by_minute(source: Minutes, quantity: str) -> Figure:
    """
    Number of tests failed, over the days of the month and the minutes of the day.

    Parameters
    ----------
    source : Path or xarray.Dataset
        Minute file.
    quantity : str
        Such as ``ghi``.

    Returns
    -------
    figure : matplotlib.figure.Figure
        The more tests failed, the darker. Tests that inform of the sun and of missing values alone
        are not counted; minutes without a value are hatched.
    """
    ds = minutes_of(source)
    word = ds[f"{quantity}_flags"].values
    counted = [bit.mask for name, bit in TESTS.items() if name not in NOT_COUNTED]
    failed = np.sum([(word & mask) != 0 for mask in counted], axis=0)
    shade = 1.0 - np.minimum(failed, MANY_FLAGS) / MANY_FLAGS
    figure, axes = new_axes(9.0, 4.2)
    present = np.isfinite(ds[quantity].values)
    image = _grid_image(axes, ds, np.where(present, shade, np.nan))
    image.set(cmap="gray", clim=(0, 1))
    words = f"white none, black {MANY_FLAGS} or more, hatched missing"
    axes.set_title(f"Tests failed by {quantity}: {words}", fontsize=9)
    return figure


def flags_over_time(source: Minutes, quantity: str) -> Figure:
    """
    Tests that failed, one row a test, over the month.

    Parameters
    ----------
    source : Path or xarray.Dataset
        Minute file.
    quantity : str
        Such as ``ghi``.

    Returns
    -------
    figure : matplotlib.figure.Figure
        A tick for each minute flagged; tests that never failed have no row.
    """
    ds = minutes_of(source)
    word = ds[f"{quantity}_flags"].values
    raised = [b for b in TESTS.values() if np.any(word & b.mask)]
    figure, axes = new_axes(9.0, 1.0 + 0.28 * max(len(raised), 1), left=2.6)
    days = month_days(ds)
    for row, bit in enumerate(raised):
        at = days[(word & bit.mask) != 0]
        axes.plot(at, np.full(at.size, row), "|", color="0.1", markersize=9, gid=bit.name)
    names = [f"{b.name.replace('_', ' ')} ({np.count_nonzero(word & b.mask)})" for b in raised]
    axes.set_yticks(range(len(raised)), names, fontsize=8)
    axes.set(xlabel="day of the month, UTC", title=f"Tests failed by {quantity} (minutes)")
    if days.size:
        axes.set_xlim(np.floor(days[0]), np.floor(days[-1]) + 1)
    axes.set_ylim(len(raised) - 0.5, -0.5) if raised else say_empty(axes, "no test failed")
    return figure


def _grid_image(axes: Axes, ds: xr.Dataset, values: npt.ArrayLike) -> AxesImage:
    grid = day_grid(ds["time"].values, values, int(ds.attrs["interval"]))
    first = first_day(ds)
    axes.patch.set(facecolor="1", hatch="////", edgecolor="0.7")
    image = axes.imshow(
        grid,
        aspect="auto",
        interpolation="none",
        extent=(0, 24, first + len(grid) + 0.5, first + 0.5),
    )
    axes.set(xlabel="hour, UTC", ylabel="day of the month", xticks=range(0, 25, 3))
    return image


def first_day(ds: xr.Dataset) -> int:
    """
    Days of the month before the first one of a file.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes.

    Returns
    -------
    days : int
        0 for a file that begins on the first.
    """
    if not ds.sizes["time"]:
        return 0
    first = ds["time"].values[:1].astype("datetime64[s]")
    return int((first.astype("datetime64[D]") - first.astype("datetime64[M]")).astype(int)[0])


def month_days(ds: xr.Dataset) -> Array:
    """
    Times as days of the month.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes.

    Returns
    -------
    days : array, shape (time,)
        1.5 for noon of the first. [d]
    """
    time = ds["time"].values
    start = time[0] // DAY * DAY if time.size else 0
    return (time - start) / DAY + 1 + first_day(ds)
