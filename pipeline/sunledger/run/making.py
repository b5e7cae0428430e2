"""Making one unit: read, run the stages, get its file ready. A unit that fails stops no other."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import xarray as xr

from sunledger.archive.aggregate_products import aggregate_file
from sunledger.archive.changes import Made
from sunledger.archive.content import part_digests
from sunledger.archive.manifest import InputFile, Manifest, Status, manifest_path, read_manifest
from sunledger.archive.minute_counts import minute_counts
from sunledger.archive.products import (
    FileContext,
    Origin,
    minute_file,
    months_of,
    voltage_file,
)
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import resolve_period
from sunledger.run.clocks import clock_words
from sunledger.run.context import SOFTWARE, RunContext
from sunledger.run.days import forget_days, open_minutes, open_readings
from sunledger.run.file_index import still_there
from sunledger.run.findings import line_accounting
from sunledger.run.grids import on_grid
from sunledger.run.guarding import failed_before, guarded, with_months
from sunledger.run.keys import traced_settings
from sunledger.run.minutes import bit_counts, minutes_of
from sunledger.run.months import month_bounds
from sunledger.run.plan import NO_FILE_YET
from sunledger.run.publish import Outcome, Publication, Ready
from sunledger.run.status import final_status, unit_end
from sunledger.run.unit import Unit
from sunledger.run.years import Name, aggregated_year
from sunledger.stages.ingest import ingest
from sunledger.stages.qc_flag import flagged_quantities
from sunledger.stages.streams import RawFile
from sunledger.stages.time_correct import SHORTEST_INTERVAL


def _manifest(unit: Unit, accounting: dict[str, Any], flags: dict[str, Any]) -> Manifest:
    return Manifest(
        product=unit.product,
        station=unit.station,
        period=unit.period,
        key=unit.key,
        inputs=tuple(InputFile(*source) for source in unit.sources),
        resolved_configuration=unit.settings,
        accounting=accounting,
        flags_raised=flags,
    )


def _made(context: RunContext, unit: Unit, status: Status, parts: dict[str, str]) -> Made:
    product = f"{unit.product}_{unit.logger}" if unit.logger else unit.product
    # a first issue has no cause but that it was asked for; an open month is no issue, and its file
    # must not tell which days were made before it
    silent = status == "open" or unit.reasons == (NO_FILE_YET,)
    cause = "" if silent else "; ".join(unit.reasons)
    return Made(product, unit.period, "", context.issued, SOFTWARE, cause, status, parts)


def make_voltage(context: RunContext, unit: Unit) -> Ready:
    """
    Ingest the raw files of a logger and month.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        A voltage unit.

    Returns
    -------
    ready : Outcome or Publication
        With the accounting of lines.
    """
    if unit.settings["status"] == "open":
        readings = open_readings(context, unit)
    else:
        station = context.station(unit.station).station
        files = [RawFile(context.raw / name, name) for name, _, _ in unit.sources]
        readings = ingest(files, station, unit.logger, *month_bounds(unit.period))
        forget_days(context, unit)
    still_there(context.raw, [name for name, _, _ in unit.sources])
    return ready_voltage(context, unit, readings)


def ready_voltage(context: RunContext, unit: Unit, readings: xr.Dataset) -> Ready:
    """
    The voltage file of the readings of a logger and month.

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
    ready : Outcome or Publication
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
    return Publication(
        unit.name,
        voltage_file(readings, about, unit.logger),
        context.product_path(unit.station, "voltage", unit.period, unit.logger),
        context.record_path(unit.station),
        _made(context, unit, status, {}),
        _manifest(unit, accounting, {}),
    )


def make_minutes(context: RunContext, unit: Unit) -> Ready:
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
    ready : Outcome or Publication
        With the number of minutes and the flags raised.
    """
    config = _of_unit(context, unit)
    start, end = month_bounds(unit.period)[0], unit_end(context, unit.period)
    if unit.days:
        ds, period = open_minutes(context, config, unit)
    else:
        ds, period = minutes_of(context, config, start, end, unit.after)
        forget_days(context, unit)
    quantities = flagged_quantities(ds, period)
    read = [np.isfinite(ds[f"clock_residual_{logger.name}"].values) for logger in period.loggers]
    if not np.any(read):
        none = {"minutes": int(ds.sizes["time"])}
        return Outcome(unit.name, "empty", accounting=none, error="no reading falls into it")
    origin = Origin(unit.sources, traced_settings(unit.settings))
    about = FileContext(context.network, config, period, unit.period, start, end, origin)
    spec = minute_file(ds, about)
    accounting = {
        **minute_counts(spec),
        "conditions": bit_counts(ds, quantities, "conditions"),
    }
    return Publication(
        unit.name,
        spec,
        context.product_path(unit.station, unit.product, unit.period, unit.logger),
        context.record_path(unit.station),
        _made(context, unit, final_status(context, config, unit.period), {}),
        _manifest(unit, accounting, bit_counts(ds, quantities, "flags")),
    )


def make_aggregate(context: RunContext, unit: Unit) -> Ready:
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
    ready : Outcome or Publication
        With the number of periods.
    """
    return ready_aggregate(context, unit, aggregated_year(context, (unit,)))


def ready_aggregate(context: RunContext, unit: Unit, year: Mapping[Name, xr.Dataset]) -> Ready:
    """
    The hourly, daily or monthly file of a year.

    Parameters
    ----------
    context : RunContext
        The run.
    unit : Unit
        An aggregate unit.
    year : dict of xarray.Dataset
        From :func:`sunledger.run.years.aggregated_year`.

    Returns
    -------
    ready : Outcome or Publication
        With the number of periods.
    """
    name = (unit.product, unit.logger)
    if name not in year:
        return Outcome(unit.name, "empty", error="no month of minutes")
    config, joined = context.station(unit.station), year[name]
    start, end = month_bounds(unit.months[0])[0], month_bounds(unit.months[-1])[1]
    resolved = resolve_period(config, context.processing, start, end)
    origin = Origin(unit.sources, traced_settings(unit.settings))
    about = FileContext(context.network, config, resolved, unit.period, start, end, origin)
    spec = aggregate_file(joined, about, unit.product, clock_words(unit.logger, config.station))
    # by the file's own clock, so that the next month extends the file and leaves these parts
    labels = joined["clock_time" if unit.logger else "time"].values
    parts = part_digests(spec, "time", months_of(labels))
    read = (*unit.months, *unit.around) if unit.logger else unit.months
    statuses = {final_status(context, config, m) for m in read}
    status: Status = "final" if statuses == {"final"} else "provisional"
    return Publication(
        unit.name,
        spec,
        context.product_path(unit.station, unit.product, unit.period, unit.logger),
        context.record_path(unit.station),
        _made(context, unit, status, parts),
        _manifest(unit, {"periods": int(joined.sizes["time"])}, {}),
    )


def _of_unit(context: RunContext, unit: Unit) -> StationConfig:
    """Only the loggers of the unit's grid."""
    return on_grid(context.station(unit.station), int(unit.logger or SHORTEST_INTERVAL))


MAKERS = {"voltage": make_voltage, "minute": make_minutes, "aggregate": make_aggregate}


def run_unit(context: RunContext, unit: Unit, before: tuple[Outcome, ...]) -> Ready:
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
    ready : Outcome or Publication
        Expected errors and bugs alike become a failed outcome with their cause: one unit must not
        stop the others.
    """
    if unmade := failed_before(unit, before):
        return unmade
    unit = with_months(unit, before)
    return guarded(unit.name, lambda: MAKERS[unit.kind](context, unit))


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
    stored = unit.stored or read_manifest(path)
    if stored is None or not manifest_path(path).exists():
        return Outcome(unit.name, "failed", error=f"{path}: manifest vanished")
    return Outcome(
        unit.name,
        "unchanged",
        str(path),
        stored.version,
        stored.status,
        dict(stored.accounting),
        dict(stored.flags_raised),
    )
