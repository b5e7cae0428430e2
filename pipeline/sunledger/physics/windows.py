"""Sliding windows over a regular time axis: shares, medians, ranges.

Every result depends on the window alone, bit for bit, so that it does not matter how time was cut.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Counts = npt.NDArray[np.int64]


def rolling_count(mask: npt.ArrayLike, half: int) -> Counts:
    """
    Return how many samples of a centred window are true.

    Parameters
    ----------
    mask : array-like of bool, shape (time,)
        Condition.
    half : int
        Samples on either side of the middle one. [samples]

    Returns
    -------
    count : numpy.ndarray of int64, shape (time,)
        Samples beyond the ends count as false.
    """
    flags = np.asarray(mask, dtype=bool)
    total = np.empty(flags.size + 2 * half + 1, dtype=np.int64)
    total[: half + 1] = 0
    np.cumsum(flags, out=total[half + 1 : half + 1 + flags.size])
    total[half + 1 + flags.size :] = total[half + flags.size]
    return np.asarray(total[2 * half + 1 :] - total[: flags.size])


def rolling_any(mask: npt.ArrayLike, half: int) -> Mask:
    """
    Return whether any sample of a centred window is true.

    Parameters
    ----------
    mask : array-like of bool, shape (time,)
        Condition.
    half : int
        Samples on either side. [samples]

    Returns
    -------
    near : numpy.ndarray of bool, shape (time,)
        True within ``half`` samples of a true one.
    """
    return np.asarray(rolling_count(mask, half) > 0)


def _windows(values: npt.ArrayLike, half: int) -> Array:
    samples = np.asarray(values, dtype=float)
    if samples.size == 0:
        return np.empty((0, 2 * half + 1))
    padded = np.pad(samples, half, constant_values=np.nan)
    return np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)


def rolling_median(
    values: npt.ArrayLike, half: int, least: int = 1, wanted: npt.ArrayLike | None = None
) -> Array:
    """
    Return the median of a centred window.

    Parameters
    ----------
    values : array-like, shape (time,)
        Values; NaN is left out.
    half : int
        Samples on either side. [samples]
    least : int
        Least number of values for a result.
    wanted : array-like of bool, shape (time,), optional
        Where a result is asked for; everywhere without it.

    Returns
    -------
    median : numpy.ndarray, shape (time,)
        NaN where the window holds fewer values, and where none is wanted.
    """
    samples = np.asarray(values, dtype=float)
    count = rolling_count(~np.isnan(samples), half)
    enough = count >= max(least, 1)
    rows = np.flatnonzero(enough if wanted is None else enough & np.asarray(wanted))
    out = np.full(samples.shape, np.nan)
    if rows.size:
        windows = _windows(samples, half)[rows]
        windows.sort(axis=1)  # NaN goes to the end
        ordered, first = windows.ravel(), np.arange(0, windows.size, windows.shape[1])
        last = count[rows] - 1
        out[rows] = (ordered[first + last // 2] + ordered[first + (last + 1) // 2]) / 2
    return out


def rolling_range(values: npt.ArrayLike, half: int) -> Array:
    """
    Return the largest less the smallest value of a centred window.

    Parameters
    ----------
    values : array-like, shape (time,)
        Values; NaN is left out.
    half : int
        Samples on either side. [samples]

    Returns
    -------
    width : numpy.ndarray, shape (time,)
        NaN where the window holds no value.
    """
    samples = np.asarray(values, dtype=float)
    return np.asarray(_extreme(samples, half, np.fmax) - _extreme(samples, half, np.fmin))


def _extreme(samples: Array, half: int, larger: np.ufunc) -> Array:
    """Extreme of a centred window that leaves NaN out, by windows of doubled width."""
    if samples.size == 0:
        return samples.copy()
    out = np.pad(samples, half, constant_values=np.nan)
    width, wanted = 1, 2 * half + 1
    while width < wanted:
        step = min(width, wanted - width)
        out = larger(out[:-step], out[step:])
        width += step
    return np.asarray(out)


def grown(seed: npt.ArrayLike, candidate: npt.ArrayLike, steps: int) -> Mask:
    """
    Return a seed grown into adjoining candidates.

    Parameters
    ----------
    seed : array-like of bool, shape (time,)
        Where to begin.
    candidate : array-like of bool, shape (time,)
        Samples that may be taken in, one after the other without a gap.
    steps : int
        At most so many on either side. [samples]

    Returns
    -------
    grown : numpy.ndarray of bool, shape (time,)
        The seed and what adjoins it.
    """
    out = np.asarray(seed, dtype=bool).copy()
    allowed = np.asarray(candidate, dtype=bool)
    for _ in range(steps if out.any() else 0):
        beside = np.zeros_like(out)
        beside[1:] |= out[:-1]
        beside[:-1] |= out[1:]
        out |= beside & allowed
    return out


def opened(mask: npt.ArrayLike, least: int) -> Mask:
    """
    Return the true samples that belong to a long enough run of them.

    Parameters
    ----------
    mask : array-like of bool, shape (time,)
        Condition.
    least : int
        Shortest run that is kept. [samples]

    Returns
    -------
    long : numpy.ndarray of bool, shape (time,)
        The mask without its shorter runs.
    """
    flags = np.asarray(mask, dtype=bool)
    if least <= 1 or flags.size == 0:
        return flags.copy()
    if flags.size < least:
        return np.zeros_like(flags)
    begins = flags[: flags.size - least + 1].copy()
    for step in range(1, least):
        begins &= flags[step : flags.size - least + 1 + step]
    out = np.zeros_like(flags)
    for step in range(least):
        out[step : step + begins.size] |= begins
    return out


def near_any(mask: npt.ArrayLike, half: int) -> Mask:
    """
    Return whether any sample within a short distance is true.

    Parameters
    ----------
    mask : array-like of bool, shape (time,)
        Condition.
    half : int
        Samples on either side; as many passes are made, so it should be small. [samples]

    Returns
    -------
    near : numpy.ndarray of bool, shape (time,)
        As `rolling_any`, faster for short distances.
    """
    flags = np.asarray(mask, dtype=bool)
    out = flags.copy()
    for step in range(1, min(half, flags.size - 1) + 1):
        out[step:] |= flags[:-step]
        out[:-step] |= flags[step:]
    return out
