"""Hours, days and months from minutes: what counts, how much of it, and what is withheld.

Products of two quantities are formed minute by minute and then averaged. A period with too few
counting minutes gets no value but a reason; nothing is filled.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.processing import AggregateSettings
from sunledger.config.resolve import Period
from sunledger.physics.aggregation import sunshine_seconds
from sunledger.physics.sun import solar_position
from sunledger.stages.periods import (
    Series,
    coverage,
    masked,
    month_statistics,
    period_statistics,
    rows,
    withheld_words,
)
from sunledger.stages.qc_view import clock_residual
from sunledger.vocabulary import AIR, GRADES

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Times = npt.NDArray[np.int64]

VERSION = 1
REACH = 0
"""Periods are whole within a month of UTC. [s]"""

DAY = 86400
PERIODS = {"hourly": 3600, "daily": DAY}


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
    present: Mask = np.isfinite(ds[quantity].values)
    if f"{quantity}_grade" not in ds:
        return present
    codes = [GRADES[name] for name in settings.counting_grades]
    return np.asarray(present & np.isin(ds[f"{quantity}_grade"].values, codes))


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
    residual = clock_residual(ds, period, quantity)
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
        rows(beam, width),
        ds.attrs["interval"],
        rows(dni.valid | night, width),
        settings.sunshine_threshold,
    )
    words = withheld_words(count, width, least_share)
    out: dict[str, npt.NDArray[Any]] = {"": masked(seconds, words), "withheld": words}
    return out | coverage(count, width)


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
            out[quantity] = month_statistics(minutes, quantity, zenith, settings, interval)
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
