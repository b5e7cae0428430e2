"""Samples grouped by keys that rise, such as days in order of time, without sorting them."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]

MOST_EMPTY = 8
"""A table of all groups is sorted several times sooner than one list; but where groups are so
unequal that it is larger than the samples by more than this, it is not made."""


def distinct(keys: npt.NDArray[Any]) -> tuple[npt.NDArray[Any], Counts, Counts]:
    """
    Distinct keys, as `numpy.unique` tells them, many times sooner where they rise already.

    Parameters
    ----------
    keys : numpy.ndarray, shape (sample,)
        In any order; none of them NaN.

    Returns
    -------
    names : numpy.ndarray, shape (group,)
        Each key once, rising.
    place : numpy.ndarray of int64, shape (sample,)
        Where each sample's key stands in ``names``.
    count : numpy.ndarray of int64, shape (group,)
        Samples of each.
    """
    starts = _starts(keys)
    if starts is None:
        names, place, count = np.unique(keys, return_inverse=True, return_counts=True)
        return names, place.astype(np.int64), count.astype(np.int64)
    count = _lengths(starts, keys.size)
    return keys[starts], np.repeat(np.arange(starts.size), count), count


def counted(keys: npt.NDArray[Any]) -> tuple[npt.NDArray[Any], Counts]:
    """
    Distinct keys and how often each is met.

    Parameters
    ----------
    keys : numpy.ndarray, shape (sample,)
        In any order; none of them NaN.

    Returns
    -------
    names : numpy.ndarray, shape (group,)
        Each key once, rising.
    count : numpy.ndarray of int64, shape (group,)
        Samples of each.
    """
    starts = _starts(keys)
    if starts is None:
        names, count = np.unique(keys, return_counts=True)
        return names, count.astype(np.int64)
    return keys[starts], _lengths(starts, keys.size)


def _starts(keys: npt.NDArray[Any]) -> Counts | None:
    """Where each key begins; None where the keys do not rise, or there are none."""
    if not keys.size:
        return None
    change = np.flatnonzero(keys[1:] != keys[:-1])
    starts = np.zeros(change.size + 1, np.int64)
    np.add(change, 1, out=starts[1:])
    names = keys[starts]
    return None if (names[1:] < names[:-1]).any() else starts


def _lengths(starts: Counts, size: int) -> Counts:
    lengths = np.empty_like(starts)
    np.subtract(starts[1:], starts[:-1], out=lengths[:-1])
    lengths[-1] = size - starts[-1]
    return lengths


def medians(values: Array, count: Counts) -> Array:
    """
    Median of each group of values that stand side by side.

    Parameters
    ----------
    values : numpy.ndarray, shape (sample,)
        Group after group.
    count : numpy.ndarray of int64, shape (group,)
        Samples of each group, at least one.

    Returns
    -------
    medians : numpy.ndarray, shape (group,)
        NaN for a group that holds one; else as :func:`sunledger.diagnosis.robust.median_of` gives
        it for each, all groups sorted at once.
    """
    if not count.size:
        return np.zeros(0)
    rising, start = _rising(np.asarray(values, dtype=float), count)
    middle = (rising[start + (count - 1) // 2] + rising[start + count // 2]) / 2
    middle[np.isnan(rising[start + count - 1])] = np.nan
    return np.asarray(middle)


def _rising(values: Array, count: Counts) -> tuple[Array, Counts]:
    """Values of each group in order, NaN last, and where each group starts."""
    width = int(count.max())
    if count.size * width > MOST_EMPTY * values.size:
        group = np.repeat(np.arange(count.size), count)
        return values[np.lexsort((values, group))], np.cumsum(count) - count
    table = np.full((count.size, width), np.nan)
    table[np.arange(width) < count[:, None]] = values
    table.sort(axis=1)
    return table.ravel(), np.arange(count.size) * width
