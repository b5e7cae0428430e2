"""From datasets in memory to the specification of each product's file, and back for the minutes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import xarray as xr

from sunledger.archive.changes import Entry
from sunledger.archive.components import with_components
from sunledger.archive.conventions import (
    at_position,
    clock_residual,
    float_series,
    instrument_container,
    series_attributes,
    station_variables,
    sun_angles,
    time_variables,
)
from sunledger.archive.conventions_global import (
    ProductNotes,
    Traces,
    global_attributes,
    iso_duration,
    issue_attributes,
    place_of,
)
from sunledger.archive.conventions_series import PARTS, quantity_variables
from sunledger.archive.conventions_words import about_limits
from sunledger.archive.digest import canonical_json, json_digest
from sunledger.archive.history import history_rows, history_tables, metadata_group, provenance_table
from sunledger.archive.readings_file import (
    INSTRUMENT_WORDS,
    over_range_table,
    quarantine_table,
    reading_variables,
)
from sunledger.archive.specification import Array, FileSpec, GroupSpec, VariableSpec
from sunledger.config.loading import StationConfig
from sunledger.config.models.station import Channel
from sunledger.config.models.workflow import Network
from sunledger.config.resolve import Period
from sunledger.vocabulary import AIR, CORRECTIONS, QUANTITIES, Quantity

STATUS_MISSING = -1
NOT_YET_ISSUED = Entry("", "", 0, "open", "created", "1970-01-01", "", "", "")


@dataclass(frozen=True)
class Origin:
    """
    What a file was made of.

    Parameters
    ----------
    sources : tuple of (name, sha256, size)
        Raw files.
    settings : dict
        What of the configuration its maker read, as plain data; what is not read changes no file.
    """

    sources: tuple[tuple[str, str, int], ...]
    settings: Mapping[str, Any]


@dataclass(frozen=True)
class FileContext:
    """
    What every product's file is told about itself.

    Parameters
    ----------
    network : Network
        Whose archive it is.
    config : StationConfig
        The station's files.
    resolved : Period
        Resolved configuration the values were made with.
    label : str
        Period of the file, such as ``2031-03`` or ``2031``.
    start, end : int
        The same in seconds. [s]
    origin : Origin
        Raw files and configuration.
    """

    network: Network
    config: StationConfig
    resolved: Period
    label: str
    start: int
    end: int
    origin: Origin


def _interval_words(interval: int) -> str:
    length = "one-minute" if interval == 60 else f"{interval}-second"
    return f"{length} averaging interval"


def file_attributes(context: FileContext, notes: ProductNotes) -> dict[str, Any]:
    """
    Global attributes of a file, without version and dates.

    Parameters
    ----------
    context : FileContext
        Station and period.
    notes : ProductNotes
        What is said about the file.

    Returns
    -------
    attributes : dict
        By name.
    """
    traces = Traces(json_digest(context.origin.settings), json_digest(context.origin.sources))
    station = context.config.station
    return global_attributes(context.network, station, notes, traces, NOT_YET_ISSUED)


def file_history(context: FileContext, *more: GroupSpec) -> GroupSpec:
    """
    Group ``/metadata`` of a file.

    Parameters
    ----------
    context : FileContext
        Station and period.
    *more : GroupSpec
        Tables of this product alone.

    Returns
    -------
    group : GroupSpec
        History tables, these, and the origin of the file.
    """
    causes = frozenset(item.cause for item in context.resolved.conditions)
    chosen = context.resolved.processing.calibrate
    rows = history_rows(context.config, context.start, context.end, causes, chosen)
    settings = context.origin.settings
    configuration = canonical_json(settings).decode()
    traced = provenance_table(context.origin.sources, configuration, json_digest(settings))
    return metadata_group([*history_tables(rows), *more, traced])


def issued(spec: FileSpec, entry: Entry) -> FileSpec:
    """
    A specification with version, dates and software from the change record.

    Parameters
    ----------
    spec : FileSpec
        Specification of a product.
    entry : Entry
        Its entry in the change record.

    Returns
    -------
    spec : FileSpec
        The same with these attributes.
    """
    return replace(spec, attributes={**spec.attributes, **issue_attributes(entry)})


def voltage_file(readings: xr.Dataset, context: FileContext, logger: str) -> FileSpec:
    """
    Specification of the voltage product of a logger and month.

    Parameters
    ----------
    readings : xarray.Dataset
        Out of the ingest stage.
    context : FileContext
        Station and period.
    logger : str
        Name of the logger.

    Returns
    -------
    spec : FileSpec
        To be written.
    """
    station = context.config.station
    dim = f"reading_{logger}"
    labels = readings[f"logger_time_{logger}"].values
    interval = station.loggers[logger].interval
    notes = ProductNotes(
        product="voltage",
        period=f"{logger}_{context.label}",
        processing_level="readings as logged, nothing applied",
        source="surface observation: signals of solar radiometers, as logged",
        instrument=f"logger {station.loggers[logger].serial_number}",
        comment="Time labels are the logger's own, in file order; see line_status and /metadata.",
        start=float(labels.min()),
        last=float(labels.max()),
        duration="P1M",
        resolution=iso_duration(interval),
    )
    channels = station.loggers[logger].channels
    more = (quarantine_table(readings, logger), over_range_table(readings, channels))
    variables = reading_variables(readings, station, logger)
    return FileSpec(
        file_attributes(context, notes),
        {dim: labels.size},
        variables,
        (file_history(context, *more),),
    )


def parts_of(ds: xr.Dataset, name: str, suffixes: Mapping[str, str]) -> dict[str, Array]:
    """
    What is known of a quantity.

    Parameters
    ----------
    ds : xarray.Dataset
        Series.
    name : str
        Name of the quantity.
    suffixes : dict
        Part → suffix of the variable that holds it.

    Returns
    -------
    parts : dict of numpy.ndarray
        Part → values, for the parts there are.
    """
    found = ((k, ds.variables.get(f"{name}{s}")) for k, s in suffixes.items())
    return {k: variable.values for k, variable in found if variable is not None}


def _measured_variables(ds: xr.Dataset, resolved: Period) -> list[VariableSpec]:
    out: list[VariableSpec] = []
    holders = {quantity: position for quantity, position, *_ in resolved.primary}
    for quantity in resolved.quantities():
        row = QUANTITIES[quantity]
        out += _quantity_variables(ds, row, holders.get(quantity, ""))
        for position, measured in resolved.positions:
            name = f"{quantity}_at_{position}"
            if measured == quantity and name in ds:
                out += _quantity_variables(ds, at_position(row, name), position)
                out += _beside_variables(ds, name, row.units)
        out += _beside_variables(ds, quantity, row.units)
    for name in (n for n in AIR if n in ds):
        parts = {k: s for k, s in PARTS.items() if k not in ("min", "max")}
        out += quantity_variables(QUANTITIES[name], parts_of(ds, name, parts))
    return out


def _quantity_variables(ds: xr.Dataset, row: Quantity, place: str) -> tuple[VariableSpec, ...]:
    return with_components(quantity_variables(row, parts_of(ds, row.name, PARTS), place), row, ds)


def _beside_variables(ds: xr.Dataset, measured: str, units: str) -> list[VariableSpec]:
    """What each kept correction added (without all of them: the uncorrected), and the body."""
    body = f"{measured}_body_temperature" in ds
    out = [_body_temperature(ds, measured)] if body else []
    for name, meaning in CORRECTIONS.items():
        variable = f"{measured}_{name}_correction"
        if variable in ds:
            attributes: dict[str, Any] = {
                "long_name": f"what the correction {name} added to {measured}",
                "comment": meaning,
                "units": units,
                "cell_methods": "time: mean",
            }
            values = np.round(ds[variable].values, 4)
            out.append(float_series(variable, values, attributes, "auxiliaryInformation"))
    return out


def _body_temperature(ds: xr.Dataset, quantity: str) -> VariableSpec:
    name = f"{quantity}_body_temperature"
    attributes: dict[str, Any] = {
        "long_name": f"body temperature of the instrument that measures {quantity}",
        "units": "K",
        "units_metadata": "temperature: on_scale",
        "cell_methods": "time: mean",
    }
    return float_series(name, np.round(ds[name].values, 3), attributes, "auxiliaryInformation")


def _status_variable(ds: xr.Dataset, item: Channel) -> VariableSpec:
    values = ds[item.name].values
    long_name = f"status {item.status} as logged"
    if not item.meanings:
        attributes: dict[str, Any] = {"long_name": long_name, "units": item.unit}
        return float_series(item.name, values, attributes, "auxiliaryInformation")
    codes = [STATUS_MISSING, *item.meanings]
    coded = np.where(np.isin(values, codes), values, STATUS_MISSING).astype(np.int16)
    attributes = {
        "standard_name": "status_flag",
        "long_name": long_name,
        "flag_values": np.array(codes, np.int16),
        "flag_meanings": " ".join(["no_reading", *item.meanings.values()]),
    }
    shared = series_attributes(attributes, "auxiliaryInformation")
    return VariableSpec(item.name, ("time",), coded, shared, "i2")


def minute_file(ds: xr.Dataset, context: FileContext) -> FileSpec:
    """
    Specification of the minute product of a month, or of a series of a longer interval.

    Parameters
    ----------
    ds : xarray.Dataset
        Flagged minutes, without halo.
    context : FileContext
        Station and period.

    Returns
    -------
    spec : FileSpec
        To be written.
    """
    resolved, station = context.resolved, context.config.station
    time, interval = ds["time"].values, int(ds.attrs["interval"])
    notes = ProductNotes(
        product="minute" if interval == 60 else "series",
        period=context.label if interval == 60 else f"{interval}_{context.label}",
        processing_level="calibrated irradiance with quality flags, nothing removed",
        source="surface observation: thermopile radiometers at a solar radiation station",
        instrument=", ".join(INSTRUMENT_WORDS[q] for q in resolved.quantities()),
        comment="Time stamps are the start of the averaging interval, in UTC; see time_bounds."
        " Count on values whose grade is 1 (good) or 2 (not evaluated); see the grade's meanings."
        + about_limits(interval),
        start=float(time[0]),
        last=float(time[-1]),
        duration=f"P{(context.end - context.start) // 86400}D",
        resolution=iso_duration(interval),
    )
    statuses = [c for g in resolved.loggers for c in g.channels if c.kind == "status"]
    variables = (
        *time_variables(time, time + interval, _interval_words(interval)),
        *station_variables(place_of(station)),
        *_measured_variables(ds, resolved),
        *sun_angles(ds["solar_zenith_angle"].values, ds["solar_azimuth_angle"].values),
        *(clock_residual(g.name, ds[f"clock_residual_{g.name}"].values) for g in resolved.loggers),
        *(_status_variable(ds, c) for c in statuses if c.statistic == "mean"),
        *(instrument_container(p, INSTRUMENT_WORDS[q]) for p, q in resolved.positions),
    )
    dimensions = {"time": time.size, "bound": 2}
    return FileSpec(
        file_attributes(context, notes), dimensions, variables, (file_history(context),)
    )


def months_of(times: Sequence[int] | Array) -> list[str]:
    """
    Calendar month of each time, as a label.

    Parameters
    ----------
    times : array-like of int
        [s since 1970-01-01, UTC]

    Returns
    -------
    months : list of str
        Such as ``2031-03``.
    """
    return [str(m) for m in np.asarray(times, np.int64).astype("M8[s]").astype("M8[M]")]
