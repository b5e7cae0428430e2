"""Keys of units: digests of exactly what a stage reads, which decide what is stale and why."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from typing import Any

import numpy as np

from sunledger.archive.digest import parsed_digest, plain_data
from sunledger.config.coefficients import Coefficients, coefficient_rows
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST
from sunledger.config.models.processing import Processing
from sunledger.config.models.station import Channel, Logger, Station
from sunledger.config.remembering import remembered
from sunledger.config.resolve import Period, ResolvedLogger, resolve_period
from sunledger.stages import aggregate, calibrate, ingest, placement, qc_flag, time_correct

HOUR = 3600


def _whole_hours(seconds: int) -> int:
    return -(-seconds // HOUR) * HOUR


HALO = _whole_hours(calibrate.REACH + placement.REACH + qc_flag.REACH)
"""How far beyond a unit's ends its result can depend on readings, by true time. [s]"""


def halo(rows: tuple[Coefficients, ...]) -> int:
    """
    How far beyond a unit's ends its result can depend on readings, with these coefficients.

    Parameters
    ----------
    rows : tuple of Coefficients
        In force in the unit or near it.

    Returns
    -------
    halo : int
        Longer than ``HALO`` only where a thermal offset is taken from the nights around. [s]
    """
    return HALO + _whole_hours(calibrate.reach_of(rows) - calibrate.REACH)


def period_with_halo(
    config: StationConfig, processing: Processing, start: int, end: int
) -> tuple[Period, int]:
    """
    Resolved configuration of a unit with its halo.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    processing : Processing
        Settings.
    start, end : int
        The unit. [s]

    Returns
    -------
    period : Period
        Halo included.
    halo : int
        [s]
    """
    reach = halo(coefficient_rows(config, processing.calibrate, start - HALO, end + HALO))
    return resolve_period(config, processing, start - reach, end + reach), reach


STAGE_VERSIONS = {
    "voltage": {"ingest": ingest.VERSION},
    "minute": {
        "ingest": ingest.VERSION,
        "calibrate": calibrate.VERSION,
        "time_correct": time_correct.VERSION,
        "qc_flag": qc_flag.VERSION,
    },
    "aggregate": {"aggregate": aggregate.VERSION},
}


def minute_settings(period: Period, station: Station) -> dict[str, Any]:
    """
    What of a resolved period bears on the minutes.

    Parameters
    ----------
    period : Period
        Resolved configuration, halo included.
    station : Station
        Whose layouts decide what is read from the raw files.

    Returns
    -------
    settings : dict
        Plain data without the settings of aggregation and of the checks of the record.
    """
    apart = {n: getattr(period, n) for n in _APART}
    plain: dict[str, Any] = plain_data(apart)
    return plain | {
        "loggers": [_plain_logger(logger) for logger in period.loggers],
        "processing": _plain_processing(period.processing),
        "layouts": _plain_layouts(station),
    }


_APART = tuple(f.name for f in fields(Period) if f.name not in ("processing", "loggers"))


def _plain_logger(logger: ResolvedLogger) -> dict[str, Any]:
    """Of one month to the next only the clock changes."""
    words = {f.name: getattr(logger, f.name) for f in fields(logger) if f.name != "channels"}
    plain: dict[str, Any] = plain_data(words)
    return plain | {"channels": _plain_channels(logger.channels)}


@remembered(1024)
def _plain_channels(channels: tuple[Channel, ...]) -> list[Any]:
    plain: list[Any] = plain_data(channels)
    return plain


@remembered(256)
def _plain_layouts(station: Station) -> dict[str, Any]:
    return {name: plain_data(logger.layouts) for name, logger in station.loggers.items()}


@remembered(16)
def _plain_processing(processing: Processing) -> dict[str, Any]:
    plain = plain_data(processing)
    return {k: v for k, v in plain.items() if k not in ("aggregate", "checks")}


def traced_settings(settings: Mapping[str, Any]) -> dict[str, Any]:
    """
    What of a unit's settings its file holds as its configuration.

    Parameters
    ----------
    settings : dict
        What the unit reads of the configuration.

    Returns
    -------
    traced : dict
        Without the history, which stands in its own tables, without the status, which the change
        record states, and without the keys of months, which are no configuration.
    """
    return {k: v for k, v in settings.items() if k not in ("history", "status", "months", "holds")}


@remembered(1024)
def ingest_settings(logger: Logger) -> dict[str, Any]:
    """
    What of a logger's configuration bears on its voltage product.

    Parameters
    ----------
    logger : Logger
        As in `station.yaml`.

    Returns
    -------
    settings : dict
        Plain data without file patterns and clock: these bear on other stages. Shared by all
        callers.
    """
    plain: dict[str, Any] = plain_data(logger)
    return {k: v for k, v in plain.items() if k not in ("files", "clock")}


def label_window(logger: ResolvedLogger, start: int, end: int) -> tuple[int, int]:
    """
    Labels that a logger can have written in a time.

    Parameters
    ----------
    logger : ResolvedLogger
        With its clock segments.
    start, end : int
        True time. [s]

    Returns
    -------
    first, past : int
        Labels that may belong to the time, by the largest clock errors known there. [s]
    """
    errors = [e for s in logger.segments for e in (s.error_start, s.error_end)]
    early, late = int(min(0.0, *errors)), int(max(0.0, *errors))
    margin = 2 * logger.interval
    return start + logger.utc_offset + early - margin, end + logger.utc_offset + late + margin


def inside_window(logger: ResolvedLogger, start: int, end: int) -> tuple[int, int]:
    """
    Labels of the readings that fill a time, as far as the clock errors let that be known.

    Parameters
    ----------
    logger : ResolvedLogger
        With its clock segments.
    start, end : int
        True time. [s]

    Returns
    -------
    first, past : int
        The label that closes the time counts where labels mark the end, the one that opens it
        does not. [s]
    """
    first, past = label_window(logger, start, end)
    shift = logger.interval if logger.label == "end" else 0
    margin = 2 * logger.interval
    return first + margin + shift, past - margin + shift


def unit_key(kind: str, settings: Any, sources: Any, metadata: str) -> str:
    """
    Key of a unit.

    Parameters
    ----------
    kind : str
        ``voltage``, ``minute`` or ``aggregate``.
    settings : dict
        Resolved configuration that the unit reads.
    sources : list
        Digests of the raw files, or keys of the units that it reads.
    metadata : str
        Digest of the descriptive attributes.

    Returns
    -------
    key : str
        64 hexadecimal digits.
    """
    return parsed_digest(
        {
            "versions": STAGE_VERSIONS[kind],
            "settings": settings,
            "sources": sources,
            "metadata": metadata,
        }
    )


def differences(before: Any, now: Any, place: str = "") -> Iterator[str]:
    """
    Where two pieces of plain data differ.

    Parameters
    ----------
    before, now : object
        Mappings, sequences and scalars.
    place : str
        Where in the whole they stand.

    Yields
    ------
    difference : str
        Such as ``processing.qc_flag.stuck.least_irradiance: 5.0 -> 8.0``.
    """
    if isinstance(before, Mapping) and isinstance(now, Mapping):
        for name in sorted({*before, *now}):
            inner = f"{place}.{name}" if place else str(name)
            yield from differences(before.get(name), now.get(name), inner)
    elif isinstance(before, list | tuple) and isinstance(now, list | tuple):
        yield from _differences_of_lists(before, now, place)
    elif before != now:
        yield f"{place}: {_worded(place, before)} -> {_worded(place, now)}"


def _differences_of_lists(before: Sequence[Any], now: Sequence[Any], place: str) -> Iterator[str]:
    if len(before) == len(now):
        for number, (a, b) in enumerate(zip(before, now, strict=True)):
            where = next((str(b[w]) for w in _WHERE if isinstance(b, Mapping) and w in b), number)
            yield from differences(a, b, f"{place}[{where}]")
        return
    gone = [x for x in before if x not in now]
    new = [x for x in now if x not in before]
    for sign, items in (("no longer", gone), ("new", new)):
        yield from (f"{place}: {sign} {_named(item, place)}" for item in items)


_WHERE = ("position", "levelled_position", "name")
_WORDS = (
    *("condition", "target", "cause", "position", "serial_number", "certificate", "name"),
    *("deployment_id", "levelling_id", "clock_check_id", "event_id", "event_type"),
)
_INSTANTS = ("start", "end", "certified")


def _named(item: Any, place: str) -> str:
    """The words by which a person knows an entry."""
    if isinstance(item, Mapping):
        known = " ".join(str(item[w]) for w in _WORDS if w in item)
        times = (f"{w} {_worded(w, item[w])}" for w in _INSTANTS if w in item)
        return known or " ".join(times) or "entry"
    if place.endswith("_points"):  # pairs of instant and value
        return f"{item[1]} at {_worded('start', item[0])}"
    return str(item)


def _worded(place: str, value: Any) -> str:
    """A value as a person reads it: instants as dates."""
    name = place.rpartition(".")[2]
    if not isinstance(value, int | float) or not (name in _INSTANTS or name.endswith("_time")):
        return str(value)
    if value <= FAR_PAST or value >= FAR_FUTURE:
        return "open"
    return str(np.datetime64(int(value), "s").astype("M8[m]")).replace("T", " ")
