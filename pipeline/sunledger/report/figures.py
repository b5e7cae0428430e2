"""Figures of product files, each a function that returns a matplotlib figure."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from sunledger.physics.closure import closure_residual
from sunledger.report.axes import new_axes, say_empty
from sunledger.report.figures_of_findings import evidence_of, sun_path_map
from sunledger.report.figures_of_minutes import (
    Array,
    Minutes,
    day_by_minute,
    day_grid,
    first_day,
    flags_by_minute,
    flags_over_time,
    grades_by_minute,
    minutes_of,
    month_days,
)
from sunledger.report.figures_of_months import (
    events_over_time,
    finding_points,
    monthly_history,
    trend,
)
from sunledger.report.figures_of_network import good_shares, means_by_station
from sunledger.report.trends import (
    lean_over_months,
    night_offsets_over_months,
    responsivity_over_months,
)
from sunledger.vocabulary import GRADES

__all__ = [
    "clock_residuals",
    "closure_minutes",
    "closure_over_azimuth",
    "closure_scatter",
    "day_by_minute",
    "events_over_time",
    "evidence_of",
    "finding_points",
    "flags_by_minute",
    "flags_over_time",
    "good_shares",
    "grades_by_minute",
    "lean_over_months",
    "means_by_station",
    "monthly_history",
    "night_offsets",
    "night_offsets_over_months",
    "responsivity_over_months",
    "sun_path_map",
    "trend",
]

HIGHEST_ZENITH = 75.0
"""Beyond it, refraction and the horizon rule closure. [degree]"""
LEAST_SUM = 50.0
"""Component sum below which a closure ratio says little. [W m-2]"""
NIGHT_ZENITH = 100.0
"""Sun low enough that no light of it is left in the sky. [degree]"""


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
        days = held + 1 + first_day(ds)
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
        axes.plot(month_days(ds), ds[name].values, style, label=label, linewidth=1)
    axes.set(xlabel="day of the month, UTC", ylabel="true start less minute [s]")
    axes.legend(fontsize=8) if names else say_empty(axes, "no logger")
    return figure
