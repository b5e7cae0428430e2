"""The true start of every reading, from its label, its place in the file and the clock checks.

A reading is written when its interval ends. It is the clock of that instant that labelled it, so a
setting within the interval counts as one before it.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.clocks import ClockSegment
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST
from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.datasets import as_variables, taken
from sunledger.physics.clock import ClockSegments, true_from_logger
from sunledger.stages.places import places

Times = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]
Array = npt.NDArray[np.float64]

JUST_BEFORE = 2.0**-10
"""How long before the end of its interval a reading is asked for its clock; exact in binary. [s]"""


def clock_lines(segments: tuple[ClockSegment, ...]) -> ClockSegments:
    """
    Clock segments of the record as arrays.

    Parameters
    ----------
    segments : tuple of ClockSegment
        From the resolved configuration.

    Returns
    -------
    lines : ClockSegments
        The same, unbounded ends as infinities.
    """
    return ClockSegments(
        np.array([-np.inf if s.start <= FAR_PAST else s.start for s in segments]),
        np.array([np.inf if s.end >= FAR_FUTURE else s.end for s in segments]),
        np.array([s.error_start for s in segments]),
        np.array([s.error_end for s in segments]),
    )


def labels_as_utc_starts(labels: Times, logger: ResolvedLogger) -> Times:
    """
    Labels moved to the start of their interval and freed of the logger's zone.

    Parameters
    ----------
    labels : numpy.ndarray of int64, shape (reading,)
        As logged. [s]
    logger : ResolvedLogger
        Zone, interval and label convention.

    Returns
    -------
    starts : numpy.ndarray of int64, shape (reading,)
        What the logger's clock would show at the start, were it set to UTC. [s]
    """
    shift = logger.interval if logger.label == "end" else 0
    return labels - logger.utc_offset - shift


def months_since_epoch(labels: Times) -> Times:
    """
    Calendar month of each label.

    Parameters
    ----------
    labels : numpy.ndarray of int64, shape (reading,)
        [s since 1970-01-01]

    Returns
    -------
    months : numpy.ndarray of int64, shape (reading,)
        Months since January 1970.
    """
    return labels.astype("M8[s]").astype("M8[M]").astype(np.int64)


def passes_in_file_order(labels: Times, ends: Array, kept: Mask, lines: ClockSegments) -> Times:
    """
    How often the clock had been set back over a label before it was written.

    Parameters
    ----------
    labels : numpy.ndarray of int64, shape (reading,)
        As logged, in file order. [s]
    ends : numpy.ndarray, shape (reading,)
        What the clock showed just before the end of each reading, were it set to UTC. [s]
    kept : numpy.ndarray of bool, shape (reading,)
        False for a reading that only repeats a label of its own rising run.
    lines : ClockSegments
        Error of the clock.

    Returns
    -------
    passes : numpy.ndarray of int64, shape (reading,)
        0 where a label was written before any setting back over it, 1 after one, and so on.

    Notes
    -----
    Only labels that two segments show are ambiguous. They fall into stretches that the very same
    segments show; within a stretch the pass is the number of times that the labels did not
    rise, counted within each calendar month of labels so that the answer does not depend on
    which months were read together.
    """
    passes = np.zeros(labels.shape, np.int64)
    edges = np.unique(np.concatenate([lines.logger_start, lines.logger_end]))
    for first, past in pairwise(edges):
        if np.count_nonzero((lines.logger_start <= first) & (lines.logger_end >= past)) < 2:
            continue
        inside = np.flatnonzero((ends >= first) & (ends < past))
        months = months_since_epoch(labels[inside])
        for month in np.unique(months):
            rows = inside[months == month]
            # the first label of a month may be the only one, and then it comes again unchanged
            step = np.diff(labels[rows], prepend=labels[rows[:1]] - 1)
            passes[rows] = np.cumsum((step < 0) | ((step == 0) & kept[rows]))
    return passes


def with_true_times(ds: xr.Dataset, period: Period) -> xr.Dataset:
    """
    Readings with their true start times, trimmed to the period.

    Parameters
    ----------
    ds : xarray.Dataset
        Readings in file order, one dimension ``reading_<logger>`` a logger.
    period : Period
        Resolved configuration with the clocks' errors.

    Returns
    -------
    readings : xarray.Dataset
        With ``start_time_<logger>`` [s since 1970-01-01, UTC] and ``in_hole_<logger>`` (label
        that the clock can never have shown: it was set forward over it), and only readings whose
        interval touches the period.
    """
    added: dict[str, Any] = {}
    near: dict[str, Any] = {}
    for logger in period.loggers:
        dim = f"reading_{logger.name}"
        labels = ds.variables[f"logger_time_{logger.name}"].values
        lines = clock_lines(logger.segments)
        kept = ds.variables[f"line_status_{logger.name}"].values == 0
        lasting = logger.interval - JUST_BEFORE
        ends: Array = np.asarray(labels_as_utc_starts(labels, logger) + lasting, np.float64)
        true = true_from_logger(ends, passes_in_file_order(labels, ends, kept, lines), lines)
        start = true.true_time - lasting / (1.0 + lines.rate[true.segment])
        added[f"start_time_{logger.name}"] = (dim, start)
        added[f"in_hole_{logger.name}"] = (dim, true.outside)
        near[dim] = places((start > period.start - logger.interval) & (start < period.end))
    return taken(ds.assign(as_variables(added)), near)
