"""Aggregates of a year from its minute files, each read once for all products."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import xarray as xr

from sunledger.archive.products import read_minutes
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import resolve_period
from sunledger.run.context import RunContext
from sunledger.run.grids import grid_intervals, grid_product, on_grid
from sunledger.run.minutes import minutes_of
from sunledger.run.months import month_bounds, months_touched
from sunledger.run.unit import Unit
from sunledger.stages.aggregate import REACH, aggregates

Grids = tuple[xr.Dataset, ...]
"""Minutes of a month, one dataset for each grid of the station."""


def aggregated_year(
    context: RunContext, unit: Unit, products: Sequence[str]
) -> dict[str, xr.Dataset]:
    """
    Aggregates of all months of a year that have minutes.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        An aggregate unit, whose months are wanted.
    products : sequence of str
        Of ``hourly``, ``daily`` and ``monthly``.

    Returns
    -------
    year : dict of xarray.Dataset
        Product → its periods in order; empty when no month has a file. No more than three months
        of minutes are held at a time.
    """
    config = context.station(unit.station)
    present = [m for m in unit.months if any(p.exists() for p in _grid_paths(context, config, m))]
    held: dict[str, Grids] = {}
    made: dict[str, list[xr.Dataset]] = {product: [] for product in products}
    for month in present:
        around = [m for m in _neighbourhood(month) if m in present]
        held = {m: held.get(m) or _read(context, config, m) for m in around}
        for product, ds in _aggregated_month(context, config, month, held, products).items():
            made[product].append(ds)
    return {
        product: xr.concat(pieces, "time", data_vars="all", coords="all", join="outer")
        for product, pieces in made.items()
        if pieces
    }


def _neighbourhood(month: str) -> list[str]:
    start, end = month_bounds(month)
    return months_touched(start - REACH, end + REACH)


def _grid_paths(context: RunContext, config: StationConfig, month: str) -> Iterator[Path]:
    for interval in grid_intervals(config.station):
        product, part = grid_product(interval)
        yield context.product_path(config.station.id, product, month, part)


def _read(context: RunContext, config: StationConfig, month: str) -> Grids:
    """A grid without a file has no reading in this month: all missing, and said so."""
    start, end = month_bounds(month)
    grids = grid_intervals(config.station)
    paths = zip(grids, _grid_paths(context, config, month), strict=True)
    return tuple(
        read_minutes(path, words=False)
        if path.exists()
        else minutes_of(context, on_grid(config, interval), start, end, ())[0]
        for interval, path in paths
    )


def with_neighbours(own: xr.Dataset, others: Sequence[xr.Dataset]) -> xr.Dataset:
    """
    Minutes of a month with those next to it.

    Parameters
    ----------
    own : xarray.Dataset
        The month.
    others : sequence of xarray.Dataset
        Months before and after it, of the same interval.

    Returns
    -------
    minutes : xarray.Dataset
        The month's variables; what a neighbour lacks is missing there.
    """
    if not others:
        return own
    time = own["time"].values
    first, past = int(time[0]) - REACH, int(time[-1]) + own.attrs["interval"] + REACH
    edges = [own]
    for other in others:
        near = (other["time"].values >= first) & (other["time"].values < past)
        edges.append(other[[v for v in own.data_vars if v in other]].isel(time=near))
    edges.sort(key=lambda piece: int(piece["time"].values[0]))
    joined = xr.concat(edges, "time", data_vars="all", join="outer", combine_attrs="override")
    return joined.assign_attrs(own.attrs)


def _aggregated_month(
    context: RunContext,
    config: StationConfig,
    month: str,
    held: dict[str, Grids],
    products: Sequence[str],
) -> dict[str, xr.Dataset]:
    """Of each quantity from the shortest interval that has it."""
    start, end = month_bounds(month)
    found = {product: xr.Dataset() for product in products}
    for number, interval in enumerate(grid_intervals(config.station)):
        own = held[month][number]
        others = [grids[number] for m, grids in held.items() if m != month]
        resolved = resolve_period(on_grid(config, interval), context.processing, start, end)
        made = aggregates(with_neighbours(own, others), resolved, products)
        for product, ds in made.items():
            new = [name for name in ds.variables if name not in found[product].variables]
            found[product] = found[product].assign({str(name): ds[name] for name in new})
    return found
