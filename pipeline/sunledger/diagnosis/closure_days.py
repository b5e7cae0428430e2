"""Closure of whole days as plain numbers: what a later month needs to tell what has changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.closure_fit import Moments

Array = npt.NDArray[np.float64]
Row = list[float]

_DIGITS = 9
NIGHT = 4 * 3600.0
"""Clear minutes nearer than this on both sides of a month's end are of one day. [s]"""


def rows_of(moments: Moments) -> list[Row]:
    """
    Moments of a month, one row a day.

    Parameters
    ----------
    moments : Moments
        Of pieces of days.

    Returns
    -------
    rows : list of list of float
        Mean, first and last time of the day's minutes [s], their number, then the upper triangle of
        the products of the regressors and the products of regressors and residual; to nine digits,
        so that the last bits of another machine's libraries do not matter.
    """
    days = moments.day
    if not days.size:
        return []
    start = np.flatnonzero(np.diff(days, prepend=-1))
    minutes = np.add.reduceat(moments.minutes, start).astype(float)
    middle = np.add.reduceat(moments.middle * moments.minutes, start) / minutes
    first = np.minimum.reduceat(moments.first, start)
    last = np.maximum.reduceat(moments.last, start)
    upper = np.triu_indices(moments.vector.shape[1])
    matrix = np.add.reduceat(moments.matrix, start, axis=0)[:, *upper]
    vector = np.add.reduceat(moments.vector, start, axis=0)
    told = np.column_stack([np.round(middle), first, last, minutes, matrix, vector])
    return [[_rounded(value) for value in row] for row in told]


def _rounded(value: float) -> float:
    """A time of today has ten digits, which stay."""
    whole = float(value).is_integer()
    return float(value) if whole else float(f"{value:.{_DIGITS}g}")


def moments_of_rows(rows: Sequence[Sequence[float]], start: float = -np.inf) -> Moments | None:
    """
    Moments from the rows of days.

    Parameters
    ----------
    rows : sequence of sequence of float
        From :func:`rows_of`.
    start : float
        Days that begin earlier are left out. [s since 1970-01-01]

    Returns
    -------
    moments : Moments or None
        One piece a day; None where none is left.
    """
    kept = [row for row in rows if row[1] >= start]
    if not kept:
        return None
    table = np.array(kept, dtype=float)
    # four times and numbers, then k (k + 1) / 2 products and k more: (k + 1.5)^2 - 2.25 = 2 n
    width = round(np.sqrt(2 * (table.shape[1] - 4) + 2.25) - 1.5)
    upper = np.triu_indices(width)
    matrix = np.zeros((len(kept), width, width))
    matrix[:, *upper] = matrix[:, *upper[::-1]] = table[:, 4:-width]
    middle, first, last, minutes = table[:, :4].T
    number = np.arange(len(kept))
    return Moments(number, middle, first, last, minutes.astype(np.int64), matrix, table[:, -width:])


def joined(earlier: Moments | None, later: Moments) -> Moments:
    """
    Moments one after the other.

    Parameters
    ----------
    earlier : Moments or None
        Before.
    later : Moments
        Behind; its breaks are kept.

    Returns
    -------
    moments : Moments
        A day that the end of a month parts stays one day.
    """
    if earlier is None or not later.day.size:
        return later
    same = later.first[0] - earlier.last[-1] < NIGHT
    follows = replace(later, day=later.day + earlier.days - int(same))
    columns = {
        f.name: np.concatenate([getattr(earlier, f.name), getattr(follows, f.name)])
        for f in fields(Moments)
        if f.name != "breaks"
    }
    return Moments(**columns, breaks=later.breaks)
