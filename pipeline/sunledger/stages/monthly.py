"""Means of months and years: the diurnal composite, and the other published rules."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from sunledger.config.models.aggregation import AggregateSettings
from sunledger.physics.aggregation import composite_of_bins
from sunledger.physics.strata import Stratum
from sunledger.stages.cells import Cells, coarser
from sunledger.stages.mean_uncertainty import missing_in_composite, missing_uncertainty
from sunledger.stages.periods import (
    Series,
    apart_by_day_and_night,
    counted_uncertainty,
    is_shortwave,
    masked,
    period_statistics,
    quotient,
    stratum_sums,
)
from sunledger.vocabulary import WITHHELD

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Counts = npt.NDArray[np.int64]
Parts = dict[str, npt.NDArray[Any]]

DAY, BIN = 86400, 900


class Monthly(NamedTuple):
    """
    Means of months.

    Parameters
    ----------
    mean : numpy.ndarray, shape (month,)
        NaN where withheld.
    words : numpy.ndarray of int32, shape (month,)
        Bits of ``vocabulary.WITHHELD``.
    days : numpy.ndarray of int32, shape (month,)
        Days behind the mean; of the composite, behind the time of day with the fewest. -1 where
        the method counts none.
    missing : numpy.ndarray or None, shape (month,)
        What is missing adds to the expanded uncertainty; None where the method does not tell.
    """

    mean: Array
    words: npt.NDArray[np.int32]
    days: npt.NDArray[np.int32]
    missing: Array | None = None


def month_number(labels: Counts) -> Counts:
    """
    Months since 1970.

    Parameters
    ----------
    labels : numpy.ndarray of int64, shape (period,)
        What the clock shows. [s]

    Returns
    -------
    number : numpy.ndarray of int64, shape (period,)
        Rising with time.
    """
    return labels.astype("M8[s]").astype("M8[M]").astype(np.int64)


def bin_sums(
    series: Mapping[str, Series], day: Stratum, known: Mapping[str, Parts]
) -> dict[str, Parts]:
    """
    Sums of the bins of the diurnal composite.

    Parameters
    ----------
    series : dict of Series
        Minutes by quantity.
    day : Stratum
        All minutes but those in which shortwave is 0, also where a reading is missing; that rule
        belongs to the method (Roesch et al. 2011) and touches nothing else.
    known : dict of dict of numpy.ndarray, shape (bin,)
        Their ``count`` and ``total`` over the bins, without the rule.

    Returns
    -------
    sums : dict of dict of numpy.ndarray, shape (bin,)
        By quantity ``count``, ``total`` and ``seen``, the last without the rule.
    """
    out = {name: known[name] | {"seen": known[name]["count"]} for name in series}
    night = day.segments.widths - day.possible
    light = {name: one for name, one in series.items() if is_shortwave(name)}
    for name, lit in stratum_sums(light, known, day).items():
        out[name] |= {"count": lit["count"] + night, "total": lit["total"]}
    return out


def composite_means(
    bins: Cells, names: Sequence[str], settings: AggregateSettings, uncertain: Collection[str] = ()
) -> dict[str, Monthly]:
    """
    Means of months by the diurnal composite.

    Parameters
    ----------
    bins : Cells
        Quarters of an hour of whole months.
    names : sequence of str
        Quantities.
    settings : AggregateSettings
        Share of a bin and least number of days.
    uncertain : collection of str
        Those of which it is told what is missing.

    Returns
    -------
    monthly : dict of Monthly
        By quantity; one value for each month that the bins touch.
    """
    spans = _spans(bins.labels)
    first = np.array([span[0] for span in spans])
    seen = np.stack([np.add.reduceat(bins.sums[f"{n}.seen"], first) for n in names])
    told = np.array([name in uncertain for name in names])
    found = [_of_month(bins, names, slice(*span), told, settings) for span in spans]
    mean, fewest, missing = (np.stack(column, axis=1) for column in zip(*found, strict=True))
    mean, words, days = _composites(mean, fewest, seen, settings)
    lacking = dict(zip(np.array(names)[told], missing, strict=True))
    return {
        name: Monthly(mean[row], words[row], days[row], lacking.get(name))
        for row, name in enumerate(names)
    }


def _of_month(
    bins: Cells, names: Sequence[str], inside: slice, told: Mask, settings: AggregateSettings
) -> tuple[Array, Counts, Array]:
    """Means and fewest days of a month by quantity, and what is missing in those to be told of."""
    number, total = (
        _by_day([bins.sums[f"{name}.{part}"][inside] for name in names], bins.labels[inside])
        for part in ("count", "total")
    )
    wanted = np.array([settings.least_share_bin * BIN / bins.intervals[n] for n in names])
    made = composite_of_bins(number, total, wanted[:, None, None], settings.composite_share_of)
    number = number[told]
    missing = missing_in_composite(total[told] / np.maximum(number, 1), number > 0)
    return made.mean, made.days.min(axis=-1), missing


def _by_day(rows: Sequence[npt.NDArray[Any]], labels: Counts) -> npt.NDArray[Any]:
    """Shape (quantity, day, bin); 0 where a bin of the day lies outside."""
    out = values = np.stack(rows)
    first, last = int(labels[0]) // DAY, int(labels[-1]) // DAY
    if labels.size != (size := (last - first + 1) * (DAY // BIN)):
        out = np.zeros((values.shape[0], size), values.dtype)
        out[:, (labels - first * DAY) // BIN] = values
    return out.reshape(values.shape[0], -1, DAY // BIN)


def _composites(
    mean: Array, fewest: Counts, seen: Counts, settings: AggregateSettings
) -> tuple[Array, npt.NDArray[np.int32], npt.NDArray[np.int32]]:
    """Means, words and days, of shape (quantity, month)."""
    few = fewest < settings.composite_least_days
    words = np.where(few, WITHHELD["few_days"].mask, 0)
    words = np.where(fewest == 0, WITHHELD["composite_incomplete"].mask, words)
    words = np.where(seen == 0, WITHHELD["no_valid_sample"].mask, words).astype(np.int32)
    days = np.where(seen == 0, 0, fewest).astype(np.int32)
    return masked(mean, words), words, days


def _spans(labels: Counts) -> list[tuple[int, int]]:
    """First cell and the one past the last of each month that labels in order touch."""
    first, last = month_number(labels[[0, -1]]).tolist()
    starts = np.arange(first, last + 1).astype("M8[M]").astype("M8[s]").astype(np.int64)
    edges = [*np.searchsorted(labels, starts).tolist(), labels.size]
    return [span for span in pairwise(edges) if span[0] < span[1]]


def whole_day_means(hours: Cells, quantity: str, settings: AggregateSettings) -> Monthly:
    """
    Means of months by the days of which every hour counts.

    Parameters
    ----------
    hours : Cells
        With the stratum ``high`` for shortwave.
    quantity : str
        The quantity.
    settings : AggregateSettings
        Share of an hour, and how many days may be missing.

    Returns
    -------
    monthly : Monthly
        The mean of the days, as the World Radiation Data Centre makes its totals: a shortwave hour
        with low sun may be missing and then adds nothing.
    """
    count = np.asarray(hours.sums[f"{quantity}.count"])
    possible = hours.possible(quantity)
    full = (count > 0) & (count >= settings.least_share_hourly * possible - 1e-9)
    excused = np.zeros(full.size, dtype=bool)
    if is_shortwave(quantity):
        excused = np.asarray(hours.sums[f"{quantity}.high_possible"]) == 0
    energy = np.where(full, quotient(hours.sums[f"{quantity}.total"], count), 0.0) * hours.seconds
    parts: Parts = {
        "day.lacking": (~full & ~excused).astype(np.int64),
        "day.full": full.astype(np.int64),
        "day.energy": energy,
    }
    table = Cells(hours.starts, hours.ends, hours.labels, parts)
    days = coarser(table, hours.labels // DAY)
    good = (days.sums["day.lacking"] == 0) & (days.sums["day.full"] > 0)
    mean = np.where(good, np.asarray(days.sums["day.energy"]) / days.seconds, 0.0)
    months = _mean_of_days(days, mean, good)
    length = _days_of(np.unique(month_number(days.labels)))
    return _judged(months, length - months[1] <= settings.most_days_missing)


def half_day_means(days: Cells, quantity: str, settings: AggregateSettings) -> Monthly:
    """
    Means of months by the days with half of their daytime minutes.

    Parameters
    ----------
    days : Cells
        With the stratum ``day`` for shortwave.
    quantity : str
        The quantity.
    settings : AggregateSettings
        Least number of days.

    Returns
    -------
    monthly : Monthly
        The mean of the days (Natsis et al.). The mean of shortwave by day stands for all of the
        day, and the night is taken as read; of longwave, and of a day without daytime, half of
        all minutes is asked.
    """
    count, possible = np.asarray(days.sums[f"{quantity}.count"]), days.possible(quantity)
    mean = quotient(days.sums[f"{quantity}.total"], count)
    if is_shortwave(quantity):
        apart, seen, bright = apart_by_day_and_night(days, quantity, "day")
        lit = bright > 0
        mean, count, possible = (
            np.where(lit, *pair) for pair in ((apart, mean), (seen, count), (bright, possible))
        )
    good = (count > 0) & (count >= 0.5 * possible)
    months = _mean_of_days(days, np.where(good, mean, 0.0), good)
    return _judged(months, months[1] >= settings.least_days)


def _days_of(months: Counts) -> Counts:
    first = months.astype("M8[M]")
    length = (first + 1).astype("M8[D]") - first.astype("M8[D]")
    return np.asarray(length.astype(np.int64))


def _mean_of_days(days: Cells, mean: Array, good: Mask) -> tuple[Array, Counts]:
    parts: Parts = {"day.mean": mean, "day.good": good.astype(np.int64)}
    table = Cells(days.starts, days.ends, days.labels, parts)
    months = coarser(table, month_number(days.labels))
    number = np.asarray(months.sums["day.good"])
    return quotient(months.sums["day.mean"], number), number


def _judged(months: tuple[Array, Counts], enough: Mask) -> Monthly:
    mean, number = months
    words = np.where(number == 0, WITHHELD["no_valid_sample"].mask, 0)
    words |= np.where(enough, 0, WITHHELD["few_days"].mask)
    words = words.astype(np.int32)
    return Monthly(masked(mean, words), words, number.astype(np.int32))


def month_statistics(
    months: Cells, made: Monthly | None, quantity: str, settings: AggregateSettings
) -> Parts:
    """
    Statistics of one quantity over months.

    Parameters
    ----------
    months : Cells
        The months.
    made : Monthly or None
        Means by the configured method; None for the plain mean.
    quantity : str
        The quantity.
    settings : AggregateSettings
        Completeness of the plain mean, and how nights are treated.

    Returns
    -------
    statistics : dict of numpy.ndarray, shape (month,)
        By suffix; ``plain_mean`` is the mean of all counting minutes, whatever their number.
    """
    plain = period_statistics(months, quantity, 0.0, settings)
    if made is None:
        made = plain_means(months, quantity, settings)
    out = plain | {
        "": made.mean,
        "plain_mean": quotient(
            months.sums[f"{quantity}.total"], np.asarray(months.sums[f"{quantity}.count"])
        ),
        "exposure": made.mean * months.seconds,
        "withheld": made.words,
    }
    if np.all(made.days >= 0):
        out["number_of_days"] = made.days.astype(np.int32)
    if "uncertainty" in out:
        spread = out["uncertainty"]
        if made.missing is not None:
            dark = settings.monthly_method == "diurnal_composite" and is_shortwave(quantity)
            spread = np.hypot(counted_uncertainty(months, quantity, dark), made.missing)
        out["uncertainty"] = masked(spread, made.words)
    return out


def plain_means(months: Cells, quantity: str, settings: AggregateSettings) -> Monthly:
    """
    Means of all counting minutes.

    Parameters
    ----------
    months : Cells
        The months.
    quantity : str
        The quantity.
    settings : AggregateSettings
        Least share, and how nights are treated.

    Returns
    -------
    monthly : Monthly
        Without a number of days.
    """
    found = period_statistics(months, quantity, settings.least_share_daily, settings)
    return Monthly(found[""], found["withheld"], np.full(months.starts.size, -1, np.int32))


def _missing_of_year(monthly: Monthly, months: Cells, table: Cells) -> Array:
    """What is missing in the months, all in one direction, and what whole months that are out."""
    good, seconds = monthly.words == 0, months.seconds
    sums: Parts = {
        "month.missing": np.where(good, monthly.missing, 0.0) * seconds,  # type: ignore[arg-type]
        "month.squares": np.where(good, monthly.mean, 0.0) ** 2 * seconds,
    }
    whole = Cells(table.starts, table.ends, table.labels, {**table.sums, **sums})
    years = coarser(whole, month_number(months.labels) // 12)
    there = np.asarray(years.sums["month.seconds"])
    inside, square, mean = (
        quotient(years.sums[f"month.{name}"], there) for name in ("missing", "squares", "energy")
    )
    spread = np.sqrt(np.maximum(square - mean * mean, 0.0))
    return np.hypot(inside, missing_uncertainty(there, years.seconds, spread))


def year_means(months: Cells, monthly: Monthly, settings: AggregateSettings) -> Monthly:
    """
    Means of years from those of their months.

    Parameters
    ----------
    months : Cells
        The months.
    monthly : Monthly
        Their means.
    settings : AggregateSettings
        Least number of months.

    Returns
    -------
    yearly : Monthly
        Each month weighted by its length.
    """
    good = monthly.words == 0
    parts: Parts = {
        "month.energy": np.where(good, monthly.mean, 0.0) * months.seconds,
        "month.seconds": np.where(good, months.seconds, 0),
        "month.good": good.astype(np.int64),
    }
    table = Cells(months.starts, months.ends, months.labels, parts)
    years = coarser(table, month_number(months.labels) // 12)
    number = np.asarray(years.sums["month.good"])
    mean = quotient(years.sums["month.energy"], np.asarray(years.sums["month.seconds"]))
    words = np.where(number == 0, WITHHELD["no_valid_sample"].mask, 0)
    words |= np.where(number < settings.least_months, WITHHELD["few_months"].mask, 0)
    words = words.astype(np.int32)
    missing = None if monthly.missing is None else _missing_of_year(monthly, months, table)
    return Monthly(masked(mean, words), words, np.full(number.size, -1, np.int32), missing)
