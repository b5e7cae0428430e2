"""Lengths of runs: how long a condition lasts, how long a value stays the same."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Counts = npt.NDArray[np.int64]


def run_length(mask: npt.ArrayLike) -> Counts:
    """
    Return for each sample the length of the run of true samples it belongs to.

    Parameters
    ----------
    mask : array-like of bool, shape (time,)
        Condition on a regular time axis.

    Returns
    -------
    numpy.ndarray of int64
        Length of the run in samples; 0 where the condition is false.

    Raises
    ------
    ValueError
        If the array has not one dimension.
    """
    flags = np.asarray(mask, dtype=bool)
    _require_one_dimension(flags.ndim)
    return np.where(flags, _segment_length(flags[1:] != flags[:-1], flags.size), 0)


def constant_run_length(values: npt.ArrayLike, resolution: float = 0.0) -> Counts:
    """
    Return for each sample the length of the run of equal values it belongs to.

    Parameters
    ----------
    values : array-like, shape (time,)
        Values on a regular time axis; NaN or infinity ends a run.
    resolution : float
        Step of the values in their own unit: they are equal when they round to the same
        multiple of it. 0 asks for exact equality.

    Returns
    -------
    numpy.ndarray of int64
        Length of the run in samples; 1 for a value unlike its neighbours, 0 for a gap.

    Raises
    ------
    ValueError
        If the array has not one dimension or ``resolution`` is negative.

    Notes
    -----
    Values are rounded before they are compared. Comparing differences with a tolerance would
    let a slow ramp pass as one run.
    """
    samples = np.asarray(values, dtype=float)
    _require_one_dimension(samples.ndim)
    if not resolution >= 0:
        raise ValueError(f"resolution must not be negative (got {resolution!r})")
    finite = np.isfinite(samples)
    steps = np.where(finite, samples, 0.0)
    if resolution > 0:
        steps = np.rint(steps / resolution)
    changes = (steps[1:] != steps[:-1]) | (finite[1:] != finite[:-1])
    return np.where(finite, _segment_length(changes, samples.size), 0)


def _segment_length(changes: npt.NDArray[np.bool_], size: int) -> Counts:
    """Length of the segment each sample lies in, segments being parted by the changes."""
    if size == 0:
        return np.zeros(0, dtype=np.int64)
    edges = np.concatenate(([0], np.flatnonzero(changes) + 1, [size])).astype(np.int64)
    lengths = np.diff(edges)
    return np.repeat(lengths, lengths)


def _require_one_dimension(dimensions: int) -> None:
    """Refuse anything but a time axis."""
    if dimensions != 1:
        raise ValueError(f"runs need one dimension, time (got {dimensions})")
