"""Sums of everything that is averaged over the finest periods, passed over as few times as can be.

Hours are whole quarters of an hour, which the diurnal composite asks for as well: counts and totals
of longer periods are always those of their quarters, whatever products are asked for together.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.config.models.aggregation import AggregateSettings
from sunledger.physics.segments import Segments
from sunledger.physics.strata import Stratum
from sunledger.stages.indices import grade_sums, named, sky_sums, source_sums, sunshine_sums
from sunledger.stages.monthly import bin_sums
from sunledger.stages.periods import Series, is_shortwave, series_sums, stratum_sums

Array = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]
Codes = npt.NDArray[np.int8]
Parts = dict[str, npt.NDArray[Any]]


@dataclass(frozen=True)
class Minutes:
    """
    Everything that is averaged, over the window alone.

    Parameters
    ----------
    series, air : dict of Series
        By quantity; radiation and what is formed of it, and the air.
    grades : dict of numpy.ndarray of int8, shape (time,)
        Codes of ``vocabulary.GRADES`` by measured quantity.
    zenith : numpy.ndarray, shape (time,)
        Zenith angle. [degree]
    sunlight : numpy.ndarray or None, shape (time,)
        Irradiance on the horizontal above the atmosphere. [W m-2]
    source : numpy.ndarray of int8 or None, shape (time,)
        Of the selected global.
    clear : tuple of numpy.ndarray of bool or None, shape (time,)
        Minutes with a clear sky, and those of which it can be told.
    """

    series: dict[str, Series]
    air: dict[str, Series]
    grades: dict[str, Codes]
    zenith: npt.NDArray[np.floating]
    sunlight: Array | None
    source: Codes | None
    clear: tuple[Mask, Mask] | None


@dataclass(frozen=True)
class Totals:
    """
    How many minutes count, and their totals.

    Parameters
    ----------
    names : tuple of str
        Quantities.
    count : numpy.ndarray of int64, shape (quantity, period)
        Minutes that count.
    total : numpy.ndarray of float64, shape (quantity, period)
        Sums of them.
    """

    names: tuple[str, ...]
    count: Counts
    total: Array

    def longer(self, groups: Segments) -> Totals:
        """
        Totals of longer periods.

        Parameters
        ----------
        groups : Segments
            Which of the periods make up each longer one.

        Returns
        -------
        longer : Totals
            Of the same quantities.
        """
        if groups.widths.size == self.count.shape[-1]:  # each by itself
            return self
        return Totals(self.names, groups.sums(self.count), groups.sums(self.total))

    def parts(self) -> dict[str, Parts]:
        """
        Totals by quantity.

        Returns
        -------
        parts : dict of dict of numpy.ndarray, shape (period,)
            ``count`` and ``total`` by quantity.
        """
        rows = zip(self.names, self.count, self.total, strict=True)
        return {name: {"count": count, "total": total} for name, count, total in rows}


def totals(series: Mapping[str, Series], segments: Segments) -> Totals:
    """
    Count and add up the minutes of several quantities.

    Parameters
    ----------
    series : dict of Series
        By quantity.
    segments : Segments
        Periods.

    Returns
    -------
    totals : Totals
        In the order of the series.
    """
    count = np.empty((len(series), segments.widths.size), np.int64)
    total = np.empty(count.shape)
    for row, one in enumerate(series.values()):
        count[row] = segments.counts(one.valid)
        total[row] = segments.sums(one.counted)
    return Totals(tuple(series), count, total)


def _strata(
    minutes: Minutes, segments: Segments, settings: AggregateSettings
) -> dict[str, Stratum]:
    """Minutes of shortwave that a rule looks at apart from the rest."""
    lowest: dict[str, float] = {}
    if settings.night == "not_asked":
        tolerance = settings.sunrise_tolerance
        lowest["asked"] = 90.0 - tolerance if tolerance > 0 else settings.night_zenith
    if settings.monthly_method == "whole_days":
        lowest["high"] = 90.0 - settings.low_sun
    if settings.monthly_method == "half_days":
        lowest["day"] = 90.0
    return {name: Stratum(segments, minutes.zenith <= z) for name, z in lowest.items()}


def _light(minutes: Minutes, segments: Segments, settings: AggregateSettings) -> Stratum | None:
    """Minutes that the composite does not take as night; their uncertainty is summed apart."""
    if settings.monthly_method != "diurnal_composite":
        return None
    return Stratum(segments, minutes.zenith <= settings.night_zenith)


def period_sums(
    minutes: Minutes, segments: Segments, known: Totals, settings: AggregateSettings
) -> tuple[Parts, Parts, Parts]:
    """
    Sums, lowest and highest values of all that is averaged.

    Parameters
    ----------
    minutes : Minutes
        Minutes.
    segments : Segments
        Periods.
    known : Totals
        Of all series, over the same periods; the air is summed here, no quarters are asked of it.
    settings : AggregateSettings
        Rules for nights and months.

    Returns
    -------
    sums, lows, highs : dict of numpy.ndarray, shape (period,)
        ``<quantity>.<part>`` → values, as `Cells` hold them.
    """
    light = _light(minutes, segments, settings)
    parts = known.parts()
    lows: Parts = {}
    highs: Parts = {}
    for name, one in (minutes.series | minutes.air).items():
        lit = light if is_shortwave(name) else None
        parts[name], low, high = series_sums(one, segments, lit, parts.get(name))
        lows |= named(name, low)
        highs |= named(name, high)
    bright = {name: one for name, one in minutes.series.items() if is_shortwave(name)}
    for stratum, inside in _strata(minutes, segments, settings).items():
        for name, found in stratum_sums(bright, parts, inside).items():
            parts[name] |= {f"{stratum}_{part}": values for part, values in found.items()}
    sums = {key: v for name, found in parts.items() for key, v in named(name, found).items()}
    return sums | _other_sums(minutes, segments, settings), lows, highs


def _other_sums(minutes: Minutes, segments: Segments, settings: AggregateSettings) -> Parts:
    """Of grades, sources, the sky and sunshine."""
    sums: Parts = {}
    for name, found in zip(minutes.grades, _grade_sums(minutes, segments), strict=True):
        sums |= named(name, found)
    if minutes.source is not None and minutes.sunlight is not None:
        sums |= named("ghi_selected", source_sums(minutes.source, segments))
        sums |= sky_sums(minutes.series, minutes.sunlight, segments)
    if minutes.clear is not None:
        clear, told = (segments.counts(mask) for mask in minutes.clear)
        sums |= {"clear_minutes.clear": clear, "clear_minutes.told": told}
    if "dni" in minutes.series:
        sums |= sunshine_sums(minutes.zenith, minutes.series["dni"], segments, settings)
    return sums


def _grade_sums(minutes: Minutes, segments: Segments) -> list[Parts]:
    """Of all graded quantities at once."""
    if not minutes.grades:
        return []
    found = grade_sums(np.stack(list(minutes.grades.values())), segments)
    return [{n: rows[k] for n, rows in found.items()} for k in range(len(minutes.grades))]


def quarter_sums(
    minutes: Minutes,
    segments: Segments,
    known: Totals,
    settings: AggregateSettings,
    repeats: int = 1,
) -> Parts:
    """
    Sums of the quarters of an hour of the diurnal composite.

    Parameters
    ----------
    minutes : Minutes
        Minutes or longer means.
    segments : Segments
        Quarters of an hour.
    known : Totals
        Of all series, over the same quarters.
    settings : AggregateSettings
        What is night.
    repeats : int
        For how many samples of the quarters a mean stands.

    Returns
    -------
    sums : dict of numpy.ndarray, shape (quarter,)
        ``<quantity>.<part>`` → values, the night rule applied.
    """
    night = minutes.zenith > settings.night_zenith
    day = ~(night if repeats == 1 else np.repeat(night, repeats))
    series = repeated(minutes.series, repeats)
    found = bin_sums(series, Stratum(segments, day), known.parts())
    return {key: v for name, parts in found.items() for key, v in named(name, parts).items()}


def repeated(series: dict[str, Series], repeats: int) -> dict[str, Series]:
    """
    Longer means standing for each of their minutes.

    Parameters
    ----------
    series : dict of Series
        By quantity.
    repeats : int
        For how many samples each stands.

    Returns
    -------
    repeated : dict of Series
        Values and what counts; themselves where each stands for one.
    """
    if repeats == 1:
        return series
    return {
        name: Series(np.repeat(one.mean, repeats), np.repeat(one.valid, repeats))
        for name, one in series.items()
    }
