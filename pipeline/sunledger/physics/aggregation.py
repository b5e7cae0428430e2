"""Mean over a month by way of its mean diurnal cycle, without filling gaps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]

FRACTION_RULES = ("daily_bin", "monthly_bin")
"""What the share of valid samples is asked of: each bin of each day, or each bin of the month."""


@dataclass(frozen=True)
class DiurnalComposite:
    """
    Monthly mean by way of the mean course of the day.

    Parameters
    ----------
    mean : numpy.ndarray, shape (...)
        Mean of all bins; NaN when one is missing.
    cycle : numpy.ndarray, shape (..., bin)
        Mean course of the day; NaN where a bin is missing.
    days : numpy.ndarray of int64, shape (..., bin)
        Days that entered each bin.
    """

    mean: Array
    cycle: Array
    days: Counts


def composite_of_bins(
    count: npt.NDArray[np.integer],
    total: Array,
    needed: npt.ArrayLike,
    fraction_of: str = "daily_bin",
) -> DiurnalComposite:
    """
    Return the mean over a month by way of its mean diurnal cycle.

    Parameters
    ----------
    count : numpy.ndarray of int, shape (..., day, bin)
        Valid samples of each bin of each day.
    total : numpy.ndarray, shape (..., day, bin)
        Their sums.
    needed : float or array-like, shape (..., 1, 1)
        Samples that a bin needs. [samples]
    fraction_of : str
        A name in ``FRACTION_RULES``.

    Returns
    -------
    DiurnalComposite
        For all leading dimensions at once.

    Raises
    ------
    ValueError
        If ``fraction_of`` is not allowed.

    Notes
    -----
    Each bin of each day is averaged, then each bin over the days, then the bins. The source's
    wording leaves open what the share of 20 % is asked of; as written it is each bin of each
    day, which is the default.

    References
    ----------
    .. [1] A. Roesch et al., "Assessment of BSRN radiation records for the computation of monthly
       means," Atmos. Meas. Tech., vol. 4, pp. 339-354, 2011. doi:10.5194/amt-4-339-2011
    """
    if fraction_of not in FRACTION_RULES:
        allowed = ", ".join(FRACTION_RULES)
        raise ValueError(f"fraction_of must be one of {allowed} (got {fraction_of!r})")
    least = np.asarray(needed, dtype=float) - 1e-9
    if fraction_of == "daily_bin":
        # counts are compared as whole numbers, several times as fast as with a share of them
        kept = count >= np.maximum(np.ceil(least), 1.0).astype(np.int64)
    else:
        days = count.shape[-2]
        kept = (count > 0) & (count.sum(axis=-2, keepdims=True) >= least * days)
    bins = np.where(kept, total / np.maximum(count, 1), 0.0)
    days_there = np.add.reduce(kept, axis=-2, dtype=np.int64)
    cycle = np.where(days_there > 0, bins.sum(axis=-2) / np.maximum(days_there, 1), np.nan)
    return DiurnalComposite(cycle.mean(axis=-1), cycle, days_there)
