"""From aggregates in memory to the specification of the file of a year."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import xarray as xr

from sunledger.archive.conventions import (
    EPOCH,
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
from sunledger.archive.conventions_ratios import (
    RATIOS,
    clear_minute_variables,
    possible_sunshine,
    ratio_variables,
)
from sunledger.archive.products import FileContext, file_attributes, file_history, parts_of
from sunledger.archive.readings_file import INSTRUMENT_WORDS
from sunledger.archive.specification import Array, Attribute, FileSpec, VariableSpec
from sunledger.config.models.aggregation import AggregateSettings
from sunledger.config.resolve import Period
from sunledger.vocabulary import AIR, DERIVED, QUANTITIES

RESOLUTIONS = {
    "5min": "PT5M",
    "10min": "PT10M",
    "15min": "PT15M",
    "30min": "PT30M",
    "hourly": "PT1H",
    "daily": "P1D",
    "monthly": "P1M",
    "yearly": "P1Y",
}
PERIOD_WORDS = {
    "5min": "five minutes",
    "10min": "ten minutes",
    "15min": "quarter of an hour",
    "30min": "half hour",
    "hourly": "hour",
    "daily": "day",
    "monthly": "month",
    "yearly": "year",
}

SELECTED = (
    "; diffuse plus direct on the horizontal where both count, else the pyranometer, else missing;"
    " a lapse of the sum is widened by 2 minutes on either side and the sum is taken again only"
    " where it lasts 5 minutes, so that the source never changes twice within 5 minutes"
)


def _method_words(product: str, settings: AggregateSettings) -> tuple[str, str]:
    """How a mean is made, and when it is withheld."""
    grades = f"; grades that count: {', '.join(settings.counting_grades)}"
    share = settings.least_share(product)
    if product == "yearly":
        words = "mean of the months, each weighted by its length; of a month: "
        method, rule = _method_words("monthly", settings)
        months = f"withheld where fewer than {settings.least_months} months have a value; {rule}"
        return words + method, months
    if product != "monthly" or settings.monthly_method == "plain":
        return (
            f"mean of the minutes that count{grades}{_night_words(settings)}",
            f"a value is withheld where less than {share:g} of the minutes count",
        )
    method, rule = _MONTHLY_WORDS[settings.monthly_method](settings)
    return method + grades, rule


def _night_words(settings: AggregateSettings) -> str:
    if settings.night == "asked":
        return ""
    tolerance = settings.sunrise_tolerance
    zenith = 90.0 - tolerance if tolerance > 0 else settings.night_zenith
    return (
        f"; shortwave: the share is asked of the minutes with a zenith angle up to {zenith:g}"
        " degree, whose mean stands for all of them; the others are taken as read, and enter as 0"
        " where they do not count"
    )


def _composite_words(settings: AggregateSettings) -> tuple[str, str]:
    bin_words = {"daily_bin": "bin of a day", "monthly_bin": "bin of all days of the month"}
    return (
        "mean of the mean diurnal cycle in 96 bins of 15 minutes (Roesch et al. 2011, Atmos."
        " Meas. Tech. 4, 339-354); shortwave is 0 where the zenith angle exceeds"
        f" {settings.night_zenith:g} degree",
        f"a {bin_words[settings.composite_share_of]} needs {settings.least_share_bin:g} of its"
        " minutes; withheld where one of the 96 times of day has bins on fewer than"
        f" {settings.composite_least_days} days",
    )


def _whole_days_words(settings: AggregateSettings) -> tuple[str, str]:
    return (
        "mean of the days of which every hour counts (rule of the World Radiation Data Centre);"
        f" a shortwave hour with the sun no higher than {settings.low_sun:g} degree may be missing"
        " and then adds nothing",
        f"an hour needs {settings.least_share_hourly:g} of its minutes; withheld where more than"
        f" {settings.most_days_missing} days of the month are missing",
    )


def _half_days_words(settings: AggregateSettings) -> tuple[str, str]:
    return (
        "mean of the days with half of their daytime minutes, of longwave half of all minutes"
        " (rule of Natsis et al. for a 30-year series); of shortwave the mean by day stands for all"
        " of the day, and the night is taken as read, 0 where it was not",
        f"withheld where fewer than {settings.least_days} days have half of their minutes",
    )


_MONTHLY_WORDS = {
    "diurnal_composite": _composite_words,
    "whole_days": _whole_days_words,
    "half_days": _half_days_words,
}


def _aggregate_notes(product: str, resolved: Period) -> AggregateNotes:
    method, completeness = _method_words(product, resolved.processing.aggregate)
    return AggregateNotes(
        product,  # type: ignore[arg-type]
        method,
        "errors of one instrument, logger, clock or scale stay, each independent of the others;"
        " what is new each day or minute shrinks; gaps add theirs",
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
    if "clear_minutes" in ds:
        out += clear_minute_variables(ds["clear_minutes"].values, ds["clear_minutes_told"].values)
    for name in (n for n in RATIOS if n in ds):
        share = resolved.processing.aggregate.least_share(product)
        rule = f"withheld where less than {share:g} of the minutes with sun count"
        said = replace(notes, completeness=rule)
        out += ratio_variables(name, parts_of(ds, name, suffixes), said)
    return out


def _duration(seconds: int) -> str:
    """In the form of ISO 8601."""
    days, rest = divmod(seconds, 86400)
    hours, minutes = divmod(rest // 60, 60)
    return f"P{days}D" + (f"T{hours}H{minutes}M" if rest else "")


def _clock_time(labels: Array, clock: tuple[str, str]) -> VariableSpec:
    name, words = clock
    attributes: dict[str, Attribute] = {
        "long_name": f"start of the period as shown by {words}",
        "units": EPOCH,
        "calendar": "standard",
        "comment": f"date and time of {words}, counted as if they were UTC",
    }
    return VariableSpec(name, ("time",), labels.astype(np.float64), attributes)


def aggregate_file(
    ds: xr.Dataset, context: FileContext, product: str, clock: tuple[str, str] = ("", "")
) -> FileSpec:
    """
    Specification of the product of a year that holds hours, days or other periods.

    Parameters
    ----------
    ds : xarray.Dataset
        Aggregates of the year's months, joined.
    context : FileContext
        Station and period.
    product : str
        Such as ``hourly``.
    clock : (str, str)
        Name of the variable that holds what the clock of the periods shows, and that clock in
        words; both empty for UTC.

    Returns
    -------
    spec : FileSpec
        To be written.
    """
    resolved, station = context.resolved, context.config.station
    starts, ends = ds["time"].values, ds["time_end"].values
    cut = f" Periods are cut by {clock[1]}; see {clock[0]}." if clock[0] else ""
    words = PERIOD_WORDS[product] + (f" of {clock[1]}" if clock[0] else "")
    notes = ProductNotes(
        product=product,
        period=f"{clock[0]}-{context.label}" if clock[0] else context.label,
        processing_level=f"{product} means and totals of calibrated and flagged minutes",
        source="surface observation: thermopile radiometers at a solar radiation station",
        instrument=", ".join(INSTRUMENT_WORDS[q] for q in resolved.quantities()),
        comment="Time stamps are the start of the period, in UTC; see time_bounds." + cut,
        start=float(starts[0]),
        last=float(starts[-1]),
        duration=_duration(int(ends[-1]) - int(starts[0])),
        resolution=RESOLUTIONS[product],
    )
    variables = (
        *time_variables(starts, ends, words),
        *((_clock_time(ds["clock_time"].values, clock),) if clock[0] else ()),
        *station_variables(place_of(station)),
        *_aggregated_variables(ds, product, resolved),
        *(instrument_container(p, INSTRUMENT_WORDS[q]) for p, q in resolved.positions),
    )
    dimensions = {"time": starts.size, "bound": 2}
    return FileSpec(
        file_attributes(context, notes), dimensions, variables, (file_history(context),)
    )
