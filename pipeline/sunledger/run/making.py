"""Making one unit: read, run the stages, publish. A unit that fails stops no other."""

from __future__ import annotations

import logging
import traceback
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from sunledger.archive.aggregate_products import aggregate_file
from sunledger.archive.changes import Made
from sunledger.archive.content import part_digests
from sunledger.archive.digest import plain_data
from sunledger.archive.manifest import InputFile, Manifest, Status, read_manifest
from sunledger.archive.products import (
    FileContext,
    Origin,
    minute_file,
    months_of,
    read_minutes,
    voltage_file,
)
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import resolve_period
from sunledger.errors import SunledgerError
from sunledger.run.context import SOFTWARE, RunContext
from sunledger.run.findings import line_accounting
from sunledger.run.grids import grid_intervals, grid_product, on_grid
from sunledger.run.keys import traced_settings
from sunledger.run.minutes import bit_counts, minutes_of
from sunledger.run.months import month_bounds
from sunledger.run.publish import Outcome, publish
from sunledger.run.status import final_status, unit_end
from sunledger.run.unit import Unit
from sunledger.stages.aggregate import aggregate
from sunledger.stages.ingest import ingest
from sunledger.stages.streams import RawFile
from sunledger.stages.time_correct import SHORTEST_INTERVAL

log = logging.getLogger(__name__)


def _manifest(unit: Unit, accounting: dict[str, Any], flags: dict[str, Any]) -> Manifest:
    return Manifest(
        product=unit.product,
        station=unit.station,
        period=unit.period,
        key=unit.key,
        inputs=tuple(InputFile(*source) for source in unit.sources),
        resolved_configuration=plain_data(unit.settings),
        accounting=accounting,
        flags_raised=flags,
    )


def _made(context: RunContext, unit: Unit, status: Status, parts: dict[str, str]) -> Made:
    product = f"{unit.product}_{unit.logger}" if unit.logger else unit.product
    cause = "; ".join(unit.reasons)
    return Made(product, unit.period, "", context.issued, SOFTWARE, cause, status, parts)


def make_voltage(context: RunContext, unit: Unit) -> Outcome:
    """
    Ingest the raw files of a logger and month, and archive the voltages.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        A voltage unit.

    Returns
    -------
    outcome : Outcome
        With the accounting of lines.
    """
    station = context.station(unit.station).station
    files = [RawFile(context.raw / name, name) for name, _, _ in unit.sources]
    readings = ingest(files, station, unit.logger, *month_bounds(unit.period))
    return publish_voltage(context, unit, readings)


def publish_voltage(context: RunContext, unit: Unit, readings: xr.Dataset) -> Outcome:
    """
    Archive the readings of a logger and month.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        A voltage unit.
    readings : xarray.Dataset
        Out of the ingest stage.

    Returns
    -------
    outcome : Outcome
        With the accounting of lines, and what else was found in them.
    """
    config = context.station(unit.station)
    start, end = month_bounds(unit.period)
    accounting = line_accounting(readings, config, unit.logger)
    if readings.sizes[f"reading_{unit.logger}"] == 0:
        return Outcome(unit.name, "empty", accounting=accounting, error="no line could be read")
    resolved = resolve_period(config, context.processing, start, end)
    sizes = {name: size for name, _, size in unit.sources}
    read = zip(readings.attrs["source_files"], readings.attrs["source_sha256"], strict=True)
    # the rows of this table are what `source_file` counts
    sources = tuple((name, sha256, sizes[name]) for name, sha256 in read)
    origin = Origin(sources, traced_settings(unit.settings))
    about = FileContext(context.network, config, resolved, unit.period, start, end, origin)
    status = final_status(context, config, unit.period)
    return publish(
        voltage_file(readings, about, unit.logger),
        context.product_path(unit.station, "voltage", unit.period, unit.logger),
        context.record_path(unit.station),
        _made(context, unit, status, {}),
        _manifest(unit, accounting, {}),
    )


def make_minutes(context: RunContext, unit: Unit) -> Outcome:
    """
    Make the minute file of a month from the voltages.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        A minute unit.

    Returns
    -------
    outcome : Outcome
        With the number of minutes and the flags raised.
    """
    config = _of_unit(context, unit)
    start, end = month_bounds(unit.period)[0], unit_end(context, unit.period)
    ds, period = minutes_of(context, config, start, end, unit.after)
    quantities = period.quantities()
    accounting: dict[str, Any] = {
        "minutes": int(ds.sizes["time"]),
        "present": {q: int(np.isfinite(ds[q].values).sum()) for q in quantities},
        "conditions": bit_counts(ds, quantities, "conditions"),
    }
    read = [np.isfinite(ds[f"clock_residual_{logger.name}"].values) for logger in period.loggers]
    if not np.any(read):
        return Outcome(unit.name, "empty", accounting=accounting, error="no reading falls into it")
    origin = Origin(unit.sources, traced_settings(unit.settings))
    about = FileContext(context.network, config, period, unit.period, start, end, origin)
    return publish(
        minute_file(ds, about),
        context.product_path(unit.station, unit.product, unit.period, unit.logger),
        context.record_path(unit.station),
        _made(context, unit, final_status(context, config, unit.period), {}),
        _manifest(unit, accounting, bit_counts(ds, quantities, "flags")),
    )


def make_aggregate(context: RunContext, unit: Unit) -> Outcome:
    """
    Make an hourly, daily or monthly file of a year from its minute files.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        An aggregate unit.

    Returns
    -------
    outcome : Outcome
        With the number of periods.
    """
    config = context.station(unit.station)
    present = [m for m in unit.months if any(p.exists() for p in _grid_paths(context, config, m))]
    if not present:
        return Outcome(unit.name, "empty", error="no month of minutes")
    pieces = [_aggregated_month(context, config, m, unit.product) for m in present]
    joined = xr.concat(pieces, "time", data_vars="all", coords="all", join="outer")
    start, end = month_bounds(unit.months[0])[0], month_bounds(unit.months[-1])[1]
    resolved = resolve_period(config, context.processing, start, end)
    origin = Origin(unit.sources, traced_settings(unit.settings))
    about = FileContext(context.network, config, resolved, unit.period, start, end, origin)
    spec = aggregate_file(joined, about, unit.product)
    parts = part_digests(spec, "time", months_of(joined["time"].values))
    statuses = {final_status(context, config, m) for m in present}
    status: Status = "final" if statuses == {"final"} else "provisional"
    return publish(
        spec,
        context.product_path(unit.station, unit.product, unit.period),
        context.record_path(unit.station),
        _made(context, unit, status, parts),
        _manifest(unit, {"periods": int(joined.sizes["time"])}, {}),
    )


def _of_unit(context: RunContext, unit: Unit) -> StationConfig:
    """Only the loggers of the unit's grid."""
    return on_grid(context.station(unit.station), int(unit.logger or SHORTEST_INTERVAL))


def _grid_paths(context: RunContext, config: StationConfig, month: str) -> Iterator[Path]:
    for interval in grid_intervals(config.station):
        product, part = grid_product(interval)
        yield context.product_path(config.station.id, product, month, part)


def _aggregated_month(
    context: RunContext, config: StationConfig, month: str, product: str
) -> xr.Dataset:
    """
    Aggregates of a month, of each quantity from the shortest interval that has it.

    A grid without a file has no reading in this month: its quantities are all missing, and said so.
    """
    start, end = month_bounds(month)
    found = xr.Dataset()
    grids = grid_intervals(config.station)
    for interval, path in zip(grids, _grid_paths(context, config, month), strict=True):
        part = on_grid(config, interval)
        ds = read_minutes(path) if path.exists() else minutes_of(context, part, start, end, ())[0]
        made = aggregate(ds, resolve_period(part, context.processing, start, end), product)
        new = [name for name in made.variables if name not in found.variables]
        found = found.assign({str(name): made[name] for name in new})
    return found


MAKERS = {"voltage": make_voltage, "minute": make_minutes, "aggregate": make_aggregate}


def run_unit(context: RunContext, unit: Unit, before: tuple[Outcome, ...]) -> Outcome:
    """
    Make one unit.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        What to make.
    before : tuple of Outcome
        What became of the units it reads.

    Returns
    -------
    outcome : Outcome
        Expected errors and bugs alike become a failed outcome with their cause: one unit must not
        stop the others.
    """
    failed = [o.unit for o in before if o.done == "failed"]
    if failed:
        return Outcome(unit.name, "failed", error=f"not made: {', '.join(failed)} failed")
    empty = {o.unit for o in before if o.done == "empty"}
    there = {name.rpartition(" ")[2] for name in unit.after if name not in empty}
    unit = replace(unit, months=tuple(m for m in unit.months if m in there))
    return guarded(unit.name, lambda: MAKERS[unit.kind](context, unit))


def guarded(name: str, make: Callable[[], Outcome]) -> Outcome:
    """
    Make a unit; expected errors and bugs alike become a failed outcome.

    Parameters
    ----------
    name : str
        Of the unit.
    make : callable
        Makes it.

    Returns
    -------
    outcome : Outcome
        Of the unit of that name.
    """
    try:
        return replace(make(), unit=name)
    except (SunledgerError, OSError, MemoryError) as error:
        return Outcome(name, "failed", error=str(error) or type(error).__name__)
    except Exception as error:  # a bug: named with its place, the rest goes on
        log.debug("unit %s", name, exc_info=True)
        place = traceback.extract_tb(error.__traceback__)[-1]
        where = f"{place.filename.rsplit('sunledger', 1)[-1]}:{place.lineno}"
        return Outcome(name, "failed", error=f"{type(error).__name__}: {error} ({where})")


def stored_outcome(context: RunContext, unit: Unit) -> Outcome:
    """
    What the archive says of a unit that is fresh.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        A fresh unit.

    Returns
    -------
    outcome : Outcome
        ``unchanged``, with the accounting of its manifest.
    """
    path = context.product_path(unit.station, unit.product, unit.period, unit.logger)
    manifest = read_manifest(path)
    if manifest is None:
        return Outcome(unit.name, "failed", error=f"{path}: manifest vanished")
    return Outcome(
        unit.name,
        "unchanged",
        str(path),
        manifest.version,
        manifest.status,
        dict(manifest.accounting),
        dict(manifest.flags_raised),
    )
