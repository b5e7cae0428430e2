"""Samples grouped by keys that rise, such as days in order of time, without sorting them."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]


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
    if not keys.size or np.any(keys[1:] < keys[:-1]):
        names, place, count = np.unique(keys, return_inverse=True, return_counts=True)
        return names, place.astype(np.int64), count.astype(np.int64)
    starts = np.append(0, np.flatnonzero(keys[1:] != keys[:-1]) + 1)
    count = np.diff(starts, append=keys.size)
    return keys[starts], np.repeat(np.arange(starts.size), count), count


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
    table = np.full((count.size, int(count.max())), np.nan)
    table[np.arange(table.shape[1]) < count[:, None]] = values
    table.sort(axis=1)  # NaN goes to the end
    each = np.arange(count.size)
    middle = (table[each, (count - 1) // 2] + table[each, count // 2]) / 2
    middle[np.isnan(table[each, count - 1])] = np.nan
    return np.asarray(middle)
