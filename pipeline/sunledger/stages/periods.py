"""Averaging one quantity over periods: what counts, and what is withheld."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.config.models.aggregation import AggregateSettings
from sunledger.physics.segments import Segments, Selection
from sunledger.physics.strata import Stratum
from sunledger.stages.cells import Cells
from sunledger.stages.error_split import Split
from sunledger.stages.mean_uncertainty import (
    mean_uncertainty,
    missing_uncertainty,
    uncertainty_sums,
)
from sunledger.vocabulary import DERIVED, QUANTITIES, WITHHELD

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Counts = npt.NDArray[np.int64]
Words = npt.NDArray[np.int32]
Parts = dict[str, npt.NDArray[Any]]


LIGHT = "light"
"""Stratum of the minutes that a composite does not take as night."""


@dataclass(frozen=True)
class Series:
    """
    One quantity by minutes, ready to be averaged.

    Parameters
    ----------
    mean : numpy.ndarray, shape (time,)
        Values; NaN missing.
    valid : numpy.ndarray of bool, shape (time,)
        Minutes that count.
    minimum, maximum, std, uncertainty : numpy.ndarray or None, shape (time,)
        Where the minutes have them.
    split : Split or None
        The uncertainty by its sources; of what is formed of others it is all there is.
    """

    mean: npt.NDArray[np.floating]
    valid: Mask
    minimum: npt.NDArray[np.floating] | None = None
    maximum: npt.NDArray[np.floating] | None = None
    std: npt.NDArray[np.floating] | None = None
    uncertainty: npt.NDArray[np.floating] | None = None
    split: Split | None = None

    @cached_property
    def chosen(self) -> Selection:
        """
        The minutes that count.

        Returns
        -------
        chosen : Selection
            As `valid` says.
        """
        return Selection(self.valid)

    @property
    def known_split(self) -> Split | None:
        """
        The uncertainty by its sources, all of it as one error where nothing is known of them.

        Returns
        -------
        split : Split or None
            None without an uncertainty.
        """
        if self.split is None and self.uncertainty is not None:
            return Split.unknown(self.uncertainty)
        return self.split

    @cached_property
    def counted(self) -> Array:
        """
        Values of the minutes that count.

        Returns
        -------
        counted : numpy.ndarray of float64, shape (time,)
            0 where one does not count.
        """
        return self.chosen.zeroed(self.mean)


def is_shortwave(quantity: str) -> bool:
    """
    Whether the night has no light in a quantity.

    Parameters
    ----------
    quantity : str
        Measured or derived.

    Returns
    -------
    shortwave : bool
        By its family.
    """
    return (QUANTITIES | DERIVED)[quantity].family == "shortwave"


def series_sums(
    series: Series,
    segments: Segments,
    light: Stratum | None = None,
    known: Parts | None = None,
) -> tuple[Parts, Parts, Parts]:
    """
    One masked pass from minutes to sums.

    Parameters
    ----------
    series : Series
        Minutes.
    segments : Segments
        Periods.
    light : Stratum or None
        Minutes `LIGHT`, of which the uncertainty is summed apart as well.
    known : dict of numpy.ndarray or None, shape (period,)
        ``count`` and ``total``, where they were found already.

    Returns
    -------
    sums, lows, highs : dict of numpy.ndarray, shape (period,)
        ``count``, ``total``, and ``squares`` (of means and of deviations within the minutes)
        where there are deviations, ``between`` of means alone where there are uncertainties;
        ``min`` and ``max``.
    """
    chosen, mean = series.chosen, series.counted
    if known is None:
        known = {"count": segments.counts(series.valid), "total": segments.sums(mean)}
    sums = dict(known)
    split = series.known_split
    if split is not None or series.std is not None:
        between = segments.products(mean, mean)
    if split is not None:
        sums["between"] = between
    if series.std is not None:
        within = chosen.zeroed(series.std)
        sums["squares"] = between + segments.products(within, within)
    if split is not None:
        found, lit = uncertainty_sums(split, chosen, segments, light)
        sums |= found | {f"{LIGHT}_{name}": values for name, values in lit.items()}
    lows: Parts = {}
    highs: Parts = {}
    if series.minimum is not None and series.maximum is not None:
        lows["min"] = segments.lowest(chosen.filled(series.minimum, np.inf))
        highs["max"] = segments.highest(chosen.filled(series.maximum, -np.inf))
    return sums, lows, highs


def stratum_sums(
    series: Mapping[str, Series], whole: Mapping[str, Parts], stratum: Stratum
) -> dict[str, Parts]:
    """
    Counts and totals of several quantities over a stratum, in one pass.

    Parameters
    ----------
    series : dict of Series
        By quantity.
    whole : dict of dict of numpy.ndarray, shape (period,)
        Their ``count`` and ``total`` over all minutes.
    stratum : Stratum
        Minutes that are counted and summed apart.

    Returns
    -------
    sums : dict of dict of numpy.ndarray, shape (period,)
        By quantity ``count``, ``possible`` and ``total`` of the minutes of the stratum.
    """
    if not series:
        return {}
    count, total = (np.stack([whole[name][part] for name in series]) for part in ("count", "total"))
    valid = np.stack([stratum.cut(one.valid) for one in series.values()])
    values = np.stack([stratum.cut(one.counted) for one in series.values()])
    found = zip(stratum.counts(valid, count), stratum.sums(values, total), strict=True)
    return {
        name: {"count": number, "possible": stratum.possible, "total": lit}
        for name, (number, lit) in zip(series, found, strict=True)
    }


def withheld_words(count: Counts, possible: int | Counts, least_share: float) -> Words:
    """
    Say why a period gets no value.

    Parameters
    ----------
    count : numpy.ndarray of int64, shape (period,)
        Minutes that count.
    possible : int or numpy.ndarray of int64, shape (period,)
        Minutes of the period, or those in which the value has a meaning.
    least_share : float
        Share of them that the completeness rule asks for. [1]

    Returns
    -------
    words : numpy.ndarray of int32, shape (period,)
        Bits of ``vocabulary.WITHHELD``; 0 where the value stands.
    """
    words = np.int32(WITHHELD["no_valid_sample"].mask) * (count == 0)
    words |= np.int32(WITHHELD["low_coverage"].mask) * (count < least_share * possible - 1e-9)
    return np.asarray(words)


def masked(values: Array, words: Words) -> Array:
    return np.where(words == 0, values, np.nan)


def quotient(total: Array, count: npt.NDArray[Any]) -> Array:
    """NaN where nothing was counted."""
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def coverage(count: Counts, possible: Counts) -> Parts:
    """
    How much of each period is covered.

    Parameters
    ----------
    count, possible : numpy.ndarray of int64, shape (period,)
        Minutes that count, and those there could be.

    Returns
    -------
    parts : dict of numpy.ndarray, shape (period,)
        By suffix.
    """
    return {
        "number_of_observations": count.astype(np.int32),
        "number_of_missing_observations": (possible - count).astype(np.int32),
        "coverage_fraction": count / possible,
    }


def apart_by_day_and_night(
    cells: Cells, quantity: str, stratum: str
) -> tuple[Array, Counts, Counts]:
    """
    Mean of which the bright minutes alone have to be there.

    Parameters
    ----------
    cells : Cells
        With the stratum of the bright minutes.
    quantity : str
        A shortwave quantity.
    stratum : str
        Its name.

    Returns
    -------
    mean : numpy.ndarray, shape (period,)
        The mean of the bright minutes for all of them, and the dark ones as read: one that is
        missing enters as 0. Of a period without bright minutes the mean of what was read.
    count, possible : numpy.ndarray of int64, shape (period,)
        Bright minutes that count, and all bright ones.
    """
    sums, possible = cells.sums, cells.possible(quantity)
    bright = np.asarray(sums[f"{quantity}.{stratum}_possible"])
    count = np.asarray(sums[f"{quantity}.{stratum}_count"])
    lit = np.asarray(sums[f"{quantity}.{stratum}_total"])
    total = np.asarray(sums[f"{quantity}.total"])
    mean = (quotient(lit, count) * bright + (total - lit)) / possible
    plain = quotient(total, np.asarray(sums[f"{quantity}.count"]))
    return np.where(bright > 0, mean, plain), count, bright


def _value(
    cells: Cells, quantity: str, least_share: float, settings: AggregateSettings
) -> tuple[Array, Words]:
    """Mean and why it is withheld, by the rule for nights."""
    count = np.asarray(cells.sums[f"{quantity}.count"])
    if settings.night == "not_asked" and f"{quantity}.asked_count" in cells.sums:
        mean, seen, bright = apart_by_day_and_night(cells, quantity, "asked")
        words = withheld_words(seen, bright, least_share)
        none = np.where(count == 0, WITHHELD["no_valid_sample"].mask, 0)
        low = words & WITHHELD["low_coverage"].mask
        return mean, (none | low).astype(np.int32)
    mean = quotient(cells.sums[f"{quantity}.total"], count)
    return mean, withheld_words(count, cells.possible(quantity), least_share)


def _missing(sums: Parts, possible: Counts) -> Array:
    plain = quotient(sums["total"], sums["count"])
    variance = quotient(sums["between"], sums["count"]) - plain * plain
    return missing_uncertainty(sums["count"], possible, np.sqrt(np.maximum(variance, 0.0)))


def counted_uncertainty(cells: Cells, quantity: str, night_is_zero: bool = False) -> Array:
    """
    Expanded uncertainty of the mean of the minutes that count, without what is missing.

    Parameters
    ----------
    cells : Cells
        Periods whose quantity has an uncertainty.
    quantity : str
        The quantity.
    night_is_zero : bool
        Whether the mean takes the stratum `LIGHT` as measured and the rest as 0, without error.

    Returns
    -------
    uncertainty : numpy.ndarray, shape (period,)
        NaN without a minute. [W m-2]
    """
    sums, prefix = cells.sums_of[quantity], f"{LIGHT}_"
    known = night_is_zero and f"{prefix}uncertainty_count" in sums
    return mean_uncertainty(sums, prefix if known else "")


def period_statistics(
    cells: Cells, quantity: str, least_share: float, settings: AggregateSettings
) -> Parts:
    """
    Statistics of one quantity over periods.

    Parameters
    ----------
    cells : Cells
        The periods.
    quantity : str
        One that they hold.
    least_share : float
        Completeness rule. [1]
    settings : AggregateSettings
        How nights are treated.

    Returns
    -------
    statistics : dict of numpy.ndarray, shape (period,)
        By suffix; the mean has the empty suffix. ``exposure`` in J m-2.
    """
    sums = cells.sums_of[quantity]
    mean, words = _value(cells, quantity, least_share, settings)
    mean = masked(mean, words)
    out: Parts = {"": mean, "exposure": mean * cells.seconds, "withheld": words}
    if f"{quantity}.min" in cells.lows:
        out["min"] = masked(np.asarray(cells.lows[f"{quantity}.min"]), words)
        out["max"] = masked(np.asarray(cells.highs[f"{quantity}.max"]), words)
    if "squares" in sums:
        # a period without a minute is withheld, whatever comes out here
        number = np.maximum(sums["count"], 1)
        plain = sums["total"] / number
        variance = sums["squares"] / number - plain * plain
        # squares of a steady series differ by rounding only, to either side of 0
        out["std"] = masked(np.sqrt(np.maximum(variance, 0.0)), words)
    if "uncertainty_count" in sums:
        missing = _missing(sums, cells.possible(quantity))
        known = counted_uncertainty(cells, quantity)
        out["uncertainty"] = masked(np.hypot(known, missing), words)
    return out | coverage(sums["count"], cells.possible(quantity))
