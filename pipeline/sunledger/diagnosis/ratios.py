"""Global over component sum under clear and under dull skies, day by day."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.grouped import counted, distinct, medians
from sunledger.diagnosis.selection import LARGEST_ZENITH, Components, steady_clear
from sunledger.physics.closure import component_sum

Array = npt.NDArray[np.float64]
Days = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]

LARGEST_LOG = 1.0
"""Logarithms of the ratio beyond belong to gross faults. [1]"""
DULL_SHARE = 0.6
"""Least share of diffuse in the component sum of an hour that counts as dull. [1]"""
DULL_LEAST = 60.0
"""Least component sum of a dull hour: below, night offsets weigh too much. [W m-2]"""
DULL_ZENITH = 75.0
"""[degree]"""
HOUR, LEAST_OF_AN_HOUR = 3600, 0.8
"""Length of what is summed [s], and the share of it that must be known."""
LEAST_OF_A_DAY = 30
"""Clear minutes that a day must have to count."""
BIN = 5.0
"""Width of the bins of zenith angle in which two stretches are compared. [degree]"""


@dataclass(frozen=True)
class Ratios:
    """
    Minutes, or sums over an hour, under one kind of sky.

    Parameters
    ----------
    middle : numpy.ndarray, shape (sample,)
        [s since 1970-01-01]
    day : numpy.ndarray of int64, shape (sample,)
        Local solar day.
    zenith, azimuth : numpy.ndarray, shape (sample,)
        Of the sun. [degree]
    share : numpy.ndarray, shape (sample,)
        Diffuse over the component sum. [1]
    log_ratio : numpy.ndarray, shape (sample,)
        Natural logarithm of global over the component sum; 0.02 is two percent. [1]
    """

    middle: Array
    day: Days
    zenith: Array
    azimuth: Array
    share: Array
    log_ratio: Array

    def where(self, chosen: Mask) -> Ratios:
        """
        Some of the minutes.

        Parameters
        ----------
        chosen : numpy.ndarray of bool, shape (sample,)
            Which.

        Returns
        -------
        ratios : Ratios
            Those, in order.
        """
        at = np.flatnonzero(chosen)
        return Ratios(*(getattr(self, name).take(at) for name in self.__dataclass_fields__))

    @cached_property
    def bins(self) -> npt.NDArray[np.int64]:
        """
        Bin of zenith angle and half of the day of each minute.

        Returns
        -------
        bins : numpy.ndarray of int64, shape (sample,)
            Even before noon, odd after. Where the sun passes north the halves are the same.
        """
        west = np.sin(np.radians(self.azimuth)) < 0
        return np.asarray(2 * np.floor(self.zenith / BIN).astype(np.int64) + west)


def sky_ratios(parts: Components) -> tuple[Ratios, Ratios]:
    """
    Ratios of the clear steady minutes and of the dull hours.

    Parameters
    ----------
    parts : Components
        The month.

    Returns
    -------
    clear, dull : Ratios
        Dull: sums over an hour in which diffuse outweighs direct. The instruments stand some metres
        apart, so that under broken cloud only sums agree. Own limits, without a source.
    """
    sun = parts.sun
    high = np.flatnonzero(sun.zenith < max(LARGEST_ZENITH, DULL_ZENITH))
    zenith, whole, diffuse = (v[high] for v in (sun.zenith, parts.ghi, parts.dhi))
    place = (parts.middle[high], parts.day[high], zenith, sun.azimuth[high])
    total = component_sum(diffuse, parts.dni[high], np.maximum(parts.cosine[high], 0.0))
    every = _ratios(place, diffuse, total, whole)
    clear = steady_clear(parts, sun.zenith, parts.clear_sky)[high]
    clear &= np.abs(every.log_ratio) < LARGEST_LOG
    usable = np.isfinite(whole + total) & parts.usable[high] & (zenith < DULL_ZENITH)
    return every.where(clear), _dull_hours(every, (diffuse, total, whole), usable, parts.interval)


Place = tuple[Array, Days, Array, Array]
"""Middle, day, zenith, azimuth."""


def _ratios(place: Place, diffuse: Array, total: Array, whole: Array) -> Ratios:
    fit = (total > 0) & (whole > 0)
    safe = np.where(fit, total, 1.0)
    log_ratio = np.where(fit, np.log(np.where(fit, whole, 1.0) / safe), np.inf)
    return Ratios(*place, np.where(fit, diffuse, 1.0) / safe, log_ratio)


def _dull_hours(
    every: Ratios, sums: tuple[Array, Array, Array], usable: Mask, interval: int
) -> Ratios:
    hours, place, count = distinct(every.middle[usable] // HOUR)
    means = [np.bincount(place, v[usable], hours.size) / np.maximum(count, 1) for v in sums]
    first = np.flatnonzero(usable)[np.searchsorted(place, np.arange(hours.size))]
    where = (every.middle[first], every.day[first], every.zenith[first], every.azimuth[first])
    found = _ratios(where, *means)
    whole = count * interval >= LEAST_OF_AN_HOUR * HOUR
    dull = whole & (found.share > DULL_SHARE) & (means[1] > DULL_LEAST)
    return found.where(dull & (np.abs(found.log_ratio) < LARGEST_LOG))


@dataclass(frozen=True)
class DayValues:
    """
    One number a day.

    Parameters
    ----------
    day : numpy.ndarray of int64, shape (day,)
        Local solar days, rising.
    value : numpy.ndarray, shape (day,)
        Median of the day. [1]
    minutes : numpy.ndarray of int64, shape (day,)
        Samples that each rests on.
    share : float
        Mean diffuse share of all minutes. [1]
    """

    day: Days
    value: Array
    minutes: npt.NDArray[np.int64]
    share: float


def usual_by_bin(ratios: Ratios) -> dict[int, float]:
    """
    What each bin of the sun's position usually shows.

    Parameters
    ----------
    ratios : Ratios
        A stretch without a change.

    Returns
    -------
    usual : dict of float
        Bin → median of the logarithm; bins with fewer minutes than a day must have are left out.
    """
    order = np.argsort(ratios.bins, kind="stable")
    found, count = counted(ratios.bins[order])
    usual = medians(ratios.log_ratio[order], count)
    enough = count >= LEAST_OF_A_DAY
    return dict(zip(found[enough].tolist(), usual[enough].tolist(), strict=True))


def day_values(
    ratios: Ratios, usual: dict[int, float] | None = None, least: int = LEAST_OF_A_DAY
) -> DayValues:
    """
    Medians by days, less what the same positions of the sun usually show.

    Parameters
    ----------
    ratios : Ratios
        Minutes.
    usual : dict of float or None
        From :func:`usual_by_bin`; minutes in other bins are left out. None: nothing is taken off.
    least : int
        Samples that a day must have.

    Returns
    -------
    values : DayValues
        Of the days with enough minutes.
    """
    day, values, share = ratios.day, ratios.log_ratio, ratios.share
    if usual is not None:
        less = _less(ratios.bins, usual)
        at = np.flatnonzero(~np.isnan(less))
        day, values, share = day[at], values[at] - less[at], share[at]
    days, count = counted(day)
    enough = count >= least
    kept = np.repeat(enough, count)
    level = medians(values[kept], count[enough])
    mean = float(share.mean()) if share.size else float("nan")
    return DayValues(days[enough], level, count[enough], mean)


def _less(bins: npt.NDArray[np.int64], usual: dict[int, float]) -> Array:
    """What the bin of each minute usually shows; NaN in other bins."""
    table = np.full(max([*usual, int(bins.max(initial=0))]) + 1, np.nan)
    table[list(usual)] = list(usual.values())
    return np.asarray(table[bins])
