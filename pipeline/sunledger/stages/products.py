"""From sums over the finest periods to the columns of one product."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.aggregation import AggregateSettings
from sunledger.datasets import as_variables
from sunledger.stages.cells import Cells, coarser
from sunledger.stages.indices import grade_shares, ratio_of_sums, source_shares, sunshine
from sunledger.stages.mean_uncertainty import by_days
from sunledger.stages.monthly import (
    Monthly,
    composite_means,
    half_day_means,
    month_number,
    month_statistics,
    plain_means,
    whole_day_means,
    year_means,
)
from sunledger.stages.periods import period_statistics
from sunledger.stages.time_bases import TimeBase
from sunledger.vocabulary import AIR, DERIVED, QUANTITIES

Parts = dict[str, npt.NDArray[Any]]

DAY = 86400
STEPS: dict[str, int] = {
    "5min": 300,
    "10min": 600,
    "15min": 900,
    "30min": 1800,
    "hourly": 3600,
    "daily": DAY,
    "monthly": 28 * DAY,
    "yearly": 365 * DAY,
}
"""Product → its length by the clock; of months and years the shortest. [s]"""
RATIOS = ("clearness_index", "diffuse_fraction")


def days_of(cells: Mapping[str, Cells]) -> Cells | None:
    """
    Days, from which all longer periods follow.

    Parameters
    ----------
    cells : dict of Cells
        With ``hourly``.

    Returns
    -------
    days : Cells or None
        An error of a day is squared, so that days add up. None without hours.
    """
    hours = cells.get("hourly")
    if hours is None:
        return None
    day = hours.labels // DAY
    return coarser(replace(hours, sums=by_days(hours.sums, day)), day)


def _periods(
    cells: Mapping[str, Cells], days: Cells | None, product: str, base: TimeBase
) -> Cells | None:
    if STEPS[product] < STEPS["daily"]:
        return cells.get(product)
    if product == "daily" or days is None:
        return days
    number = month_number(days.labels)
    if product == "monthly":
        return coarser(days, number)
    return _whole_years(coarser(days, number // 12), base)


def _whole_years(years: Cells, base: TimeBase) -> Cells:
    """A year is as long as the calendar says, whatever months are there."""
    interval = min(years.intervals.values(), default=60)
    names = [str(label.astype("M8[s]").astype("M8[Y]")) for label in years.labels]
    bounds = np.array([base.bounds(name, interval) for name in names])
    labels = np.array([np.datetime64(n, "s").astype(np.int64) for n in names])
    rest = (years.sums, years.lows, years.highs, years.intervals)
    return Cells(bounds[:, 0], bounds[:, 1], labels, *rest)


def _held(cells: Cells) -> list[str]:
    names = [key.removesuffix(".count") for key in cells.sums if key.endswith(".count")]
    return [name for name in names if name in QUANTITIES or name in DERIVED]


def _monthly(
    cells: Mapping[str, Cells], names: list[str], settings: AggregateSettings
) -> dict[str, Monthly]:
    """Means of months by the configured method."""
    hours, method = cells["hourly"], settings.monthly_method
    if method == "diurnal_composite":
        uncertain = [name for name in names if f"{name}.uncertainty_count" in hours.sums]
        return composite_means(cells["bins"], names, settings, uncertain)
    if method == "whole_days":
        return {name: whole_day_means(hours, name, settings) for name in names}
    if method == "half_days":
        days = coarser(hours, hours.labels // DAY)
        return {name: half_day_means(days, name, settings) for name in names}
    months = coarser(hours, month_number(hours.labels))
    return {name: plain_means(months, name, settings) for name in names}


def _statistics(
    cells: Mapping[str, Cells], periods: Cells, product: str, settings: AggregateSettings
) -> dict[str, Parts]:
    """Air has no exposure, and of months and years the plain mean."""
    out: dict[str, Parts] = {}
    share, held = settings.least_share(product), _held(periods)
    by_month = [n for n in held if n not in AIR] if product in ("monthly", "yearly") else []
    for name in (n for n in held if n not in by_month):
        out[name] = period_statistics(periods, name, share, settings)
        if name in AIR:
            del out[name]["exposure"]
    if by_month:
        made = _monthly(cells, by_month, settings)
        if product == "yearly":
            months = coarser(cells["hourly"], month_number(cells["hourly"].labels))
            made = {name: year_means(months, one, settings) for name, one in made.items()}
        for name, one in made.items():
            out[name] = month_statistics(periods, one, name, settings)
    return {name: out[name] for name in held}


def _columns(
    cells: Mapping[str, Cells], periods: Cells, product: str, settings: AggregateSettings
) -> dict[str, Parts]:
    out = _statistics(cells, periods, product, settings)
    for name in out:
        if f"{name}.grade_good" in periods.sums:
            out[name] |= grade_shares(periods, name)
    if "ghi_selected" in out:
        out["ghi_selected"] |= source_shares(periods)
    share = settings.least_share(product)
    for ratio in RATIOS:
        if f"{ratio}.upper" in periods.sums:
            out[ratio] = ratio_of_sums(periods, ratio, share)
    if "clear_minutes.told" in periods.sums:
        number, told = (periods.sums[f"clear_minutes.{n}"] for n in ("clear", "told"))
        out["clear_minutes"] = {"": number.astype(np.int32), "told": told.astype(np.int32)}
    if "sunshine_duration.count" in periods.sums:
        out |= sunshine(periods, share)
    return out


def aggregated(
    cells: Mapping[str, Cells],
    days: Cells | None,
    product: str,
    settings: AggregateSettings,
    base: TimeBase,
) -> xr.Dataset | None:
    """
    One product from sums over the finest periods.

    Parameters
    ----------
    cells : dict of Cells
        From :func:`sunledger.stages.aggregate.minute_cells`, whole months.
    days : Cells or None
        From :func:`days_of`; needed for a product of days and longer.
    product : str
        Key of `STEPS`.
    settings : AggregateSettings
        Completeness and methods.
    base : TimeBase
        The clock by which periods are cut.

    Returns
    -------
    aggregated : xarray.Dataset or None
        None where every series has a longer interval.
    """
    periods = _periods(cells, days, product, base)
    if periods is None:
        return None
    found = _columns(cells, periods, product, settings)
    coords = {"time": ("time", periods.starts), "time_end": ("time", periods.ends)}
    if base.name != "utc":
        coords["clock_time"] = ("time", periods.labels)
    series = {
        f"{quantity}_{suffix}" if suffix else quantity: ("time", values)
        for quantity, parts in found.items()
        for suffix, values in parts.items()
    }
    return xr.Dataset(as_variables(series), as_variables(coords))
