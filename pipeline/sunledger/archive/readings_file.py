"""The voltage product: readings of one logger and one month of labels, to a file and back."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.archive.columns import opened_columns
from sunledger.archive.conventions import column, instrument_container, station_variables, table
from sunledger.archive.conventions_global import place_of
from sunledger.archive.conventions_readings import (
    ChannelNotes,
    channel,
    line_variables,
    logger_time,
    reading_dimension,
)
from sunledger.archive.specification import GroupSpec, VariableSpec
from sunledger.config.models.station import Channel, Station
from sunledger.datasets import as_variables
from sunledger.vocabulary import QUANTITIES, RADIOMETRIC

INSTRUMENT_WORDS = {name: QUANTITIES[name].sensor for name in RADIOMETRIC}
"""What stands at a position whatever the instrument of the day is."""

STATISTIC_WORDS = {
    "mean": "",
    "min": "minimum of ",
    "max": "maximum of ",
    "std": "standard deviation of ",
}


def _long_name(item: Channel) -> str:
    word = STATISTIC_WORDS[item.statistic]
    if item.kind == "status":
        return f"{word}status {item.status}"
    if item.kind == "temperature":
        return f"{word}{str(item.sensor).replace('_', ' ')} of the radiometer at {item.position}"
    if item.kind == "air":
        return f"{word}{QUANTITIES[str(item.quantity)].long_name} as logged"
    return f"{word}signal of the radiometer at {item.position} for {item.quantity}"


def _channel_notes(item: Channel) -> ChannelNotes:
    air = QUANTITIES[str(item.quantity)].standard_name if item.kind == "air" else None
    return ChannelNotes(
        long_name=_long_name(item),
        unit=item.unit,
        statistic=item.statistic,
        position=str(item.position) if item.kind in ("signal", "temperature") else "",
        meanings=item.meanings or {},
        standard_name=air or "",
    )


def over_range_table(readings: xr.Dataset, channels: Sequence[Channel]) -> GroupSpec:
    """
    Readings that the logger reported as beyond its range, which the series hold as missing.

    Parameters
    ----------
    readings : xarray.Dataset
        With infinity at these readings.
    channels : sequence of Channel
        Channels of the logger.

    Returns
    -------
    group : GroupSpec
        ``over_range``: number of the reading, from 0, and name of the channel.
    """
    found = [
        (i, c.name) for c in channels for i in np.flatnonzero(np.isinf(readings[c.name].values))
    ]
    rows = [float(i) for i, _ in found]
    columns = [
        column("over_range_reading", "over_range_index", rows, "number of the reading", units="1"),
        column("over_range_reading", "over_range_channel", [n for _, n in found], "channel"),
    ]
    return table("over_range", "Readings beyond the logger's measuring range", columns)


def quarantine_table(readings: xr.Dataset, logger: str) -> GroupSpec:
    """
    Raw lines that were rejected.

    Parameters
    ----------
    readings : xarray.Dataset
        With the quarantine of the ingest stage.
    logger : str
        Name of the logger.

    Returns
    -------
    group : GroupSpec
        ``quarantine``: row of the source table, line, reason, text.
    """
    parts = (
        ("file", "row of the raw file in the source table, from 0", True),
        ("line", "line of the raw file, from 1", True),
        ("reason", "why the line was rejected", False),
        ("text", "beginning of the line", False),
    )
    columns: list[VariableSpec] = []
    for part, long_name, number in parts:
        values = readings[f"quarantine_{part}_{logger}"].values
        data = values.astype(np.float64) if number else values.astype(str)
        extra = {"units": "1"} if number else {}
        columns.append(column("rejected", f"rejected_{part}", data, long_name, **extra))
    return table("quarantine", "Raw lines that were rejected", columns)


def reading_variables(
    readings: xr.Dataset, station: Station, logger: str
) -> tuple[VariableSpec, ...]:
    """
    Variables of the voltage product of one logger.

    Parameters
    ----------
    readings : xarray.Dataset
        Out of the ingest stage.
    station : Station
        Where it was measured.
    logger : str
        Name of the logger.

    Returns
    -------
    variables : tuple of VariableSpec
        Station, labels, origin of each line, channels, instrument containers.
    """
    channels = station.loggers[logger].channels
    positions = dict.fromkeys(str(c.position) for c in channels if c.kind == "signal")
    parts = ("line_status", "source_file", "source_line")
    origin = (readings[f"{name}_{logger}"].values for name in parts)

    def logged(item: Channel) -> npt.NDArray[np.float64]:
        values: npt.NDArray[np.float64] = readings.variables[item.name].values
        beyond = np.isinf(values)
        return np.where(beyond, np.nan, values) if beyond.any() else values

    return (
        logger_time(logger, readings[f"logger_time_{logger}"].values),
        *station_variables(place_of(station)),
        *line_variables(logger, *origin),
        *(channel(c.name, logger, logged(c), _channel_notes(c)) for c in channels),
        *(instrument_container(p, INSTRUMENT_WORDS[station.positions()[p]]) for p in positions),
    )


def read_readings(
    path: Path, channels: Sequence[Channel], logger: str, labels: tuple[int, int]
) -> xr.Dataset:
    """
    Readings back from a voltage file, bit for bit as they were logged.

    Parameters
    ----------
    path : Path
        Voltage file of the logger.
    channels : sequence of Channel
        Channels of the logger.
    logger : str
        Name of the logger.
    labels : tuple of int
        First label and the one past the last that are wanted. [s]

    Returns
    -------
    readings : xarray.Dataset
        In the readings contract: in file order, over-range as infinity, with the quarantine.
    """
    dim = reading_dimension(logger)
    names = [f"{n}_{logger}" for n in ("line_status", "source_file", "source_line")]
    names += [c.name for c in channels]
    with opened_columns(path) as file:
        label = file.values(f"logger_time_{logger}")
        wanted = np.flatnonzero((label >= labels[0]) & (label < labels[1]))
        first, last = (int(wanted[0]), int(wanted[-1]) + 1) if wanted.size else (0, 0)
        data = {name: file.values(name, slice(first, last)) for name in names}
        tables = {n: file.table(f"metadata/{n}") for n in ("over_range", "quarantine")}
    data = {f"logger_time_{logger}": label[first:last], **data}
    beyond = tables["over_range"]
    rows = beyond["over_range_index"].astype(np.int64)
    for item in channels:
        mine = rows[(beyond["over_range_channel"] == item.name) & (rows >= first) & (rows < last)]
        data[item.name][mine - first] = np.inf
    quarantine = tables["quarantine"]
    at = wanted - first
    variables: dict[str, tuple[object, ...]] = {
        # mostly all of the stretch that was read
        name: (dim, values if at.size == values.size else values[at])
        for name, values in data.items()
    }
    variables |= {
        f"quarantine_{part}_{logger}": (
            f"quarantine_{logger}",
            quarantine[f"rejected_{part}"].astype(np.int64),
        )
        for part in ("file", "line")
    }
    return xr.Dataset(as_variables(variables))


def empty_readings(channels: Sequence[Channel], logger: str) -> xr.Dataset:
    """
    No reading at all, for a logger whose files are missing.

    Parameters
    ----------
    channels : sequence of Channel
        Channels of the logger.
    logger : str
        Name of the logger.

    Returns
    -------
    readings : xarray.Dataset
        In the readings contract, of length 0.
    """
    dim = reading_dimension(logger)
    kinds = {"logger_time": np.int64, "line_status": np.int8}
    kinds |= {"source_file": np.int32, "source_line": np.int32}
    variables = {f"{n}_{logger}": (dim, np.zeros(0, k)) for n, k in kinds.items()}
    return xr.Dataset(as_variables(variables | {c.name: (dim, np.zeros(0)) for c in channels}))
