"""Hours, days and months from minutes: what counts, how much of it, and what is withheld.

Products of two quantities are formed minute by minute and then averaged. A period with too few
counting minutes gets no value but a reason; nothing is filled.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.processing import AggregateSettings
from sunledger.config.resolve import Period
from sunledger.physics.aggregation import diurnal_composite_mean, pool, sunshine_seconds
from sunledger.physics.sun import solar_position
from sunledger.vocabulary import AIR, GRADES, SHORTWAVE, WITHHELD

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Times = npt.NDArray[np.int64]

VERSION = 1
REACH = 0
"""Periods are whole within a month of UTC. [s]"""

DAY = 86400
PERIODS = {"hourly": 3600, "daily": DAY}


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


def counting(ds: xr.Dataset, quantity: str, settings: AggregateSettings) -> Mask:
    """
    Say which minutes of a quantity count.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes with grades.
    quantity : str
        The quantity.
    settings : AggregateSettings
        Grades that count.

    Returns
    -------
    valid : numpy.ndarray of bool, shape (time,)
        True where the value is there and its grade counts.
    """
    present = np.isfinite(ds[quantity].values)
    if f"{quantity}_grade" not in ds:
        return present
    codes = [GRADES[name] for name in settings.counting_grades]
    return present & np.isin(ds[f"{quantity}_grade"].values, codes)


def _optional(ds: xr.Dataset, name: str) -> Array | None:
    return ds[name].values.astype(np.float64) if name in ds else None


def measured_series(ds: xr.Dataset, quantity: str, settings: AggregateSettings) -> Series:
    """
    A measured quantity with its statistics.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes.
    quantity : str
        The quantity.
    settings : AggregateSettings
        Grades that count.

    Returns
    -------
    series : Series
        With what the minutes have.
    """
    return Series(
        ds[quantity].values.astype(np.float64),
        counting(ds, quantity, settings),
        *(_optional(ds, f"{quantity}_{s}") for s in ("min", "max", "std", "uncertainty")),
    )


def cosine_at_true_middle(ds: xr.Dataset, period: Period, quantity: str) -> Array:
    """
    Cosine of the zenith angle at the true middle of a quantity's minutes.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes with ``clock_residual_<logger>``.
    period : Period
        Coordinates and loggers.
    quantity : str
        The quantity.

    Returns
    -------
    cosine : numpy.ndarray, shape (time,)
        0 where the sun is below the horizon. [1]
    """
    positions = {p for p, q in period.positions if q == quantity}
    logger = next(
        item.name
        for item in period.loggers
        if any(c.kind == "signal" and c.position in positions for c in item.channels)
    )
    residual = ds[f"clock_residual_{logger}"].values.astype(np.float64)
    middle = ds["time"].values + ds.attrs["interval"] / 2 + np.nan_to_num(residual)
    sun = solar_position(middle, period.latitude, period.longitude, period.altitude)
    return np.maximum(np.cos(np.radians(sun.zenith)), 0.0)


def derived_series(
    ds: xr.Dataset, period: Period, measured: dict[str, Series]
) -> dict[str, Series]:
    """
    Quantities formed from others, minute by minute.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes.
    period : Period
        Resolved configuration.
    measured : dict of Series
        By quantity.

    Returns
    -------
    derived : dict of Series
        ``dni_horizontal`` where direct is measured, ``ghi_component_sum`` where diffuse is too.
        The uncertainties of the two components are combined as uncorrelated.
    """
    if "dni" not in measured:
        return {}
    dni = measured["dni"]
    cosine = cosine_at_true_middle(ds, period, "dni")
    spread = None if dni.uncertainty is None else dni.uncertainty * cosine
    derived = {"dni_horizontal": Series(dni.mean * cosine, dni.valid, uncertainty=spread)}
    if "dhi" in measured:
        dhi = measured["dhi"]
        both = None
        if spread is not None and dhi.uncertainty is not None:
            both = np.hypot(spread, dhi.uncertainty)
        total = dhi.mean + dni.mean * cosine
        derived["ghi_component_sum"] = Series(total, dhi.valid & dni.valid, uncertainty=both)
    return derived


def withheld_words(count: Times, possible: int, least_share: float) -> npt.NDArray[np.int32]:
    """
    Say why a period gets no value.

    Parameters
    ----------
    count : numpy.ndarray of int64, shape (period,)
        Minutes that count.
    possible : int
        Minutes of the period.
    least_share : float
        Share of them that the completeness rule asks for. [1]

    Returns
    -------
    words : numpy.ndarray of int32, shape (period,)
        Bits of ``vocabulary.WITHHELD``; 0 where the value stands.
    """
    words = np.where(count == 0, WITHHELD["no_valid_sample"].mask, 0)
    words |= np.where(count < least_share * possible, WITHHELD["low_coverage"].mask, 0)
    return words.astype(np.int32)


def _rows(values: Array | Mask | None, width: int) -> Any:
    return None if values is None else values.reshape(-1, width)


def _masked(values: Array, words: npt.NDArray[np.int32]) -> Array:
    return np.where(words == 0, values, np.nan)


def _coverage(count: Times, possible: int) -> dict[str, npt.NDArray[Any]]:
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
    return pool(_rows(series.uncertainty, width), valid=_rows(usable, width)).mean


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
    parts = (series.minimum, series.maximum, series.std)
    pooled = pool(
        _rows(series.mean, width),
        *(_rows(p, width) for p in parts),
        valid=_rows(series.valid, width),
    )
    words = withheld_words(pooled.count, width, least_share)
    mean = _masked(pooled.mean, words)
    out: dict[str, npt.NDArray[Any]] = {"": mean, "exposure": mean * seconds, "withheld": words}
    if series.minimum is not None and series.maximum is not None:
        out |= {"min": _masked(pooled.minimum, words), "max": _masked(pooled.maximum, words)}
    if series.std is not None:
        out["std"] = _masked(pooled.std, words)
    uncertainty = mean_uncertainty(series, width)
    if uncertainty is not None:
        out["uncertainty"] = _masked(uncertainty, words)
    return out | _coverage(pooled.count, width)


def _all_days_mean(series: Series, settings: AggregateSettings) -> tuple[float, bool]:
    days = pool(_rows(series.mean, 1440), valid=_rows(series.valid, 1440))
    complete = days.count >= settings.least_share_daily * 1440
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
        shortwave = quantity in SHORTWAVE or quantity in ("ghi_component_sum", "dni_horizontal")
        night = (zenith > settings.night_zenith) & shortwave
        composite = diurnal_composite_mean(
            np.where(night, 0.0, series.mean),
            series.valid | night,
            minimum_fraction=settings.least_share_bin,
        )
        if np.isnan(composite.mean):
            return np.nan, WITHHELD["composite_incomplete"].mask
        return composite.mean, 0
    return (mean, 0) if enough else (np.nan, WITHHELD["low_coverage"].mask)


def month_statistics(
    series: Series, quantity: str, zenith: Array, settings: AggregateSettings
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

    Returns
    -------
    statistics : dict of numpy.ndarray, shape (1,)
        By suffix; ``plain_mean`` is the mean of all counting minutes, whatever their number.
    """
    size = series.mean.size
    out = period_statistics(series, size, size * 60, 0.0)
    plain = out[""]
    mean, words = monthly_mean(series, quantity, zenith, settings)
    out |= {
        "": np.array([mean]),
        "plain_mean": plain,
        "exposure": np.array([mean * size * 60]),
        "withheld": np.array([words], np.int32),
    }
    if "uncertainty" in out:
        out["uncertainty"] = _masked(out["uncertainty"], out["withheld"])
    return out


def _air_statistics(
    ds: xr.Dataset, name: str, width: int, least_share: float
) -> dict[str, npt.NDArray[Any]]:
    values = ds[name].values.astype(np.float64)
    out = period_statistics(Series(values, np.isfinite(values)), width, 0, least_share)
    del out["exposure"]
    return out


def _sunshine(
    ds: xr.Dataset, dni: Series, width: int, least_share: float, settings: AggregateSettings
) -> dict[str, npt.NDArray[Any]]:
    """Sunshine; the sun below the horizon cannot shine, so nights count without a reading."""
    night = ds["solar_zenith_angle"].values > settings.night_zenith
    beam = np.where(night, 0.0, dni.mean)
    seconds, count = sunshine_seconds(
        _rows(beam, width),
        ds.attrs["interval"],
        _rows(dni.valid | night, width),
        settings.sunshine_threshold,
    )
    words = withheld_words(count, width, least_share)
    return {"": _masked(seconds, words), "withheld": words} | _coverage(count, width)


def aggregate(ds: xr.Dataset, period: Period, product: str) -> xr.Dataset:
    """
    Aggregate the minutes of one month.

    Parameters
    ----------
    ds : xarray.Dataset
        Flagged minutes of whole days, with the attribute ``interval`` [s].
    period : Period
        Resolved configuration of the month.
    product : str
        ``hourly``, ``daily`` or ``monthly``.

    Returns
    -------
    aggregated : xarray.Dataset
        Along ``time`` (start of the period, UTC) with ``time_end``: per quantity mean, minimum,
        maximum, standard deviation, exposure, uncertainty, number of observations and of missing
        ones, coverage fraction and the reason why a value is withheld; sunshine duration.
    """
    settings = period.processing.aggregate
    time = ds["time"].values
    interval = int(ds.attrs["interval"])
    seconds = PERIODS.get(product, time.size * interval)
    width = seconds // interval
    share = settings.least_share_hourly if product == "hourly" else settings.least_share_daily
    measured = {q: measured_series(ds, q, settings) for q in period.quantities()}
    series = measured | derived_series(ds, period, measured)
    zenith = ds["solar_zenith_angle"].values
    out: dict[str, dict[str, npt.NDArray[Any]]] = {}
    for quantity, minutes in series.items():
        if product == "monthly":
            out[quantity] = month_statistics(minutes, quantity, zenith, settings)
        else:
            out[quantity] = period_statistics(minutes, width, seconds, share)
    if "dni" in measured:
        out["sunshine_duration"] = _sunshine(ds, measured["dni"], width, share, settings)
    # a direction has no plain mean, so it stays in the minutes
    for name in (n for n in AIR if n in ds and n != "wind_from_direction"):
        out[name] = _air_statistics(ds, name, width, share)
    starts = time[::width]
    return xr.Dataset(
        {
            f"{quantity}_{suffix}" if suffix else quantity: ("time", values)
            for quantity, parts in out.items()
            for suffix, values in parts.items()
        },
        coords={"time": starts, "time_end": ("time", starts + seconds)},
    )
