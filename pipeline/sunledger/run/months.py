"""Calendar months of UTC as labels such as `2031-03`, and their bounds in seconds."""

from __future__ import annotations

from functools import lru_cache

import numpy as np


@lru_cache(maxsize=4096)
def month_bounds(label: str) -> tuple[int, int]:
    """
    Start and end of a month.

    Parameters
    ----------
    label : str
        Such as ``2031-03``.

    Returns
    -------
    start, end : int
        Half-open. [s since 1970-01-01]
    """
    month = np.datetime64(label, "M")
    first, past = (m.astype("M8[s]").astype(np.int64) for m in (month, month + 1))
    return int(first), int(past)


def months_touched(start: int, end: int) -> list[str]:
    """
    Months that a half-open interval touches.

    Parameters
    ----------
    start, end : int
        [s since 1970-01-01]

    Returns
    -------
    labels : list of str
        In order; empty when the interval is.
    """
    return list(_touched(start, end))


@lru_cache(maxsize=4096)
def _touched(start: int, end: int) -> tuple[str, ...]:
    if end <= start:
        return ()
    first = np.datetime64(start, "s").astype("M8[M]")
    last = np.datetime64(end - 1, "s").astype("M8[M]")
    return tuple(str(m) for m in np.arange(first, last + 1))
