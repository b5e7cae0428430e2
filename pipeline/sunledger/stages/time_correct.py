"""Readings onto the regular grid of true time: labels move by whole intervals, values never change.

The rule where a clock step or drift lets two readings fall into one interval: the one whose true
start is nearer the interval's start is kept, of two equally near the earlier in file order; the
interval is marked `interval_doubled` and the other reading stays in the voltage product. Where an
interval is left without a reading although the logger wrote without pause, it stays empty and is
marked `interval_emptied`. Nothing is blended or interpolated.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.conditions import ConditionInterval
from sunledger.config.models.station import Channel
from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.physics.clock import choose_one_per_interval, whole_interval_move
from sunledger.physics.sun import extraterrestrial_normal, solar_position
from sunledger.stages.pooling import pool_readings
from sunledger.vocabulary import CONDITIONS, SHORTWAVE, STATISTICS

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.int64]
Words = npt.NDArray[np.int32]
Mask = npt.NDArray[np.bool_]

VERSION = 1
REACH = 2 * 3600
"""Neighbouring readings decide about doubled and emptied intervals. [s]"""

SHORTEST_INTERVAL = 60
"""Readings faster than this are pooled to it after calibration. [s]"""


@dataclass(frozen=True)
class Placement:
    """
    Where the readings of one logger go on the grid.

    Parameters
    ----------
    rows : numpy.ndarray of int64
        Readings that are kept.
    slots : numpy.ndarray of int64
        Grid index of each of them.
    residual : numpy.ndarray, shape (time,)
        True start less grid time; NaN without a reading. [s]
    words : numpy.ndarray of int32, shape (time,)
        Conditions that come from placing: doubled, emptied, conflicting labels.
    displaced : int
        Readings that lost their interval to another.
    """

    rows: Times
    slots: Times
    residual: Array
    words: Words
    displaced: int

    def put(self, values: npt.NDArray[Any], empty: Any = np.nan) -> npt.NDArray[Any]:
        """
        Values of the readings on the grid.

        Parameters
        ----------
        values : numpy.ndarray, shape (reading,)
            One value a reading.
        empty : float, int or bool
            What stands where there is no reading.

        Returns
        -------
        on_grid : numpy.ndarray, shape (time,)
            Of the same type as ``values``.
        """
        out = np.full(self.residual.shape, empty, dtype=values.dtype)
        out[self.slots] = values[self.rows]
        return out


def grid_of(period: Period, interval: int) -> Times:
    """
    Regular grid of a period.

    Parameters
    ----------
    period : Period
        Whose start and end lie on whole intervals.
    interval : int
        [s]

    Returns
    -------
    time : numpy.ndarray of int64, shape (time,)
        Starts of the intervals. [s since 1970-01-01, UTC]
    """
    return np.arange(period.start, period.end, interval, dtype=np.int64)


def emptied_slots(grid_time: Times, labels: Times, interval: int) -> Times:
    """
    Grid times that a clock step or drift left without a reading.

    Parameters
    ----------
    grid_time : numpy.ndarray of int64, shape (reading,)
        Grid time of consecutive readings in file order. [s]
    labels : numpy.ndarray of int64, shape (reading,)
        Their labels. [s]
    interval : int
        [s]

    Returns
    -------
    times : numpy.ndarray of int64
        The interval between two consecutive readings whose labels show no pause (they advance by
        at most one interval, or run backwards) while their true times leave one out.
    """
    skipped = np.diff(grid_time) == 2 * interval
    no_pause = np.diff(labels) <= interval
    return grid_time[:-1][skipped & no_pause] + interval


def _mark(words: Words, time: Times, marked: Times, name: str, interval: int) -> None:
    slots = (marked - time[0]) // interval
    inside = slots[(slots >= 0) & (slots < time.size)]
    words[inside] |= CONDITIONS[name].mask


def place_readings(ds: xr.Dataset, logger: ResolvedLogger, time: Times, interval: int) -> Placement:
    """
    Decide which reading of a logger fills each interval.

    Parameters
    ----------
    ds : xarray.Dataset
        Readings in file order with true start times.
    logger : ResolvedLogger
        The logger.
    time : numpy.ndarray of int64, shape (time,)
        Grid. [s]
    interval : int
        [s]

    Returns
    -------
    placement : Placement
        By the rule at the top of this module.
    """
    kept = np.flatnonzero(ds[f"line_status_{logger.name}"].values == 0)
    start = ds[f"start_time_{logger.name}"].values
    labels = ds[f"logger_time_{logger.name}"].values
    words = np.zeros(time.size, np.int32)
    residual = np.full(time.size, np.nan)
    grid_time, left = whole_interval_move(start[kept], interval)
    _mark(
        words, time, emptied_slots(grid_time, labels[kept], interval), "interval_emptied", interval
    )
    wins = choose_one_per_interval(grid_time, left, kept)
    _mark(words, time, grid_time[~wins], "interval_doubled", interval)
    conflicting = whole_interval_move(np.delete(start, kept), interval)[0]
    _mark(words, time, conflicting, "label_conflict", interval)
    slots = (grid_time - time[0]) // interval
    inside = wins & (slots >= 0) & (slots < time.size)
    residual[slots[inside]] = left[inside]
    # an interval that was filled after all, by a reading out of file order, is not empty
    words[slots[inside]] &= ~np.int32(CONDITIONS["interval_emptied"].mask)
    return Placement(kept[inside], slots[inside], residual, words, int((~wins).sum()))


def rejected_line_words(
    ds: xr.Dataset, logger: ResolvedLogger, time: Times, interval: int
) -> Words:
    """
    Mark the intervals whose raw line was rejected.

    Parameters
    ----------
    ds : xarray.Dataset
        Readings with source file and line, and the quarantine table.
    logger : ResolvedLogger
        The logger.
    time : numpy.ndarray of int64, shape (time,)
        Grid. [s]
    interval : int
        [s]

    Returns
    -------
    words : numpy.ndarray of int32, shape (time,)
        ``line_rejected`` where a rejected line stood, as counted in lines from the last good
        reading before it in the same file.
    """
    words = np.zeros(time.size, np.int32)
    file = ds[f"source_file_{logger.name}"].values.astype(np.int64)
    place = (file << 32) | ds[f"source_line_{logger.name}"].values
    if f"quarantine_line_{logger.name}" not in ds or place.size == 0:
        return words
    bad_file = ds[f"quarantine_file_{logger.name}"].values.astype(np.int64)
    bad = (bad_file << 32) | ds[f"quarantine_line_{logger.name}"].values
    order = np.argsort(place, kind="stable")
    before = np.searchsorted(place[order], bad) - 1
    known = before >= 0
    row = order[np.maximum(before, 0)]
    known &= file[row] == bad_file
    start = ds[f"start_time_{logger.name}"].values[row] + (bad - place[row]) * logger.interval
    near = known & (bad - place[row] <= REACH // logger.interval)
    _mark(words, time, whole_interval_move(start[near], interval)[0], "line_rejected", interval)
    return words


def condition_words(
    intervals: tuple[ConditionInterval, ...], targets: set[str], time: Times, interval: int
) -> Words:
    """
    Condition bits from the record on the grid.

    Parameters
    ----------
    intervals : tuple of ConditionInterval
        Resolved from the record.
    targets : set of str
        Position, quantity, logger and ``*``: what an interval may bear on to count here.
    time : numpy.ndarray of int64, shape (time,)
        Grid. [s]
    interval : int
        [s]

    Returns
    -------
    words : numpy.ndarray of int32, shape (time,)
        A bit is set in every grid interval that the condition touches.
    """
    words = np.zeros(time.size, np.int32)
    for item in intervals:
        if item.target in targets:
            first = max((item.start - int(time[0])) // interval, 0)
            last = -((int(time[0]) - item.end) // interval)
            words[first : max(last, 0)] |= CONDITIONS[item.condition].mask
    return words


def unverified_words(logger: ResolvedLogger, time: Times) -> Words:
    """
    Mark the intervals that no clock check brackets.

    Parameters
    ----------
    logger : ResolvedLogger
        With its clock segments.
    time : numpy.ndarray of int64, shape (time,)
        Grid. [s]

    Returns
    -------
    words : numpy.ndarray of int32, shape (time,)
        ``clock_unverified``.
    """
    words = np.zeros(time.size, np.int32)
    for segment in logger.segments:
        if not segment.verified:
            inside = (time >= segment.start) & (time < segment.end)
            words[inside] |= CONDITIONS["clock_unverified"].mask
    return words


def _cosine_zenith(period: Period, time: Times, residual: Array, interval: int) -> Array:
    """Cosine of the sun's zenith angle at the true middle of a logger's intervals."""
    middle = time + interval / 2 + np.where(np.isnan(residual), 0.0, residual)
    sun = solar_position(middle, period.latitude, period.longitude, period.altitude)
    return np.cos(np.radians(sun.zenith))


def _position_variables(
    ds: xr.Dataset, channels: list[Channel], position: str, placed: Placement
) -> dict[str, npt.NDArray[Any]]:
    logged = [c.statistic for c in channels if c.position == position and c.kind == "signal"]
    names = [position if s == "mean" else f"{position}_{s}" for s in STATISTICS if s in logged]
    names += [n for n in (f"{position}_signal", f"{position}_uncertainty") if n in ds]
    out = {name: placed.put(ds[name].values) for name in names}
    if f"{position}_body_temperature_kelvin" in ds:
        body = ds[f"{position}_body_temperature_kelvin"].values
        out[f"{position}_body_temperature"] = placed.put(body)
    out[f"{position}_over_range"] = placed.put(ds[f"{position}_over_range"].values, False)
    out[f"{position}_conditions"] = placed.put(ds[f"{position}_conditions"].values, 0)
    return out


def logger_on_grid(
    ds: xr.Dataset, period: Period, logger: ResolvedLogger, time: Times, interval: int
) -> dict[str, npt.NDArray[Any]]:
    """
    Put everything one logger measured on the grid.

    Parameters
    ----------
    ds : xarray.Dataset
        Calibrated readings.
    period : Period
        Resolved configuration.
    logger : ResolvedLogger
        The logger.
    time : numpy.ndarray of int64, shape (time,)
        Grid. [s]
    interval : int
        [s]

    Returns
    -------
    variables : dict of numpy.ndarray, shape (time,)
        By position, and ``clock_residual_<logger>`` [s].
    """
    if logger.interval < interval:
        ds, logger = pool_readings(ds, logger, interval)
    placed = place_readings(ds, logger, time, interval)
    common = placed.words | unverified_words(logger, time)
    common |= rejected_line_words(ds, logger, time, interval)
    out: dict[str, npt.NDArray[Any]] = {f"clock_residual_{logger.name}": placed.residual}
    cosine = _cosine_zenith(period, time, placed.residual, interval)
    positions = dict(period.positions)
    for position in dict.fromkeys(str(c.position) for c in logger.channels if c.kind == "signal"):
        out |= _position_variables(ds, list(logger.channels), position, placed)
        targets = {position, positions[position], logger.name, "*"}
        recorded = condition_words(period.conditions, targets, time, interval)
        out[f"{position}_conditions"] = out[f"{position}_conditions"] | common | recorded
        if positions[position] in SHORTWAVE:
            out[f"{position}_cosine_zenith"] = cosine
    for channel in logger.channels:
        if channel.kind == "air":
            out[channel.name] = placed.put(ds[f"{channel.name}_si"].values)
        if channel.kind == "status":
            out[channel.name] = placed.put(ds[channel.name].values)
    return out


def by_quantity(
    variables: dict[str, npt.NDArray[Any]], period: Period, time: Times
) -> dict[str, npt.NDArray[Any]]:
    """
    Rename positions to quantities: the primary takes the plain name, the others a longer one.

    Parameters
    ----------
    variables : dict of numpy.ndarray, shape (time,)
        Named by position.
    period : Period
        Which position each quantity takes, and when.
    time : numpy.ndarray of int64, shape (time,)
        Grid. [s]

    Returns
    -------
    renamed : dict of numpy.ndarray, shape (time,)
        ``ghi``, ``ghi_min`` and so on from the primary; where a quantity has several positions,
        each also as ``ghi_at_<position>``.
    """
    positions = dict(period.positions)
    out = {n: v for n, v in variables.items() if not any(_belongs(n, p) for p in positions)}
    for position, quantity in positions.items():
        mine = {n: v for n, v in variables.items() if _belongs(n, position)}
        several = sum(q == quantity for q in positions.values()) > 1
        for name, values in mine.items():
            suffix = name[len(position) :]
            if several:
                out[f"{quantity}_at_{position}{suffix}"] = values
            for q, holder, start, end in period.primary:
                if (q, holder) == (quantity, position):
                    inside = (time >= start) & (time < end)
                    target = out.setdefault(quantity + suffix, _empty_like(values))
                    target[inside] = values[inside]
    return out


_SUFFIXES = (
    "",
    *(f"_{s}" for s in STATISTICS if s != "mean"),
    "_body_temperature",
    "_conditions",
    "_cosine_zenith",
    "_over_range",
    "_signal",
    "_uncertainty",
)


def _belongs(name: str, position: str) -> bool:
    return name.startswith(position) and name[len(position) :] in _SUFFIXES


def _empty_like(values: npt.NDArray[Any]) -> npt.NDArray[Any]:
    return np.full(values.shape, np.nan if values.dtype.kind == "f" else 0, values.dtype)


def time_correct(ds: xr.Dataset, period: Period) -> xr.Dataset:
    """
    Put the calibrated readings of all loggers on one regular grid of true time.

    Parameters
    ----------
    ds : xarray.Dataset
        Calibrated readings, one dimension ``reading_<logger>`` a logger.
    period : Period
        Resolved configuration; its start and end bound the grid.

    Returns
    -------
    minutes : xarray.Dataset
        Along ``time`` (start of the interval, UTC): quantities with their statistics, body
        temperatures and conditions, air data, status, ``clock_residual_<logger>``,
        ``solar_zenith_angle`` and ``solar_azimuth_angle`` at the nominal middle [degree],
        ``extraterrestrial_irradiance`` normal to the beam [W m-2].
    """
    interval = max(SHORTEST_INTERVAL, *(logger.interval for logger in period.loggers))
    time = grid_of(period, interval)
    on_grid: dict[str, npt.NDArray[Any]] = {}
    for logger in period.loggers:
        on_grid |= logger_on_grid(ds, period, logger, time, interval)
    sun = solar_position(time + interval / 2, period.latitude, period.longitude, period.altitude)
    solar_constant = period.processing.time_correct.solar_constant
    on_grid = by_quantity(on_grid, period, time) | {
        "solar_zenith_angle": sun.zenith,
        "solar_azimuth_angle": sun.azimuth,
        "extraterrestrial_irradiance": extraterrestrial_normal(sun.distance, solar_constant),
    }
    return xr.Dataset(
        {name: ("time", values) for name, values in on_grid.items()},
        coords={"time": time},
        attrs={"interval": interval},
    )
