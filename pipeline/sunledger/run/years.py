"""Aggregates of a year from its minute files, each read once for all products."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.archive.minute_series import minutes_in, read_minutes
from sunledger.archive.specification import FileSpec
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import FAR_FUTURE
from sunledger.config.resolve import resolve_period
from sunledger.datasets import as_variables, taken
from sunledger.run.clocks import months_read, time_base
from sunledger.run.context import RunContext
from sunledger.run.grids import grid_intervals, grid_product, on_grid
from sunledger.run.memory import give_back
from sunledger.run.minutes import minutes_of
from sunledger.run.months import month_bounds
from sunledger.run.unit import Unit
from sunledger.stages.aggregate import REACH, from_cells, minute_cells
from sunledger.stages.cells import Cells, completed, in_order
from sunledger.vocabulary import GRADES

BEYOND = 2 * 86400
"""More than a clock of any place, and what is looked at beside its month, lies from UTC. [s]"""
HANDED = 3
"""Months of minutes held at most that were handed over and wait for the months before them."""
Grids = tuple[xr.Dataset | None, ...]
"""Minutes of a month, one dataset for each grid of the station; None where it has no file."""
Name = tuple[str, str]
"""Product and the part of its file's name that tells the clock."""


def aggregated_year(
    context: RunContext, units: Sequence[Unit], ahead: YearInMaking | None = None
) -> dict[Name, xr.Dataset]:
    """
    Aggregates of all months of a year that have minutes.

    Parameters
    ----------
    context : RunContext
        The run.
    units : sequence of Unit
        Aggregate units of one station and year.
    ahead : YearInMaking or None
        What was begun of these units; of other units it is left aside.

    Returns
    -------
    year : dict of xarray.Dataset
        Product and clock → its periods in order; empty when no month has a file.
    """
    begun = ahead is not None and ahead.units == tuple(units)
    year = ahead if ahead is not None and begun else YearInMaking(context, units)
    year.advance()
    return year.finished()


class YearInMaking:
    """
    Aggregates of a station and year, month by month as its minutes come.

    No more than two months of minutes are held at a time, and two days; of those that are handed
    over, the last few wait for the months before them.

    Parameters
    ----------
    context : RunContext
        The run.
    units : sequence of Unit
        Aggregate units of one station and year.
    """

    def __init__(self, context: RunContext, units: Sequence[Unit]) -> None:
        self.units = tuple(units)
        self._context, self._config = context, context.station(units[0].station)
        self._groups: dict[str, list[Unit]] = {}
        for unit in units:
            self._groups.setdefault(unit.logger, []).append(unit)
        self._named = {m for u in units for m in (*u.months, *u.around)}
        self._reader = _Reader(context, self._config, self._named)
        self._left = sorted({m for u in units for m in u.months})
        self._pieces: dict[str, list[dict[str, Cells]]] = {part: [] for part in self._groups}

    def advance(self, there: Collection[str] | None = None) -> None:
        """
        Go on with the next months, as long as all that they read is there.

        Parameters
        ----------
        there : collection of str or None
            Months whose minutes are in the archive; None for all.
        """
        while self._left and (there is None or self._read_by(self._left[0]).issubset(there)):
            self._take(self._left.pop(0))
        if not self._left:
            self._reader.forget_before(FAR_FUTURE)

    def hand_over(self, path: Path, minutes: FileSpec) -> None:
        """
        Minutes that are still in memory as they were written, so that they need not be read.

        Parameters
        ----------
        path : Path
            Their file.
        minutes : FileSpec
            What is in it.
        """
        if self._left:
            self._reader.hand_over(path, minutes_in(minutes, words=False))

    def _read_by(self, month: str) -> set[str]:
        station = self._config.station
        bases = [time_base(part, station) for part in self._groups]
        return self._named & {m for base in bases for m in months_read(base, month, station)}

    def _take(self, month: str) -> None:
        self._reader.forget_before(month_bounds(month)[0] - BEYOND)
        give_back()  # a year takes more memory than a month
        last = next(reversed(self._groups))
        for part, group in self._groups.items():
            if month in group[0].months and self._reader.has(month):
                products = [u.product for u in group]
                made = _month_cells(self._reader, part, month, products, part == last)
                self._pieces[part].append(made)

    def finished(self) -> dict[Name, xr.Dataset]:
        """
        The year of all months that were taken; to be asked for once.

        Returns
        -------
        year : dict of xarray.Dataset
            As from :func:`aggregated_year`.
        """
        settings = self._context.processing.aggregate
        out: dict[Name, xr.Dataset] = {}
        for part, group in self._groups.items():
            if pieces := self._pieces.pop(part):
                names, base = [u.product for u in group], time_base(part, self._config.station)
                made = from_cells(in_order(pieces), settings, names, base)
                out |= {(product, part): ds for product, ds in made.items()}
        return out


class _Reader:
    """Minutes by time, of months that are read once and let go when time has passed them."""

    def __init__(self, context: RunContext, config: StationConfig, months: set[str]) -> None:
        self.context, self.config = context, config
        self._held: dict[str, Grids] = {}
        self._handed: dict[Path, xr.Dataset] = {}
        self._months = months

    def hand_over(self, path: Path, minutes: xr.Dataset) -> None:
        self._handed[path] = minutes
        while len(self._handed) > HANDED:
            del self._handed[next(iter(self._handed))]

    def forget_before(self, time: int) -> None:
        held = {m: grids for m, grids in self._held.items() if month_bounds(m)[1] > time}
        self._held = {m: tuple(_since(ds, time) for ds in grids) for m, grids in held.items()}
        ahead = self._handed.items()
        self._handed = {p: ds for p, ds in ahead if ds["time"].values[-1] >= time}

    def has(self, month: str) -> bool:
        return month in self._months and any(p.exists() for p in self._paths(month))

    def _paths(self, month: str) -> Iterator[Path]:
        for interval in grid_intervals(self.config.station):
            product, part = grid_product(interval)
            yield self.context.product_path(self.config.station.id, product, month, part)

    def _grids(self, month: str) -> Grids:
        if month not in self._held:
            self._held[month] = tuple(self._minutes_of(path) for path in self._paths(month))
        return self._held[month]

    def _minutes_of(self, path: Path) -> xr.Dataset | None:
        if not path.exists():
            return None
        handed = self._handed.pop(path, None)
        return read_minutes(path, words=False) if handed is None else handed

    def minutes(self, number: int, start: int, end: int, months: Sequence[str]) -> xr.Dataset:
        """Minutes of a grid from start to end, and as far as ``REACH`` beyond where there are."""
        interval = grid_intervals(self.config.station)[number]
        pieces = []
        for month in months:
            first, past = month_bounds(month)
            first, past = max(first, start - REACH), min(past, end + REACH)
            held = self._grids(month)[number] if self.has(month) else None
            if held is not None:
                pieces.append(_between(held, first, past))
            elif (first := max(first, start)) < (past := min(past, end)):
                # no file, so no reading in this time: all missing, and said so
                one = on_grid(self.config, interval)
                pieces.append(minutes_of(self.context, one, first, past, ())[0])
        return joined_minutes(pieces)


def _since(ds: xr.Dataset | None, time: int) -> xr.Dataset | None:
    """What is not before a time, in memory of its own so that the rest is let go."""
    if ds is None or ds["time"].values[0] >= time:
        return ds
    first = int(np.searchsorted(ds["time"].values, time))
    if first == ds.sizes["time"]:
        return None
    return taken(ds, {"time": slice(first, None)}).copy(deep=True)


def _between(ds: xr.Dataset, start: int, end: int) -> xr.Dataset:
    time = ds["time"].values
    place = np.searchsorted(time, [start, end])
    whole = place.tolist() == [0, time.size]
    return ds if whole else taken(ds, {"time": slice(*place.tolist())})


def joined_minutes(pieces: Sequence[xr.Dataset]) -> xr.Dataset:
    """
    Minutes of months one after the other.

    Parameters
    ----------
    pieces : sequence of xarray.Dataset
        In order of time, of the same interval.

    Returns
    -------
    minutes : xarray.Dataset
        Numbers and grades; what a piece lacks is missing there.
    """
    names = [
        name
        for name in dict.fromkeys(str(n) for piece in pieces for n in piece.data_vars)
        if name.endswith("_grade") or any(_is_number(piece, name) for piece in pieces)
    ]
    joined = {name: ("time", np.concatenate([_column(p, name) for p in pieces])) for name in names}
    time = {"time": ("time", np.concatenate([piece["time"].values for piece in pieces]))}
    about = {"interval": pieces[0].attrs["interval"]}
    return xr.Dataset(as_variables(joined), as_variables(time), about)


def _is_number(piece: xr.Dataset, name: str) -> bool:
    return name in piece.variables and piece.variables[name].dtype.kind == "f"


def _column(piece: xr.Dataset, name: str) -> npt.NDArray[Any]:
    if name in piece.variables:
        return np.asarray(piece.variables[name].values)
    size = piece.sizes["time"]
    if name.endswith("_grade"):
        return np.full(size, GRADES["missing"], np.int8)
    return np.full(size, np.nan, np.float32)


def _month_cells(
    reader: _Reader, part: str, month: str, products: Sequence[str], last: bool
) -> dict[str, Cells]:
    """Of each quantity from the shortest interval that has it; no part after the last reads it."""
    config = reader.config
    intervals = grid_intervals(config.station)
    base = time_base(part, config.station)
    months = months_read(base, month, config.station)
    found: dict[str, Cells] = {}
    for number, interval in enumerate(intervals):
        # periods of a longer interval begin where its means do
        first, past = base.bounds(month, interval)
        resolved = resolve_period(on_grid(config, interval), reader.context.processing, first, past)
        minutes = reader.minutes(number, first, past, months)
        if last and interval == intervals[-1]:
            reader.forget_before(month_bounds(month)[1] - BEYOND)
        for name, cells in minute_cells(minutes, resolved, products, base).items():
            found[name] = completed(found[name], cells) if name in found else cells
    return found
