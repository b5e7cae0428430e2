"""Which reading fills which interval of the grid, and what the record says about the interval.

The rule where a clock step or drift lets two readings fall into one interval: the one whose true
start is nearer the interval's start is kept, of two equally near the earlier in file order; the
interval is marked `interval_doubled` and the other reading stays in the voltage product. Where an
interval is left without a reading although the logger wrote without pause, it stays empty and is
marked `interval_emptied`. Nothing is blended or interpolated.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.conditions import ConditionInterval
from sunledger.config.resolve import ResolvedLogger
from sunledger.physics.clock import choose_one_per_interval, whole_interval_move
from sunledger.stages.places import Places, run_or_rows
from sunledger.vocabulary import CONDITIONS

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.int64]
Words = npt.NDArray[np.int32]

REACH = 2 * 3600
"""Neighbouring readings decide about doubled and emptied intervals. [s]"""


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
        slots, rows = self._ends
        out[slots] = values[rows]
        return out

    @cached_property
    def _ends(self) -> tuple[Places, Places]:
        """Slots and rows; as slices, which are much faster, where nothing is left out."""
        slots, rows = run_or_rows(self.slots), run_or_rows(self.rows)
        together = isinstance(slots, slice) and isinstance(rows, slice)
        return (slots, rows) if together else (self.slots, self.rows)


def clock_steps(logger: ResolvedLogger) -> Times:
    """
    True times at which a clock jumped.

    Parameters
    ----------
    logger : ResolvedLogger
        With its clock segments.

    Returns
    -------
    times : numpy.ndarray of int64, shape (step,)
        Rising. [s]
    """
    steps = [a.end for a, b in pairwise(logger.segments) if a.error_end != b.error_start]
    return np.array(steps, np.int64)


def emptied_slots(start: Array, labels: Times, interval: int, steps: Times) -> Times:
    """
    Grid times that a clock step or drift left without a reading.

    Parameters
    ----------
    start : numpy.ndarray, shape (reading,)
        True start of consecutive readings in file order. [s]
    labels : numpy.ndarray of int64, shape (reading,)
        Their labels. [s]
    interval : int
        [s]
    steps : numpy.ndarray of int64, shape (step,)
        True times at which the clock jumped. [s]

    Returns
    -------
    times : numpy.ndarray of int64
        The intervals left out between two consecutive readings that show no pause. Labels that
        advance by at most one interval, or run backwards, show none; across a step they say
        nothing: there a logger may lose the two intervals that the setting cut, and what is
        longer is a pause.
    """
    grid_time = whole_interval_move(start, interval)[0]
    left_out = np.diff(grid_time) // interval - 1
    stepped = np.diff(np.searchsorted(steps, start, side="right")) != 0
    drifted = (np.diff(labels) <= interval) & (left_out == 1)
    no_pause = np.where(stepped, np.diff(start) < 3 * interval, drifted)
    return np.concatenate(
        [grid_time[:-1][no_pause & (left_out >= n)] + n * interval for n in (1, 2)]
    )


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
    kept = np.flatnonzero(ds.variables[f"line_status_{logger.name}"].values == 0)
    start = ds.variables[f"start_time_{logger.name}"].values
    labels = ds.variables[f"logger_time_{logger.name}"].values
    words = np.zeros(time.size, np.int32)
    residual = np.full(time.size, np.nan)
    grid_time, left = whole_interval_move(start[kept], interval)
    emptied = emptied_slots(start[kept], labels[kept], interval, clock_steps(logger))
    _mark(words, time, emptied, "interval_emptied", interval)
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
        Readings as written, not pooled, with source file and line, and the quarantine table.
    logger : ResolvedLogger
        The logger, its own interval.
    time : numpy.ndarray of int64, shape (time,)
        Grid. [s]
    interval : int
        [s]

    Returns
    -------
    words : numpy.ndarray of int32, shape (time,)
        ``line_rejected`` where a rejected line stood, as counted in lines from the last good
        reading before it in the same file. Conflicting lines stand in that table too, but also
        among the readings.
    """
    words = np.zeros(time.size, np.int32)
    place = _place_in_files(ds, "source", logger)
    bad = _place_in_files(ds, "quarantine", logger)
    if place.size == 0 or bad.size == 0:
        return words
    order = np.argsort(place, kind="stable")
    ordered = place[order]
    at = np.searchsorted(ordered, bad)
    row = order[np.maximum(at - 1, 0)]
    known = (at > 0) & (place[row] >> 32 == bad >> 32)
    known &= ordered[np.minimum(at, ordered.size - 1)] != bad  # no reading in spite of it
    start = ds.variables[f"start_time_{logger.name}"].values[row]
    start = start + (bad - place[row]) * logger.interval
    near = known & (bad - place[row] <= REACH // logger.interval)
    nearest = start[near] - (interval - logger.interval) / 2  # by the middle of the reading
    _mark(words, time, whole_interval_move(nearest, interval)[0], "line_rejected", interval)
    return words


def _place_in_files(ds: xr.Dataset, kind: str, logger: ResolvedLogger) -> Times:
    """File and line in one number; nothing where such lines are not told."""
    file, line = (ds.variables.get(f"{kind}_{part}_{logger.name}") for part in ("file", "line"))
    if file is None or line is None:
        return np.zeros(0, np.int64)
    return np.asarray((file.values.astype(np.int64) << 32) | line.values)


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
