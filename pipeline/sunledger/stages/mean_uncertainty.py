"""Uncertainty of means: what one source brings stays, other sources add by squares, gaps add."""

from __future__ import annotations

from collections.abc import Mapping
from functools import reduce
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.physics.segments import Segments, Selection
from sunledger.physics.strata import Stratum
from sunledger.stages.error_split import COMMON, DAILY, Split

Array = npt.NDArray[np.float64]
Parts = dict[str, npt.NDArray[Any]]

SQUARES = "uncertainty_day_squares"
"""Name of the sums of errors that are new each day, over more than a day."""
_COUNT, _INDEPENDENT = "uncertainty_count", "uncertainty_sample"


def uncertainty_sums(
    split: Split, selection: Selection, segments: Segments, stratum: Stratum | None = None
) -> tuple[Parts, Parts]:
    """
    Sums from which the uncertainty of means follows.

    Parameters
    ----------
    split : Split
        Uncertainty of the minutes by its sources.
    selection : Selection
        Minutes that count.
    segments : Segments
        Periods.
    stratum : Stratum or None
        Minutes that are summed apart as well.

    Returns
    -------
    parts : dict of numpy.ndarray, shape (period,)
        Of each source the sum of its amounts, of what is independent that of the squares. They add
        up over longer periods.
    apart : dict of numpy.ndarray, shape (period,)
        The same of the stratum; empty without one.
    """
    known = selection
    if np.any(selection.valid & ~split.known):
        known = Selection(selection.valid & split.known)
    count = segments.counts(known.valid)
    number = count if stratum is None else stratum.counts(stratum.cut(known.valid), count)
    constant: dict[str, float] = {}
    varying: dict[str, npt.NDArray[Any]] = {}
    for name, amount in (*split.amounts.items(), (_INDEPENDENT, split.squares)):
        if isinstance(amount, np.ndarray) and amount.ndim:
            varying[name] = amount
        else:
            constant[name] = float(amount)
    sums, lit = _of_varying(varying, known, segments, stratum)
    parts = _of_sources(split, sums | _times(constant, count)) | {_COUNT: count}
    if stratum is None:
        return parts, {}
    return parts, _of_sources(split, lit | _times(constant, number)) | {_COUNT: number}


def _of_varying(
    varying: Mapping[str, npt.NDArray[Any]],
    known: Selection,
    segments: Segments,
    stratum: Stratum | None,
) -> tuple[dict[str, Array], dict[str, Array]]:
    """Sums of amounts that change with time, and those over the stratum."""
    if not varying:
        return {}, {}
    weights = known.weights
    single = {name: np.asarray(amount, np.float32) for name, amount in varying.items()}
    whole = np.stack([segments.products(amount, weights) for amount in single.values()])
    sums = whole.astype(np.float64)
    if stratum is None:
        return dict(zip(varying, sums, strict=True)), {}
    cut = np.stack([stratum.cut(amount) for amount in single.values()])
    lit = stratum.products(cut, stratum.cut(weights), sums)
    return dict(zip(varying, sums, strict=True)), dict(zip(varying, lit, strict=True))


def _times(constant: Mapping[str, float], count: npt.NDArray[np.int64]) -> dict[str, Array]:
    return {name: np.asarray(amount * count, float) for name, amount in constant.items()}


def _of_sources(split: Split, sums: Mapping[str, Array]) -> Parts:
    """Sums of every source from those of the amounts it goes by."""
    out: Parts = {_INDEPENDENT: sums[_INDEPENDENT]}
    for key, factors in split.sources.items():
        if len(factors) == 1:
            ((name, factor),) = factors.items()
            out[key] = sums[name] if factor == 1.0 else sums[name] * factor
        else:
            out[key] = reduce(np.add, (factor * sums[name] for name, factor in factors.items()))
    return out


def by_days(sums: Parts, day: npt.NDArray[np.int64]) -> Parts:
    """
    Sums that may be added up over days.

    Parameters
    ----------
    sums : dict of numpy.ndarray, shape (cell,)
        ``<quantity>.<part>`` with parts as of :func:`uncertainty_sums`, over parts of days.
    day : numpy.ndarray of int64, shape (cell,)
        To which day each belongs, rising.

    Returns
    -------
    sums : dict of numpy.ndarray, shape (cell,)
        In place of each error of a day the square of its sum over the day, held by the first cell.
    """
    first = np.flatnonzero(np.diff(day, prepend=day[0] - 1))
    mine = sorted(n for n in sums if n.partition(" ")[0].endswith(DAILY) and " " in n)
    out = {name: part for name, part in sums.items() if name not in mine}
    for name in mine:
        whole = name.partition(" ")[0].removesuffix(DAILY) + SQUARES
        square = out.setdefault(whole, np.zeros(day.shape))
        square[first] += np.add.reduceat(sums[name], first) ** 2
    return out


def mean_uncertainty(sums: Parts, prefix: str = "") -> Array:
    """
    Uncertainty of means of the minutes that count.

    Parameters
    ----------
    sums : dict of numpy.ndarray, shape (period,)
        From :func:`uncertainty_sums` within a day, beyond it from :func:`by_days`; added up.
    prefix : str
        Of the names of sums over fewer minutes, where the others stand in the mean as known
        exactly.

    Returns
    -------
    uncertainty : numpy.ndarray, shape (period,)
        NaN without a minute.

    Notes
    -----
    An error that stays is in a mean with the mean of its amounts, and so is one of a day in that
    of a day; sources are independent of each other, so that their squares add. To add the amounts
    of all sources minute by minute before the mean is made would give more, by the inequality of
    the triangle: direct and diffuse take turns.
    """
    count = sums[_COUNT]
    square = np.zeros(count.shape)
    # in one order, so that the same sources give the same bits however they were found
    for name in sorted(sums):
        if name.startswith((f"{prefix}{COMMON} ", f"{prefix}{DAILY} ")):
            square += sums[name] * sums[name]
    for name in (f"{prefix}{SQUARES}", f"{prefix}{_INDEPENDENT}"):
        if name in sums:
            square += sums[name]
    return np.where(count > 0, np.sqrt(square) / np.maximum(count, 1), np.nan)


def missing_uncertainty(count: npt.NDArray[Any], possible: npt.NDArray[Any], std: Array) -> Array:
    """
    What minutes that are missing can have changed in a mean.

    Parameters
    ----------
    count, possible : numpy.ndarray of int64, shape (period,)
        Minutes that count, and those that the period holds.
    std : numpy.ndarray, shape (period,)
        Standard deviation of those that count.

    Returns
    -------
    uncertainty : numpy.ndarray, shape (period,)
        Expanded, k = 2: gaps are taken as one, whose mean differs from that of the rest as one
        minute does. Gaps are seldom at random.
    """
    share = 1.0 - count / np.maximum(possible, 1)
    return np.asarray(2.0 * np.maximum(share, 0.0) * np.nan_to_num(std))


def missing_in_composite(values: Array, there: npt.NDArray[np.bool_]) -> Array:
    """
    What times of day that are missing can have changed in a diurnal composite.

    Parameters
    ----------
    values : numpy.ndarray, shape (..., day, bin)
        Means of each time of day.
    there : numpy.ndarray of bool, shape (..., day, bin)
        Those that count.

    Returns
    -------
    uncertainty : numpy.ndarray, shape (...)
        Expanded, k = 2: what is missing differs from the mean of its time of day by the standard
        deviation over the days, all in one direction, since gaps are seldom at random.
    """
    number = there.sum(axis=-2)
    mean = np.where(there, values, 0.0).sum(axis=-2) / np.maximum(number, 1)
    off = np.where(there, values - mean[..., None, :], 0.0)
    spread = np.sqrt((off * off).sum(axis=-2) / np.maximum(number - 1, 1))
    share = 1.0 - number / there.shape[-2]
    return np.asarray(2.0 * (share * spread).mean(axis=-1))
