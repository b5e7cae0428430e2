"""Rows that a mask chooses, taken without a copy where they lie side by side."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sunledger.datasets import Places

__all__ = ["Places", "places", "run_or_rows"]


def places(wanted: NDArray[np.bool_]) -> Places:
    """
    Where a mask is true.

    Parameters
    ----------
    wanted : numpy.ndarray of bool, shape (row,)
        Which rows.

    Returns
    -------
    places : slice or numpy.ndarray of int
        A slice, which copies nothing, where the rows lie side by side.
    """
    return run_or_rows(np.flatnonzero(wanted))


def run_or_rows(rows: NDArray[np.intp]) -> Places:
    """
    Row numbers, as a slice where they are.

    Parameters
    ----------
    rows : numpy.ndarray of int, shape (chosen,)
        In any order.

    Returns
    -------
    places : slice or numpy.ndarray of int
        A slice where each number is one more than the one before.
    """
    if not rows.size or not np.all(rows[1:] == rows[:-1] + 1):
        return rows
    return slice(int(rows[0]), int(rows[-1]) + 1)
