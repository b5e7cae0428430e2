"""Years of monthly values as one table by year and month, with its normals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sunledger.physics.climatology import Normals, mean_of_year, monthly_normals

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.int64]
Whole = Literal["mean", "sum", "none"]


@dataclass(frozen=True)
class Climate:
    """
    One quantity over years.

    Parameters
    ----------
    years : numpy.ndarray of int64, shape (year,)
        Consecutive.
    values : numpy.ndarray, shape (year, 12)
        Monthly values; NaN missing.
    normals : Normals
        Of the twelve months.
    annual : numpy.ndarray, shape (year,)
        Of the years with twelve months; NaN else, and for a quantity of which a year makes no
        sense.
    annual_normal : float
        From the twelve normals; NaN where one is missing.
    """

    years: Times
    values: Array
    normals: Normals
    annual: Array
    annual_normal: float


def table_of(times: Times, values: npt.ArrayLike, first_year: int, last_year: int) -> Array:
    """
    Monthly values by year and month.

    Parameters
    ----------
    times : numpy.ndarray of int64, shape (month,)
        Starts of the months, UTC. [s]
    values : array-like, shape (month,)
        Values.
    first_year, last_year : int
        Rows of the table, inclusive; months of other years are left out.

    Returns
    -------
    table : numpy.ndarray, shape (year, 12)
        NaN where there is no month.
    """
    month = times.astype("M8[s]").astype("M8[M]").astype(np.int64)
    row, column = month // 12 + 1970 - first_year, month % 12
    table = np.full((last_year - first_year + 1, 12), np.nan)
    inside = (row >= 0) & (row < table.shape[0])
    table[row[inside], column[inside]] = np.asarray(values, dtype=float)[inside]
    return table


def climate(table: Array, first_year: int, least_share: float, whole: Whole) -> Climate:
    """
    Normals and anomalies of one quantity.

    Parameters
    ----------
    table : numpy.ndarray, shape (year, 12)
        From :func:`table_of`.
    first_year : int
        Of its first row.
    least_share : float
        Share of the years that a normal needs. [1]
    whole : str
        How a year follows from its months: ``mean`` weighted by their lengths, ``sum``, or
        ``none`` where it does not, as for ratios.

    Returns
    -------
    climate : Climate
        With what the table allows.
    """
    years = first_year + np.arange(table.shape[0])
    least = max(1, int(np.ceil(least_share * table.shape[0] - 1e-9)))
    normals = monthly_normals(table, least)
    if whole == "none":
        return Climate(years, table, normals, np.full(years.size, np.nan), np.nan)
    if whole == "sum":
        return Climate(years, table, normals, table.sum(axis=1), float(normals.mean.sum()))
    annual = mean_of_year(table, _lengths(years))
    return Climate(years, table, normals, annual, float(mean_of_year(normals.mean)))


def _lengths(years: Times) -> Array:
    """Days of the months of each year."""
    months = ((years[:, None] - 1970) * 12 + np.arange(13)).astype("M8[M]").astype("M8[D]")
    return np.diff(months.astype(np.int64), axis=1).astype(float)
