"""Figures of product files, each a function that returns a matplotlib figure.

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

from sunledger.archive.products import read_minutes
from sunledger.physics.closure import closure_residual
from sunledger.report.axes import new_axes, say_empty
from sunledger.report.figures_of_months import (
    events_over_time,
    finding_points,
    monthly_history,
    trend,
)
from sunledger.vocabulary import GRADES, TESTS

__all__ = [
    "clock_residuals",
    "closure_minutes",
    "closure_over_azimuth",
    "closure_scatter",
    "day_by_minute",
    "events_over_time",
    "finding_points",
    "flags_over_time",
    "grades_by_minute",
    "monthly_history",
    "night_offsets",
    "trend",
]

Array = npt.NDArray[np.float64]
Minutes = Path | xr.Dataset

DAY = 86400
HIGHEST_ZENITH = 75.0
"""Beyond it, refraction and the horizon rule closure. [degree]"""
LEAST_SUM = 50.0
"""Component sum below which a closure ratio says little. [W m-2]"""
NIGHT_ZENITH = 100.0
"""Sun low enough that no light of it is left in the sky. [degree]"""
GRADE_GREYS = {"good": 0.96, "not_evaluated": 0.8, "questionable": 0.45, "bad": 0.0}


def minutes_of(source: Minutes) -> xr.Dataset:
    """
    Minutes of a product file.

    Parameters
    ----------
    source : Path or xarray.Dataset
        Minute file, or its minutes as :func:`sunledger.archive.products.read_minutes` gives them.

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
    figure, axes = new_axes(9.0, 0.9 + 0.28 * max(len(raised), 1))
    days = _month_days(ds)
    for row, bit in enumerate(raised):
        at = days[(word & bit.mask) != 0]
        axes.plot(at, np.full(at.size, row), "|", color="0.1", markersize=9, gid=bit.name)
    names = [f"{b.name.replace('_', ' ')} ({np.count_nonzero(word & b.mask)})" for b in raised]
    axes.set_yticks(range(len(raised)), names, fontsize=8)
    axes.set(xlabel="day of the month, UTC", title=f"Tests failed by {quantity} (minutes)")
    axes.set_ylim(len(raised) - 0.5, -0.5) if raised else say_empty(axes, "no test failed")
    return figure


def closure_minutes(source: Minutes) -> dict[str, Array] | None:
    """
    What the closure figures draw.

    Parameters
    ----------
    source : Path or xarray.Dataset
        Minute file.

    Returns
    -------
    minutes : dict of array or None
        ``ghi``, ``sum`` and ``residual`` [W m-2], ``azimuth`` [degree] of the minutes in which no
        component is graded bad, the sun stands higher than 15 degrees and the sum exceeds
        50 W m-2; None where a component is not measured.
    """
    ds = minutes_of(source)
    if any(q not in ds for q in ("ghi", "dhi", "dni")):
        return None
    ghi, dhi, dni = (ds[q].values.astype(np.float64) for q in ("ghi", "dhi", "dni"))
    zenith = ds["solar_zenith_angle"].values.astype(np.float64)
    residual = np.asarray(closure_residual(ghi, dhi, dni, np.cos(np.radians(zenith))))
    good = np.isfinite(residual) & (zenith < HIGHEST_ZENITH) & (ghi - residual > LEAST_SUM)
    for q in ("ghi", "dhi", "dni"):
        good &= ds[f"{q}_grade"].values != GRADES["bad"]
    azimuth = ds["solar_azimuth_angle"].values.astype(np.float64)
    series = {"ghi": ghi, "sum": ghi - residual, "residual": residual, "azimuth": azimuth}
    return {name: values[good] for name, values in series.items()}


def closure_scatter(source: Minutes) -> Figure:
    """
    Global against the sum of diffuse and direct on the horizontal.

    Parameters
    ----------
    source : Path or xarray.Dataset
        Minute file.

    Returns
    -------
    figure : matplotlib.figure.Figure
        Points on the diagonal agree.
    """
    return _closure_figure(source, "sum", "ghi", "diffuse + direct · cos z [W m-2]", "ghi [W m-2]")


def closure_over_azimuth(source: Minutes) -> Figure:
    """
    Closure residual over the azimuth of the sun.

    Parameters
    ----------
    source : Path or xarray.Dataset
        Minute file.

    Returns
    -------
    figure : matplotlib.figure.Figure
        A lean of the global pyranometer, or a clock error, shows as a wave.
    """
    labels = ("azimuth of the sun [degree from north over east]", "ghi less sum [W m-2]")
    return _closure_figure(source, "azimuth", "residual", *labels)


def _closure_figure(source: Minutes, x: str, y: str, x_label: str, y_label: str) -> Figure:
    figure, axes = new_axes(5.4, 4.4)
    axes.set(xlabel=x_label, ylabel=y_label)
    found = closure_minutes(source)
    if found is None or not found["ghi"].size:
        say_empty(axes, "no minute with all three components and a sun above 15°")
        return figure
    axes.plot(found[x], found[y], ".", color="0.15", markersize=1.5, alpha=0.4, rasterized=True)
    if y == "ghi":
        axes.axline((0, 0), slope=1, color="C0", linewidth=1)
    else:
        axes.axhline(0, color="C0", linewidth=1)
    return figure


def night_offsets(source: Minutes) -> Figure:
    """
    Median signal of each shortwave quantity in the dark, night by night.

    Parameters
    ----------
    source : Path or xarray.Dataset
        Minute file.

    Returns
    -------
    figure : matplotlib.figure.Figure
        One line a quantity over the day of the month; the sun is 10 degrees below the horizon.
    """
    ds = minutes_of(source)
    dark = ds["solar_zenith_angle"].values > NIGHT_ZENITH
    figure, axes = new_axes(9.0, 3.0)
    interval = int(ds.attrs["interval"])
    for quantity, mark in (("ghi", "o-"), ("dhi", "s--"), ("dni", "^:"), ("swu", "d-.")):
        if quantity not in ds or not np.any(dark & np.isfinite(ds[quantity].values)):
            continue
        values = np.where(dark, ds[quantity].values, np.nan)
        rows = day_grid(ds["time"].values, values, interval)
        held = np.flatnonzero(np.isfinite(rows).any(axis=1))
        days = held + 1 + _first_day(ds)
        axes.plot(days, np.nanmedian(rows[held], axis=1), mark, label=quantity, markersize=4)
    axes.set(xlabel="day of the month, UTC", ylabel="night median [W m-2]")
    axes.legend(fontsize=8) if axes.lines else say_empty(axes, "no dark minute")
    return figure


def clock_residuals(source: Minutes) -> Figure:
    """
    What is left of each logger's clock error after labels were moved by whole intervals.

    Parameters
    ----------
    source : Path or xarray.Dataset
        Minute file.

    Returns
    -------
    figure : matplotlib.figure.Figure
        One line a logger over the month. [s]
    """
    ds = minutes_of(source)
    figure, axes = new_axes(9.0, 2.6)
    names = sorted(str(n) for n in ds if str(n).startswith("clock_residual_"))
    for name, style in zip(names, ("-", "--", ":", "-.") * len(names), strict=False):
        label = name.removeprefix("clock_residual_")
        axes.plot(_month_days(ds), ds[name].values, style, label=label, linewidth=1)
    axes.set(xlabel="day of the month, UTC", ylabel="true start less minute [s]")
    axes.legend(fontsize=8) if names else say_empty(axes, "no logger")
    return figure


def _grid_image(axes: Axes, ds: xr.Dataset, values: npt.ArrayLike) -> AxesImage:
    grid = day_grid(ds["time"].values, values, int(ds.attrs["interval"]))
    first = _first_day(ds)
    axes.patch.set(facecolor="1", hatch="////", edgecolor="0.7")
    image = axes.imshow(
        grid,
        aspect="auto",
        interpolation="none",
        extent=(0, 24, first + len(grid) + 0.5, first + 0.5),
    )
    axes.set(xlabel="hour, UTC", ylabel="day of the month", xticks=range(0, 25, 3))
    return image


def _first_day(ds: xr.Dataset) -> int:
    """Days of the month before the first one of the file."""
    if not ds.sizes["time"]:
        return 0
    first = ds["time"].values[:1].astype("datetime64[s]")
    return int((first.astype("datetime64[D]") - first.astype("datetime64[M]")).astype(int)[0])


def _month_days(ds: xr.Dataset) -> Array:
    time = ds["time"].values
    start = time[0] // DAY * DAY if time.size else 0
    return (time - start) / DAY + 1 + _first_day(ds)
