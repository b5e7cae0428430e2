"""Averaging one quantity over hours, days or a month: what counts, and what is withheld."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.config.models.processing import AggregateSettings
from sunledger.physics.aggregation import diurnal_composite_mean, pool
from sunledger.vocabulary import DERIVED, QUANTITIES, WITHHELD

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Times = npt.NDArray[np.int64]


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
    """

    mean: Array
    valid: Mask
    minimum: Array | None = None
    maximum: Array | None = None
    std: Array | None = None
    uncertainty: Array | None = None


def withheld_words(
    count: Times, possible: int | Times, least_share: float
) -> npt.NDArray[np.int32]:
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
    words = np.where(count == 0, WITHHELD["no_valid_sample"].mask, 0)
    words |= np.where(count < least_share * possible - 1e-9, WITHHELD["low_coverage"].mask, 0)
    return words.astype(np.int32)


def rows(values: npt.NDArray[Any] | None, width: int) -> Any:
    return None if values is None else values.reshape(-1, width)


def masked(values: Array, words: npt.NDArray[np.int32]) -> Array:
    return np.where(words == 0, values, np.nan)


def coverage(count: Times, possible: int) -> dict[str, npt.NDArray[Any]]:
    return {
        "number_of_observations": count.astype(np.int32),
        "number_of_missing_observations": (possible - count).astype(np.int32),
        "coverage_fraction": count / possible,
    }


def mean_uncertainty(series: Series, width: int) -> Array | None:
    """
    Uncertainty of period means, taking the minutes' errors as fully correlated.

    Parameters
    ----------
    series : Series
        Minutes.
    width : int
        Minutes a period.

    Returns
    -------
    uncertainty : numpy.ndarray or None, shape (period,)
        Mean of the uncertainties of the minutes that count.
    """
    if series.uncertainty is None:
        return None
    usable = series.valid & np.isfinite(series.uncertainty)
    return pool(rows(series.uncertainty, width), valid=rows(usable, width)).mean


def period_statistics(
    series: Series, width: int, seconds: int, least_share: float
) -> dict[str, npt.NDArray[Any]]:
    """
    Statistics of one quantity over periods of equal length.

    Parameters
    ----------
    series : Series
        Minutes, a whole number of periods.
    width : int
        Minutes a period.
    seconds : int
        Length of a period. [s]
    least_share : float
        Completeness rule. [1]

    Returns
    -------
    statistics : dict of numpy.ndarray, shape (period,)
        By suffix; the mean has the empty suffix. ``exposure`` in J m-2.
    """
    parts = (series.mean, series.minimum, series.maximum, series.std, series.valid)
    pooled = pool(*(rows(part, width) for part in parts))
    words = withheld_words(pooled.count, width, least_share)
    mean = masked(pooled.mean, words)
    out: dict[str, npt.NDArray[Any]] = {"": mean, "exposure": mean * seconds, "withheld": words}
    if series.minimum is not None and series.maximum is not None:
        out |= {"min": masked(pooled.minimum, words), "max": masked(pooled.maximum, words)}
    if series.std is not None:
        out["std"] = masked(pooled.std, words)
    uncertainty = mean_uncertainty(series, width)
    if uncertainty is not None:
        out["uncertainty"] = masked(uncertainty, words)
    return out | coverage(pooled.count, width)


def _all_days_mean(series: Series, settings: AggregateSettings) -> tuple[float, bool]:
    days = pool(rows(series.mean, 1440), valid=rows(series.valid, 1440))
    complete = days.count >= settings.least_share_daily * 1440 - 1e-9
    enough = int(complete.sum()) >= settings.least_days
    return (float(days.mean[complete].mean()) if complete.any() else np.nan), enough


def monthly_mean(
    series: Series, quantity: str, zenith: Array, settings: AggregateSettings
) -> tuple[float, int]:
    """
    Mean of a month by the configured method.

    Parameters
    ----------
    series : Series
        Minutes of the whole month.
    quantity : str
        The quantity; the night rule bears on shortwave.
    zenith : numpy.ndarray, shape (time,)
        Zenith angle. [degree]
    settings : AggregateSettings
        Method and its numbers.

    Returns
    -------
    mean : float
        NaN where withheld. [W m-2]
    withheld : int
        Bits of ``vocabulary.WITHHELD``.

    Notes
    -----
    The composite takes shortwave as 0 while the sun is lower than the night zenith, also where a
    reading is missing; that rule belongs to the method (Roesch et al. 2011) and touches nothing
    else.
    """
    if not series.valid.any():
        return np.nan, WITHHELD["no_valid_sample"].mask
    if settings.monthly_method == "plain":
        mean = float(series.mean[series.valid].mean())
        enough = bool(series.valid.mean() >= settings.least_share_daily)
    elif settings.monthly_method == "all_days":
        mean, enough = _all_days_mean(series, settings)
    else:
        shortwave = (QUANTITIES | DERIVED)[quantity].family == "shortwave"
        night = (zenith > settings.night_zenith) & shortwave
        composite = diurnal_composite_mean(
            np.where(night, 0.0, series.mean),
            series.valid | night,
            minimum_fraction=settings.least_share_bin,
            fraction_of=settings.composite_share_of,
        )
        if np.isnan(composite.mean):
            return np.nan, WITHHELD["composite_incomplete"].mask
        return composite.mean, 0
    return (mean, 0) if enough else (np.nan, WITHHELD["low_coverage"].mask)


def _by_minutes(series: Series, interval: int) -> Series:
    """Longer means as the minutes they stand for: the times of day are cut to minutes."""
    minutes = interval // 60
    return Series(np.repeat(series.mean, minutes), np.repeat(series.valid, minutes))


def month_statistics(
    series: Series, quantity: str, zenith: Array, settings: AggregateSettings, interval: int = 60
) -> dict[str, npt.NDArray[Any]]:
    """
    Statistics of one quantity over a month.

    Parameters
    ----------
    series : Series
        Minutes of the whole month.
    quantity : str
        The quantity.
    zenith : numpy.ndarray, shape (time,)
        Zenith angle. [degree]
    settings : AggregateSettings
        Method and completeness.
    interval : int
        What each value of the series stands for, whole minutes. [s]

    Returns
    -------
    statistics : dict of numpy.ndarray, shape (1,)
        By suffix; ``plain_mean`` is the mean of all counting minutes, whatever their number.
    """
    size = series.mean.size
    out = period_statistics(series, size, size * interval, 0.0)
    plain = out[""]
    fine = _by_minutes(series, interval)
    mean, words = monthly_mean(fine, quantity, np.repeat(zenith, interval // 60), settings)
    out |= {
        "": np.array([mean]),
        "plain_mean": plain,
        "exposure": np.array([mean * size * interval]),
        "withheld": np.array([words], np.int32),
    }
    if "uncertainty" in out:
        out["uncertainty"] = masked(out["uncertainty"], out["withheld"])
    return out
