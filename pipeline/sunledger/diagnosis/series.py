"""A month against the months before it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sunledger.diagnosis.robust import MAD_TO_SIGMA

LEAST_MONTHS = 4
"""Months in a row, the last one among them, from which a change is judged."""


def last_against_earlier(
    values: Sequence[float], half_widths: Sequence[float]
) -> tuple[float, float] | None:
    """
    Change of the last month against the months before.

    Parameters
    ----------
    values, half_widths : sequence of float
        One a month in order, with half the interval of 95 % of each.

    Returns
    -------
    change, half_width : float
        Against the median of the earlier months; the interval holds the last month's own and twice
        the scatter of the earlier ones. None with fewer than ``LEAST_MONTHS``.
    """
    if len(values) < LEAST_MONTHS:
        return None
    before = np.asarray(values[:-1], dtype=float)
    middle = float(np.median(before))
    scatter = 2.0 * MAD_TO_SIGMA * float(np.median(np.abs(before - middle)))
    own = max(half_widths[-1], float(np.median(half_widths[:-1])))
    return values[-1] - middle, float(np.hypot(own, scatter))
