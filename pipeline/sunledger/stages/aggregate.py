"""Hours, days and months from minutes: what counts, how much of it, and what is withheld.

Products of two quantities are formed minute by minute and then averaged. A period with too few
counting minutes gets no value but a reason; nothing is filled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.processing import AggregateSettings
from sunledger.config.resolve import Period
from sunledger.stages.derived import Suns, derived_series
from sunledger.stages.indices import grade_shares, sky_ratios, source_shares, sunshine
from sunledger.stages.periods import Series, month_statistics, period_statistics
from sunledger.vocabulary import AIR, GRADES

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Codes = npt.NDArray[np.int8]

VERSION = 2
REACH = 600
"""How far beyond a month the choice of the selected global can depend on minutes. [s]"""

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


def _air_statistics(
    ds: xr.Dataset, name: str, width: int, least_share: float
) -> dict[str, npt.NDArray[Any]]:
    values = ds[name].values.astype(np.float64)
    out = period_statistics(Series(values, np.isfinite(values)), width, 0, least_share)
    del out["exposure"]
    return out


def _trimmed(series: Series, inside: slice) -> Series:
    parts = (series.mean, series.valid, series.minimum, series.maximum)
    rest = (series.std, series.uncertainty)
    return Series(*(None if p is None else p[inside] for p in (*parts, *rest)))  # type: ignore[arg-type]


def _inside(ds: xr.Dataset, period: Period) -> slice:
    """The minutes of the period itself, without those read of its neighbours."""
    time = ds["time"].values
    return slice(*np.searchsorted(time, [period.start, period.end]).tolist())


def _all_series(
    ds: xr.Dataset, period: Period
) -> tuple[dict[str, Series], Array | None, Codes | None]:
    """Measured and derived series, the sunlight above the atmosphere, the source of the global."""
    settings, interval = period.processing.aggregate, int(ds.attrs["interval"])
    suns, inside = Suns(ds, period), _inside(ds, period)
    measured = {q: measured_series(ds, q, settings) for q in period.quantities()}
    derived, source = derived_series(measured, suns, interval, settings)
    series = {name: _trimmed(one, inside) for name, one in (measured | derived).items()}
    if source is None:
        return series, None, None
    clock = "ghi" if "ghi" in measured else "dni"
    return series, suns.of(clock).extraterrestrial[inside], source[inside]


@dataclass(frozen=True)
class _Shape:
    product: str
    seconds: int
    width: int
    share: float
    settings: AggregateSettings


def _shape(ds: xr.Dataset, period: Period, product: str) -> _Shape:
    settings, interval = period.processing.aggregate, int(ds.attrs["interval"])
    seconds = PERIODS.get(product, ds.sizes["time"] * interval)
    share = settings.least_share_hourly if product == "hourly" else settings.least_share_daily
    return _Shape(product, seconds, seconds // interval, share, settings)


def _statistics(
    ds: xr.Dataset, quantity: str, minutes: Series, shape: _Shape
) -> dict[str, npt.NDArray[Any]]:
    if shape.product == "monthly":
        zenith, interval = ds["solar_zenith_angle"].values, int(ds.attrs["interval"])
        out = month_statistics(minutes, quantity, zenith, shape.settings, interval)
    else:
        out = period_statistics(minutes, shape.width, shape.seconds, shape.share)
    if f"{quantity}_grade" in ds:
        out |= grade_shares(ds[f"{quantity}_grade"].values, shape.width)
    return out


def aggregate(ds: xr.Dataset, period: Period, product: str) -> xr.Dataset:
    """
    Aggregate the minutes of one month to one product.

    Parameters
    ----------
    ds : xarray.Dataset
        As for :func:`aggregates`.
    period : Period
        Resolved configuration of the month, from its start to its end.
    product : str
        ``hourly``, ``daily`` or ``monthly``.

    Returns
    -------
    aggregated : xarray.Dataset
        As from :func:`aggregates`.
    """
    return aggregates(ds, period, (product,))[product]


def aggregates(ds: xr.Dataset, period: Period, products: Sequence[str]) -> dict[str, xr.Dataset]:
    """
    Aggregate the minutes of one month to several products.

    Parameters
    ----------
    ds : xarray.Dataset
        Flagged minutes of whole days, with the attribute ``interval`` [s]. Minutes before and
        after the month are looked at as far as `REACH`, so that the cut leaves no trace.
    period : Period
        Resolved configuration of the month, from its start to its end.
    products : sequence of str
        Of ``hourly``, ``daily`` and ``monthly``.

    Returns
    -------
    aggregated : dict of xarray.Dataset
        By product, along ``time`` (start of the period, UTC) with ``time_end``: per quantity mean,
        minimum, maximum, standard deviation, exposure, uncertainty, number of observations and of
        missing ones, coverage fraction, the reason why a value is withheld, shares of the grades
        and the worst; selected global with the share of each source, net quantities, clearness
        index, diffuse fraction, sunshine duration with the possible one and its share.
    """
    minutes = _all_series(ds, period)
    inner = ds.isel(time=_inside(ds, period))
    return {product: _product(inner, period, minutes, product) for product in products}


def _product(
    ds: xr.Dataset,
    period: Period,
    minutes: tuple[dict[str, Series], Array | None, Codes | None],
    product: str,
) -> xr.Dataset:
    series, sunlight, source = minutes
    shape = _shape(ds, period, product)
    out = {name: _statistics(ds, name, one, shape) for name, one in series.items()}
    if source is not None and sunlight is not None:
        out["ghi_selected"] |= source_shares(source, shape.width)
        out |= sky_ratios(series, sunlight, shape.width, shape.share)
    if "dni" in series:
        out |= sunshine(ds, series["dni"], shape.width, shape.share, shape.settings)
    # a direction has no plain mean, so it stays in the minutes
    for name in (n for n in AIR if n in ds and n != "wind_from_direction"):
        out[name] = _air_statistics(ds, name, shape.width, shape.share)
    starts = ds["time"].values[:: shape.width]
    return xr.Dataset(
        {
            f"{quantity}_{suffix}" if suffix else quantity: ("time", values)
            for quantity, parts in out.items()
            for suffix, values in parts.items()
        },
        coords={"time": starts, "time_end": ("time", starts + shape.seconds)},
    )
