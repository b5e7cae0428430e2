"""Means of periods from minutes: what counts, how much of it, and what is withheld.

Products of two quantities are formed minute by minute and then averaged. One pass leads from the
minutes to sums over the finest periods, and everything longer follows from these. A period with too
few counting minutes gets no value but a reason; nothing is filled.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.aggregation import AggregateSettings
from sunledger.config.resolve import Period
from sunledger.physics.clear_minutes import clear_minutes
from sunledger.physics.segments import Segments
from sunledger.stages.cells import Cells
from sunledger.stages.derived import Suns, derived_series
from sunledger.stages.error_sources import split_of_minutes
from sunledger.stages.error_split import Split
from sunledger.stages.minute_sums import (
    Minutes,
    Totals,
    period_sums,
    quarter_sums,
    repeated,
    totals,
)
from sunledger.stages.monthly import BIN
from sunledger.stages.periods import Series
from sunledger.stages.products import STEPS, aggregated, days_of
from sunledger.stages.time_bases import Grid, TimeBase, grid
from sunledger.vocabulary import AIR, GRADES

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Codes = npt.NDArray[np.int8]
Parts = dict[str, npt.NDArray[Any]]

VERSION = 11
REACH = 600
"""How far beyond a month the choice of the selected global can depend on minutes. [s]"""

MINUTE, HOUR = 60, 3600
BINS = "bins"
"""Key of the quarters of an hour of the diurnal composite, to which its night rule was applied."""
UTC = TimeBase()


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
    present: Mask = np.isfinite(_values(ds, quantity))
    if f"{quantity}_grade" not in ds.variables:
        return present
    grade = ds.variables[f"{quantity}_grade"].values
    codes = [GRADES[name] for name in settings.counting_grades]
    counts = grade == codes[0] if codes else np.zeros(grade.shape, dtype=bool)
    for code in codes[1:]:
        counts |= grade == code
    return np.asarray(present & counts)


def _values(ds: xr.Dataset, name: str) -> npt.NDArray[np.floating]:
    values = np.ascontiguousarray(ds.variables[name].values)
    return values if values.dtype.kind == "f" else values.astype(np.float64)


def _optional(ds: xr.Dataset, name: str) -> npt.NDArray[np.floating] | None:
    return _values(ds, name) if name in ds.variables else None


def measured_series(
    ds: xr.Dataset, quantity: str, settings: AggregateSettings, split: Split | None = None
) -> Series:
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
    split : Split or None
        Parts of its uncertainty.

    Returns
    -------
    series : Series
        With what the minutes have.
    """
    names = ("min", "max", "std", "uncertainty")
    lowest, highest, std, spread = (_optional(ds, f"{quantity}_{s}") for s in names)
    counts = counting(ds, quantity, settings)
    return Series(_values(ds, quantity), counts, lowest, highest, std, spread, split)


def _air_series(ds: xr.Dataset, settings: AggregateSettings) -> dict[str, Series]:
    # a direction has no plain mean, so it stays in the minutes
    names = [n for n in AIR if n in ds.variables and n != "wind_from_direction"]
    return {name: Series(_values(ds, name), counting(ds, name, settings)) for name in names}


def _trimmed(series: Series, inside: slice) -> Series:
    if inside == slice(0, series.mean.size):
        return series
    parts = (series.mean, series.valid, series.minimum, series.maximum)
    rest = (series.std, series.uncertainty)
    split = None if series.split is None else series.split.cut(inside)
    cut = (None if part is None else part[inside] for part in (*parts, *rest))
    return Series(*cut, split=split)  # type: ignore[arg-type, misc]


def _minutes(ds: xr.Dataset, period: Period, inside: slice) -> Minutes:
    settings, interval = period.processing.aggregate, int(ds.attrs["interval"])
    suns = Suns(ds, period)
    split = split_of_minutes(ds, period)
    measured = {q: measured_series(ds, q, settings, split(q)) for q in period.quantities()}
    derived, source = derived_series(measured, suns, interval, settings)
    series = {name: _trimmed(one, inside) for name, one in (measured | derived).items()}
    air = {name: _trimmed(one, inside) for name, one in _air_series(ds, settings).items()}
    sunlight = None
    if source is not None:
        clock = "ghi" if "ghi" in measured else "dni"
        sunlight, source = suns.of(clock).extraterrestrial[inside], source[inside]
    return Minutes(
        series,
        air,
        {
            q: ds.variables[f"{q}_grade"].values[inside]
            for q in (*measured, *air)
            if f"{q}_grade" in ds.variables
        },
        _values(ds, "solar_zenith_angle")[inside],
        sunlight,
        source,
        _clear_sky(measured, suns, inside) if interval == MINUTE else None,
    )


def _clear_sky(measured: dict[str, Series], suns: Suns, inside: slice) -> tuple[Mask, Mask] | None:
    """Minutes with a clear sky, and those of which it can be told; neighbours were looked at."""
    if not {"ghi", "dhi"} <= measured.keys():
        return None
    sun = suns.of("ghi")
    ghi, dhi = (measured[q].chosen.filled(measured[q].mean, np.nan) for q in ("ghi", "dhi"))
    clear, told = clear_minutes(ghi, dhi, sun.cosine, sun.extraterrestrial)
    return clear[inside], told[inside]


def _steps(products: Iterable[str], settings: AggregateSettings) -> dict[str, int]:
    """Finest periods that the products need; all from the hour up share the hours."""
    needed = {p: STEPS[p] for p in products if STEPS[p] < HOUR}
    if any(STEPS[p] >= HOUR for p in products):
        needed["hourly"] = HOUR
    by_month = {"monthly", "yearly"} & set(products)
    if by_month and settings.monthly_method == "diurnal_composite":
        needed[BINS] = BIN
    return needed


def minute_cells(
    ds: xr.Dataset, period: Period, products: Sequence[str], base: TimeBase = UTC
) -> dict[str, Cells]:
    """
    Sums over the finest periods that some products need.

    Parameters
    ----------
    ds : xarray.Dataset
        As for :func:`aggregates`.
    period : Period
        As for :func:`aggregates`.
    products : sequence of str
        As for :func:`aggregates`.
    base : TimeBase
        The clock by which periods are cut.

    Returns
    -------
    cells : dict of Cells
        Name of a period below the hour, ``hourly`` and `BINS` → sums. A period shorter than the
        interval of the series is left out, in true solar time one shorter than two of them.
    """
    settings, interval = period.processing.aggregate, int(ds.attrs["interval"])
    time = ds.variables["time"].values
    inside = slice(*np.searchsorted(time, [period.start, period.end]).tolist())
    window = int(time[inside][0]), int(time[inside][-1]) + interval
    cutter = _Cutter(_minutes(ds, period, inside), base, window, interval)
    out = {}
    for name, step in _steps(products, settings).items():
        whole = BIN % interval == 0 and cutter.holds_a_mean(BIN, interval)
        repeats = interval // MINUTE if name == BINS and not whole else 1
        fine = interval // repeats
        if not cutter.holds_a_mean(step, fine):
            continue
        cut, segments = cutter.cut(step, fine)
        known = cutter.totals(segments, repeats)
        if name == BINS:
            bins = quarter_sums(cutter.minutes, segments, known, settings, repeats)
            found: tuple[Parts, Parts, Parts] = (bins, {}, {})
        else:
            found = period_sums(cutter.minutes, segments, known, settings)
        intervals = dict.fromkeys({key.partition(".")[0] for key in found[0]}, fine)
        out[name] = Cells(cut.edges[:-1], cut.edges[1:], cut.labels, *found, intervals)
    return out


class _Cutter:
    """Minutes of a window, and the clock by which its periods are cut."""

    def __init__(
        self, minutes: Minutes, base: TimeBase, window: tuple[int, int], interval: int
    ) -> None:
        self.minutes, self._interval = minutes, interval
        self._base, self._window = base, window
        self._cuts: dict[tuple[int, int], tuple[Grid, Segments]] = {}

    def holds_a_mean(self, step: int, interval: int) -> bool:
        # solar hours are not quite as long as those of a clock: some would hold no mean at all
        return step >= (2 * interval if self._base.name == "true_solar" else interval)

    def cut(self, step: int, interval: int) -> tuple[Grid, Segments]:
        if (step, interval) not in self._cuts:
            cut = grid(self._base, self._window, step, interval)
            segments = Segments((cut.edges - self._window[0]) // interval)
            self._cuts[step, interval] = cut, segments
        return self._cuts[step, interval]

    def totals(self, segments: Segments, repeats: int) -> Totals:
        """Of periods that are whole quarters of an hour from these, else from the minutes."""
        if repeats > 1:
            return totals(repeated(self.minutes.series, repeats), segments)
        if self._quarters is not None:
            quarters, known = self._quarters
            groups = quarters.groups(segments)
            if groups is not None:
                return known.longer(groups)
        return totals(self.minutes.series, segments)

    @cached_property
    def _quarters(self) -> tuple[Segments, Totals] | None:
        if BIN % self._interval or not self.holds_a_mean(BIN, self._interval):
            return None
        segments = self.cut(BIN, self._interval)[1]
        return segments, totals(self.minutes.series, segments)


def from_cells(
    cells: Mapping[str, Cells],
    settings: AggregateSettings,
    products: Sequence[str],
    base: TimeBase = UTC,
) -> dict[str, xr.Dataset]:
    """
    Products from sums over the finest periods.

    Parameters
    ----------
    cells : dict of Cells
        From :func:`minute_cells`, of several months from :func:`~sunledger.stages.cells.in_order`.
    settings : AggregateSettings
        Completeness and methods.
    products : sequence of str
        As for :func:`aggregates`.
    base : TimeBase
        The clock by which periods are cut.

    Returns
    -------
    aggregated : dict of xarray.Dataset
        As from :func:`aggregates`.
    """
    longer = any(STEPS[p] >= STEPS["daily"] for p in products)
    days = days_of(cells) if longer else None
    made = {p: aggregated(cells, days, p, settings, base) for p in products}
    return {product: ds for product, ds in made.items() if ds is not None}


def aggregate(ds: xr.Dataset, period: Period, product: str, base: TimeBase = UTC) -> xr.Dataset:
    """
    Aggregate minutes to one product.

    Parameters
    ----------
    ds : xarray.Dataset
        As for :func:`aggregates`.
    period : Period
        Resolved configuration of the month, from its start to its end.
    product : str
        One of ``products.STEPS``.
    base : TimeBase
        The clock by which periods are cut.

    Returns
    -------
    aggregated : xarray.Dataset
        As from :func:`aggregates`.
    """
    return aggregates(ds, period, (product,), base)[product]


def aggregates(
    ds: xr.Dataset, period: Period, products: Sequence[str], base: TimeBase = UTC
) -> dict[str, xr.Dataset]:
    """
    Aggregate minutes to several products.

    Parameters
    ----------
    ds : xarray.Dataset
        Flagged minutes of whole days, with the attribute ``interval`` [s]. Minutes before and
        after the period are looked at as far as `REACH`, so that the cut leaves no trace.
    period : Period
        Resolved configuration, from the start to the end of what is aggregated.
    products : sequence of str
        Of ``products.STEPS``.
    base : TimeBase
        The clock by which periods are cut.

    Returns
    -------
    aggregated : dict of xarray.Dataset
        By product, along ``time`` (start of the period, UTC) with ``time_end`` and, but for UTC,
        ``clock_time``: per quantity mean, minimum, maximum, standard deviation, exposure,
        uncertainty, number of observations and of missing ones, coverage fraction, the reason why
        a value is withheld, shares of the grades and the worst; selected global with the share of
        each source, net quantities, clearness index, diffuse fraction, sunshine duration with the
        possible one and its share.
    """
    cells = minute_cells(ds, period, products, base)
    return from_cells(cells, period.processing.aggregate, products, base)
