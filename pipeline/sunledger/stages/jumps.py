"""Jumps of a logger's labels by one hour, as a change to or from daylight saving makes them."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sunledger.stages.accounting import REPEATED

HOUR = 3600


def hour_jumps(
    labels: NDArray[np.int64],
    status: NDArray[np.int8],
    interval: int,
    label: Literal["start", "end"],
) -> tuple[NDArray[np.intp], NDArray[np.int64]]:
    """
    Find where labels jump by one hour against the logger's interval.

    Parameters
    ----------
    labels : ndarray of int64, shape (row,)
        Labels in file order. [s]
    status : ndarray of int8, shape (row,)
        Whether each reading is kept, conflicting or repeated.
    interval : int
        Averaging interval of the logger. [s]
    label : str
        Whether labels mark the ``start`` or the ``end`` of the interval.

    Returns
    -------
    rows : ndarray of int, shape (jump,)
        The reading after each jump.
    seconds : ndarray of int64, shape (jump,)
        +3600 or -3600. [s]

    Notes
    -----
    Backwards, the labels repeat an hour; a repeated delivery, whose readings were there already,
    is no jump. Forwards, an hour of labels is left out, which a pause of exactly one hour does
    too: it counts only where the readings before it end at a full hour, as daylight saving begins.
    With an interval of half an hour or more the two cannot be told apart, and nothing is found
    forwards.
    """
    step = np.diff(labels)
    back = (step == interval - HOUR) & (status[1:] != REPEATED) & (interval < HOUR)
    end_before = labels[:-1] + (interval if label == "start" else 0)
    ahead = (step == interval + HOUR) & (end_before % HOUR == 0) & (interval < HOUR // 2)
    rows = np.flatnonzero(back | ahead) + 1
    return rows, np.where(back[rows - 1], -HOUR, HOUR)
