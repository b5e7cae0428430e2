"""Closure by azimuth of the sun: where shade, pyrheliometer or an obstacle spoil it locally."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sunledger.diagnosis.mean_of_days import DayMean, mean_of_days
from sunledger.diagnosis.ratios import BIN, Ratios, day_values

SECTOR = 15.0
"""Width of the sectors of azimuth. [degree]"""
LEAST_DAYS = 5
FULL_SECTOR_DAY = 60
"""Minutes in a sector from which a day counts fully."""
CLEAREST = 0.5
"""Share of the clear minutes of a bin of zenith angle, those with least diffuse, that count as
under the clearest skies. [1]"""


@dataclass(frozen=True)
class Sector:
    """
    How closure in one sector departs from both its neighbours.

    Parameters
    ----------
    azimuth_from : float
        Lower edge. [degree]
    departure, half_width : float
        Logarithm of global over component sum less the mean of the neighbours, with half its
        interval of 95 %. [1]
    days : int
        With enough minutes.
    share : float
        Of the month's clear minutes that lie in it. [1]
    """

    azimuth_from: float
    departure: float
    half_width: float
    days: int
    share: float


def sector_departures(clear: Ratios) -> tuple[Sector, ...]:
    """
    Departure of each sector from its neighbours.

    Parameters
    ----------
    clear : Ratios
        Clear steady minutes.

    Returns
    -------
    sectors : tuple of Sector
        By rising azimuth; those without both neighbours are left out. A lean, a clock or a
        sensitivity change closure smoothly and hardly show here.
    """
    numbers = np.floor(clear.azimuth / SECTOR).astype(int)
    levels: dict[int, DayMean] = {}
    for number in np.flatnonzero(np.bincount(numbers)).tolist():
        values = day_values(clear.where(numbers == number))
        if values.day.size >= LEAST_DAYS:
            levels[number] = mean_of_days(values.value, values.minutes, FULL_SECTOR_DAY)
    count = round(360.0 / SECTOR)
    found = []
    for number, here in levels.items():
        sides = [levels.get((number + s) % count) for s in (-1, 1)]
        if sides[0] is None or sides[1] is None:
            continue
        off = here.value - (sides[0].value + sides[1].value) / 2
        variance = here.variance + (sides[0].variance + sides[1].variance) / 4
        share = float((numbers == number).mean())
        half = 2.0 * float(np.sqrt(variance))
        found.append(Sector(number * SECTOR, off, half, here.days, share))
    return tuple(found)


def clearest(clear: Ratios) -> Ratios:
    """
    Minutes under the clearest skies.

    Parameters
    ----------
    clear : Ratios
        Clear steady minutes.

    Returns
    -------
    clearest : Ratios
        Of each bin of zenith angle the ``CLEAREST`` with the least share of diffuse: there the sun
        has no bright surroundings that could make good for a direct that is pointed badly.
    """
    bins = np.floor(clear.zenith / BIN).astype(int)
    chosen = np.zeros(bins.size, dtype=bool)
    for number in np.flatnonzero(np.bincount(bins)):
        here = np.flatnonzero(bins == number)
        share = clear.share[here]
        chosen[here] = share <= np.quantile(share, CLEAREST)
    return clear.where(chosen)


def pointing_losses(clear: Ratios) -> tuple[Sector, ...]:
    """
    What the direct lacks by sector under the clearest skies.

    Parameters
    ----------
    clear : Ratios
        Clear steady minutes.

    Returns
    -------
    losses : tuple of Sector
        Departures as a share of the direct: positive where the direct reads too little.
    """
    best = clearest(clear)
    if best.share.size == 0:
        return ()
    beam = 1.0 - float(best.share.mean())
    return tuple(
        Sector(s.azimuth_from, s.departure / beam, s.half_width / beam, s.days, s.share)
        for s in sector_departures(best)
    )
