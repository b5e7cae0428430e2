"""Making one unit: read, run the stages, publish. A unit that fails stops no other."""

from __future__ import annotations

import logging
import traceback
from collections.abc import Callable, Collection
from dataclasses import replace
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
from sunledger.archive.readings_file import empty_readings, read_readings
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import Period, resolve_period
from sunledger.errors import SunledgerError
from sunledger.run.context import SOFTWARE, RunContext
from sunledger.run.findings import line_accounting
from sunledger.run.keys import HALO, label_window, traced_settings
from sunledger.run.months import month_bounds, months_touched
from sunledger.run.publish import Outcome, publish
from sunledger.run.status import final_status, unit_end
from sunledger.run.unit import Unit, unit_name
from sunledger.stages.aggregate import aggregate
from sunledger.stages.calibrate import calibrate
from sunledger.stages.ingest import ingest
from sunledger.stages.qc_flag import qc_flag
from sunledger.stages.streams import RawFile
from sunledger.stages.time_correct import time_correct
from sunledger.stages.true_time import with_true_times
from sunledger.vocabulary import CONDITIONS, TESTS

log = logging.getLogger(__name__)

FILES_A_MONTH = 100_000
"""Sets the source files of different label months apart where months are joined."""


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


def load_readings(
    context: RunContext,
    config: StationConfig,
    period: Period,
    voltages: Collection[str] | None = None,
) -> xr.Dataset:
    """
    Readings that can belong to a period, from the voltage products.

    Parameters
    ----------
    context : RunContext
        The run.
    config : StationConfig
        The station's files.
    period : Period
        Resolved configuration, halo included.
    voltages : collection of str or None
        Names of the voltage units that may be read. A file whose raw data have vanished stays in
        the archive, but nothing new may rest on it. None for all.

    Returns
    -------
    readings : xarray.Dataset
        All loggers, each in file order; the line numbers of different months are set apart.
    """
    parts: list[xr.Dataset] = []
    for logger in period.loggers:
        window = label_window(logger, period.start, period.end)
        pieces = []
        for number, month in enumerate(months_touched(*window)):
            path = context.product_path(period.station_id, "voltage", month, logger.name)
            name = unit_name(period.station_id, "voltage", logger.name, month)
            if path.exists() and (voltages is None or name in voltages):
                piece = read_readings(path, config.station, logger.name, window)
                for name in (f"source_file_{logger.name}", f"quarantine_file_{logger.name}"):
                    piece[name] = piece[name] + number * FILES_A_MONTH
                pieces.append(piece)
        parts.append(_joined(pieces) if pieces else empty_readings(config.station, logger.name))
    return xr.merge(parts, join="exact", compat="identical")


def _joined(pieces: list[xr.Dataset]) -> xr.Dataset:
    """Pieces one after the other along whatever dimension each variable has."""
    first = pieces[0]
    if len(pieces) == 1:
        return first
    return xr.Dataset(
        {
            str(name): (first[name].dims, np.concatenate([p[name].values for p in pieces]))
            for name in first.data_vars
        }
    )


def minutes_of(
    context: RunContext,
    config: StationConfig,
    start: int,
    end: int,
    voltages: Collection[str] | None = None,
) -> tuple[xr.Dataset, Period]:
    """
    Flagged minutes of any interval, however it is cut.

    Parameters
    ----------
    context : RunContext
        The run.
    config : StationConfig
        The station's files.
    start, end : int
        Half-open, on whole minutes. [s]
    voltages : collection of str or None
        Names of the voltage units that may be read; None for all.

    Returns
    -------
    minutes : xarray.Dataset
        Out of the calibrate, time-correct and qc-flag stages, without the halo.
    period : Period
        What they were made with, halo included.
    """
    period = resolve_period(config, context.processing, start - HALO, end + HALO)
    ds = with_true_times(load_readings(context, config, period, voltages), period)
    for stage in (calibrate, time_correct, qc_flag):
        ds = stage(ds, period)
    inside = np.flatnonzero((ds["time"].values >= start) & (ds["time"].values < end))
    return ds.isel(time=slice(int(inside[0]), int(inside[-1]) + 1)), period


def bit_counts(ds: xr.Dataset, quantities: tuple[str, ...], word: str) -> dict[str, dict[str, int]]:
    """
    Number of minutes with each bit of a word.

    Parameters
    ----------
    ds : xarray.Dataset
        Flagged minutes.
    quantities : tuple of str
        Quantities.
    word : str
        ``flags`` or ``conditions``.

    Returns
    -------
    counts : dict
        Quantity → bit → minutes; bits that never occur are left out.
    """
    bits = TESTS if word == "flags" else CONDITIONS
    counts: dict[str, dict[str, int]] = {}
    for quantity in quantities:
        words = ds[f"{quantity}_{word}"].values
        number = {name: int(np.count_nonzero(words & bit.mask)) for name, bit in bits.items()}
        counts[quantity] = {name: n for name, n in number.items() if n}
    return counts


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
    config = context.station(unit.station)
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
        context.product_path(unit.station, "minute", unit.period),
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
    paths = {m: context.product_path(unit.station, "minute", m) for m in unit.months}
    present = {m: p for m, p in paths.items() if p.exists()}
    if not present:
        return Outcome(unit.name, "empty", error="no month of minutes")
    pieces = []
    for month, path in present.items():
        bounds = month_bounds(month)
        resolved = resolve_period(config, context.processing, *bounds)
        pieces.append(aggregate(read_minutes(path), resolved, unit.product))
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
    filled = (m for m in unit.months if unit_name(unit.station, "minute", "", m) not in empty)
    unit = replace(unit, months=tuple(filled))
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
        return Outcome(name, "failed", error=f"{error or type(error).__name__}")
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
