"""From aggregates in memory to the specification of the hourly, daily or monthly file of a year."""

from __future__ import annotations

from dataclasses import replace

import xarray as xr

from sunledger.archive.conventions import (
    instrument_container,
    station_variables,
    time_variables,
)
from sunledger.archive.conventions_aggregates import (
    AGGREGATE_PARTS,
    AggregateNotes,
    aggregate_variables,
    sunshine_variables,
)
from sunledger.archive.conventions_global import ProductNotes, place_of
from sunledger.archive.conventions_ratios import RATIOS, possible_sunshine, ratio_variables
from sunledger.archive.products import FileContext, file_attributes, file_history, parts_of
from sunledger.archive.readings_file import INSTRUMENT_WORDS
from sunledger.archive.specification import FileSpec, VariableSpec
from sunledger.config.resolve import Period
from sunledger.vocabulary import AIR, DERIVED, QUANTITIES

RESOLUTIONS = {"hourly": "PT1H", "daily": "P1D", "monthly": "P1M"}
PERIOD_WORDS = {"hourly": "hour", "daily": "day", "monthly": "month"}


SELECTED = (
    "; diffuse plus direct on the horizontal where both count, else the pyranometer, else missing;"
    " a lapse of the sum is widened by 2 minutes on either side and the sum is taken again only"
    " where it lasts 5 minutes, so that the source never changes twice within 5 minutes"
)


def _least_share(product: str, resolved: Period) -> float:
    settings = resolved.processing.aggregate
    return settings.least_share_hourly if product == "hourly" else settings.least_share_daily


def _aggregate_notes(product: str, resolved: Period) -> AggregateNotes:
    settings = resolved.processing.aggregate
    grades = ", ".join(settings.counting_grades)
    method = f"mean of the minutes that count; grades that count: {grades}"
    share = _least_share(product, resolved)
    completeness = f"a value is withheld where less than {share:g} of the minutes count"
    if product == "monthly" and settings.monthly_method == "diurnal_composite":
        method = (
            "mean of the mean diurnal cycle in 96 bins of 15 minutes (Roesch et al. 2011, Atmos."
            f" Meas. Tech. 4, 339-354); shortwave is 0 where the zenith angle exceeds"
            f" {settings.night_zenith:g} degree; grades that count: {grades}"
        )
        bin_words = {"daily_bin": "bin of a day", "monthly_bin": "bin of all days of the month"}
        completeness = (
            f"a {bin_words[settings.composite_share_of]} needs {settings.least_share_bin:g} of its"
            " minutes; withheld where one of the 96"
            " times of day has no bin in the whole month"
        )
    elif product == "monthly" and settings.monthly_method == "all_days":
        method = f"mean of the means of the complete days; grades that count: {grades}"
        completeness = (
            f"a complete day has {share:g} of its minutes; withheld where fewer than"
            f" {settings.least_days} days are complete"
        )
    return AggregateNotes(
        product,  # type: ignore[arg-type]
        method,
        "mean of the uncertainties of the minutes, their errors taken as fully correlated",
        completeness,
    )


def _aggregated_variables(ds: xr.Dataset, product: str, resolved: Period) -> list[VariableSpec]:
    notes = _aggregate_notes(product, resolved)
    holders = {quantity: position for quantity, position, *_ in resolved.primary}
    suffixes = AGGREGATE_PARTS | {"mean": ""}
    out: list[VariableSpec] = []
    rows = [QUANTITIES[q] for q in resolved.quantities()] + list(DERIVED.values())
    for row in [*rows, *(QUANTITIES[n] for n in AIR)]:
        if row.name not in ds:
            continue
        parts = parts_of(ds, row.name, suffixes)
        more = SELECTED if row.name == "ghi_selected" else ""
        said = replace(notes, method=notes.method + more)
        out += aggregate_variables(row, parts, said, holders.get(row.name, ""))
        plain = f"{row.name}_plain_mean"
        if plain in ds:
            named = replace(row, name=plain, long_name=f"plain mean of {row.long_name}")
            simple = replace(notes, method="plain mean of the minutes that count, however few")
            out += aggregate_variables(named, {"mean": ds[plain].values}, simple)
    if "sunshine_duration" in ds:
        parts = parts_of(ds, "sunshine_duration", suffixes)
        threshold = resolved.processing.aggregate.sunshine_threshold
        night = "minutes with the sun below the horizon count as without sunshine"
        out += sunshine_variables(parts, replace(notes, method=night), threshold)
        out.append(possible_sunshine(ds["possible_sunshine_duration"].values, notes))
    for name in (n for n in RATIOS if n in ds):
        share = _least_share(product, resolved)
        rule = f"withheld where less than {share:g} of the minutes with sun count"
        said = replace(notes, completeness=rule)
        out += ratio_variables(name, parts_of(ds, name, suffixes), said)
    return out


def aggregate_file(ds: xr.Dataset, context: FileContext, product: str) -> FileSpec:
    """
    Specification of an hourly, daily or monthly product of a year.

    Parameters
    ----------
    ds : xarray.Dataset
        Aggregates of the year's months, joined.
    context : FileContext
        Station and period.
    product : str
        ``hourly``, ``daily`` or ``monthly``.

    Returns
    -------
    spec : FileSpec
        To be written.
    """
    resolved, station = context.resolved, context.config.station
    starts, ends = ds["time"].values, ds["time_end"].values
    notes = ProductNotes(
        product=product,
        period=context.label,
        processing_level=f"{product} means and totals of calibrated and flagged minutes",
        source="surface observation: thermopile radiometers at a solar radiation station",
        instrument=", ".join(INSTRUMENT_WORDS[q] for q in resolved.quantities()),
        comment="Time stamps are the start of the period, in UTC; see time_bounds.",
        start=float(starts[0]),
        last=float(starts[-1]),
        duration=f"P{(int(ends[-1]) - int(starts[0])) // 86400}D",
        resolution=RESOLUTIONS[product],
    )
    variables = (
        *time_variables(starts, ends, PERIOD_WORDS[product]),
        *station_variables(place_of(station)),
        *_aggregated_variables(ds, product, resolved),
        *(instrument_container(p, INSTRUMENT_WORDS[q]) for p, q in resolved.positions),
    )
    dimensions = {"time": starts.size, "bound": 2}
    return FileSpec(
        file_attributes(context, notes), dimensions, variables, (file_history(context),)
    )
