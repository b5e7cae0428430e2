"""Climate normals of months and the departures from them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]

MONTH_DAYS = np.array([31, 28.2425, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
"""Mean length of the months in the Gregorian calendar. [d]"""


@dataclass(frozen=True)
class Normals:
    """
    What years of monthly values have in common.

    Parameters
    ----------
    years : numpy.ndarray of int64, shape (12,)
        Years with a value.
    mean : numpy.ndarray, shape (12,)
        NaN where too few years have a value.
    std : numpy.ndarray, shape (12,)
        Standard deviation between the years, their number less one as divisor; NaN likewise.
    anomaly : numpy.ndarray, shape (year, 12)
        Value less normal; NaN where either is missing.
    """

    years: Counts
    mean: Array
    std: Array
    anomaly: Array


def monthly_normals(values: npt.ArrayLike, least_years: int) -> Normals:
    """
    Return the normals of the twelve months.

    Parameters
    ----------
    values : array-like, shape (year, 12)
        Monthly values; NaN missing.
    least_years : int
        Years with a value that a normal needs.

    Returns
    -------
    Normals
        In the unit of the values.

    Raises
    ------
    ValueError
        If the values are no table of twelve months, or no year is asked for.
    """
    table = np.asarray(values, dtype=float)
    if table.ndim != 2 or table.shape[1] != 12:
        raise ValueError(f"values must have the shape (year, 12) (got {table.shape})")
    if least_years < 1:
        raise ValueError(f"least_years must be at least 1 (got {least_years})")
    known = np.isfinite(table)
    years = known.sum(axis=0)
    total = np.where(known, table, 0.0).sum(axis=0)
    enough = years >= least_years
    mean = np.where(enough, total / np.maximum(years, 1), np.nan)
    departure = np.where(known, table - mean, 0.0)
    variance = (departure**2).sum(axis=0) / np.maximum(years - 1, 1)
    std = np.where(enough & (years > 1), np.sqrt(variance), np.nan)
    return Normals(years, mean, std, table - mean)


def mean_of_year(months: npt.ArrayLike, lengths: npt.ArrayLike = MONTH_DAYS) -> Array:
    """
    Return the mean of a year from those of its months.

    Parameters
    ----------
    months : array-like, shape (..., 12)
        Means; NaN missing.
    lengths : array-like, shape (..., 12)
        Of the months. [d]

    Returns
    -------
    numpy.ndarray, shape (...)
        Each month weighted by its length; NaN where one is missing.
    """
    weights = np.broadcast_to(np.asarray(lengths, dtype=float), np.shape(months))
    return np.asarray((np.asarray(months) * weights).sum(axis=-1) / weights.sum(axis=-1))
