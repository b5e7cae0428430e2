"""Responsivity of an instrument from the time it stood beside a reference.

Signals and reference irradiances are taken in series of some minutes, and the responsivity of a
series is the sum of its signals over the sum of its irradiances. This form, and the rule that
single readings whose ratio is a few percent off their series's are left out, are those of outdoor
comparisons after ISO 9847 and ISO 9846 as remembered: neither text was at hand.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Kept:
    """
    What a comparison rests on once outliers are left out.

    Parameters
    ----------
    readings : numpy.ndarray of bool, shape (reading,)
        Readings that count.
    responsivity : numpy.ndarray, shape (series,)
        NaN where no reading of the series counts. [signal a unit of irradiance]
    """

    readings: Mask
    responsivity: Array


def _sums(values: Array, series: Numbers, size: int) -> Array:
    return np.asarray(np.bincount(series, weights=values, minlength=size), float)


def departure_from_line(values: Array, time: Array, series: Numbers, size: int) -> Array:
    """
    How far each series departs from a straight line in time.

    Parameters
    ----------
    values : numpy.ndarray, shape (reading,)
        Irradiance. [W m-2]
    time : numpy.ndarray, shape (reading,)
        Of the readings. [s]
    series : numpy.ndarray of int, shape (reading,)
        Number of each reading's series, from 0.
    size : int
        Number of series.

    Returns
    -------
    departure : numpy.ndarray, shape (series,)
        Standard deviation of the residuals over the mean, two degrees of freedom taken by the
        line; NaN for series of fewer than three readings. [1]
    """
    count = np.bincount(series, minlength=size).astype(float)
    enough = np.where(count > 2, count, np.nan)
    mean, middle = (_sums(v, series, size) / enough for v in (values, time))
    across, along = values - mean[series], time - middle[series]
    spread = _sums(along**2, series, size)
    slope = _sums(along * across, series, size) / np.where(spread > 0, spread, np.nan)
    rest = across - slope[series] * along
    return np.asarray(np.sqrt(_sums(rest**2, series, size) / (enough - 2.0)) / mean)


def responsivities(signal: Array, reference: Array, series: Numbers, size: int) -> Array:
    """
    Responsivity of each series.

    Parameters
    ----------
    signal : numpy.ndarray, shape (reading,)
        [uV]
    reference : numpy.ndarray, shape (reading,)
        Irradiance of the reference. [W m-2]
    series : numpy.ndarray of int, shape (reading,)
        Number of each reading's series, from 0.
    size : int
        Number of series.

    Returns
    -------
    responsivity : numpy.ndarray, shape (series,)
        Sum of the signals over sum of the irradiances; NaN for a series without reading.
        [uV W-1 m2]
    """
    light = _sums(reference, series, size)
    safe = np.where(light > 0, light, np.nan)
    return np.asarray(_sums(signal, series, size) / safe)


def _medians(values: Array, series: Numbers, size: int) -> Array:
    """Median of each series, NaN for one without a value; all values finite."""
    ordered = values[np.lexsort((values, series))]
    count = np.bincount(series, minlength=size)
    first = np.cumsum(count) - count
    if ordered.size == 0:
        return np.full(size, np.nan)
    places = [np.clip(first + half, 0, ordered.size - 1) for half in ((count - 1) // 2, count // 2)]
    middle = (ordered[places[0]] + ordered[places[1]]) / 2.0
    return np.asarray(np.where(count > 0, middle, np.nan))


def without_outliers(
    signal: Array, reference: Array, series: Numbers, size: int, largest: float
) -> Kept:
    """
    Leave out readings whose ratio departs from the median ratio of their series.

    Parameters
    ----------
    signal, reference : numpy.ndarray, shape (reading,)
        [uV], [W m-2]
    series : numpy.ndarray of int, shape (reading,)
        Number of each reading's series, from 0.
    size : int
        Number of series.
    largest : float
        Largest relative departure. [1]

    Returns
    -------
    kept : Kept
        About the median, and not about the series's own responsivity as the standards have it
        (from memory): a single far reading does not draw the limit with it.
    """
    usable = np.isfinite(signal) & np.isfinite(reference) & (reference > 0)
    ratio = np.where(usable, signal, 0.0) / np.where(usable, reference, 1.0)
    middle = _medians(ratio[usable], series[usable], size)
    keep = usable & (np.abs(ratio / middle[series] - 1.0) <= largest)
    return Kept(keep, responsivities(signal[keep], reference[keep], series[keep], size))


def near_the_median(responsivity: Array, largest: float) -> Mask:
    """
    Which series agree with the middle one.

    Parameters
    ----------
    responsivity : numpy.ndarray, shape (series,)
        NaN for a series that does not count.
    largest : float
        Largest relative departure from the median. [1]

    Returns
    -------
    near : numpy.ndarray of bool, shape (series,)
        False where the responsivity is NaN.
    """
    if np.isnan(responsivity).all():
        return np.zeros(responsivity.shape, bool)
    middle = np.nanmedian(responsivity)
    return np.asarray(np.abs(responsivity / middle - 1.0) <= largest)


def mean_of_days(responsivity: Array, day: Numbers) -> tuple[float, float, int]:
    """
    Mean responsivity, how uncertain the scatter of days leaves it, and its degrees of freedom.

    Parameters
    ----------
    responsivity : numpy.ndarray, shape (series,)
        Of the series that count.
    day : numpy.ndarray of int, shape (series,)
        Day of each, as any number.

    Returns
    -------
    mean : float
        Mean over the days of the mean of their series: series of one day share its air mass,
        temperature and dirt, so that they are not independent.
    standard_uncertainty : float
        Standard deviation of the days' means over the root of their number (JCGM 100:2008, 4.2.3).
    degrees : int
        Number of days less one.

    Raises
    ------
    ValueError
        If there are fewer than two days.
    """
    _, place = np.unique(day, return_inverse=True)
    means = np.bincount(place, weights=responsivity) / np.bincount(place)
    if means.size < 2:
        raise ValueError(f"needs series of at least two days (got {means.size})")
    scatter = float(np.std(means, ddof=1) / np.sqrt(means.size))
    return float(np.mean(means)), scatter, means.size - 1
