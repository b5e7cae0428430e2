"""Uncertainty of means from that of the minutes: one way in, one way out."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.physics.segments import Segments, Selection

Array = npt.NDArray[np.float64]
Parts = dict[str, npt.NDArray[Any]]


def uncertainty_sums(
    uncertainty: npt.NDArray[np.floating] | None, selection: Selection, segments: Segments
) -> Parts:
    """
    Sums from which the uncertainty of means follows.

    Parameters
    ----------
    uncertainty : numpy.ndarray or None, shape (time,)
        Of the minutes. [unit of the quantity]
    selection : Selection
        Minutes that count.
    segments : Segments
        Periods.

    Returns
    -------
    parts : dict of numpy.ndarray, shape (period,)
        They add up over longer periods; empty without an uncertainty.
    """
    if uncertainty is None:
        return {}
    total = segments.sums(selection.zeroed(uncertainty))
    if np.isfinite(total).all():
        return {"uncertainty": total, "uncertainty_count": segments.counts(selection.valid)}
    known = Selection(selection.valid & np.isfinite(uncertainty))
    return {
        "uncertainty": segments.sums(known.zeroed(uncertainty)),
        "uncertainty_count": segments.counts(known.valid),
    }


def mean_uncertainty(total: Array, count: npt.NDArray[np.int64]) -> Array:
    """
    Uncertainty of means, taking the minutes' errors as fully correlated.

    Parameters
    ----------
    total : numpy.ndarray, shape (period,)
        Sum of the uncertainties of the minutes that count.
    count : numpy.ndarray of int64, shape (period,)
        Their number.

    Returns
    -------
    uncertainty : numpy.ndarray, shape (period,)
        Mean of the uncertainties; NaN without one.
    """
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
