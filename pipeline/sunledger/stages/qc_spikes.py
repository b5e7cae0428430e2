"""One instrument alone leaves its neighbours in time: spikes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.physics.runs import run_length
from sunledger.physics.windows import rolling_any, rolling_count, rolling_median, rolling_range
from sunledger.stages.qc_view import Minutes
from sunledger.vocabulary import LONGWAVE

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Counts = npt.NDArray[np.int64]
Verdict = tuple[Mask, Mask]

SPIKE_HALF = 5
"""Minutes on either side of the median that a spike leaves; twice as many for the usual scatter."""
OTHERS_SHARE = 0.35
"""By how much of a spike's height another component may move with it. [1]"""
SPIKE_REACH = 3600
"""Two windows, one after the other, and the run. [s]"""


@dataclass(frozen=True)
class Departure:
    """
    How far each interval departs from its neighbourhood.

    Parameters
    ----------
    away : numpy.ndarray, shape (time,)
        Departure from the median. [W m-2]
    usual : numpy.ndarray, shape (time,)
        Its usual size there; NaN where the departure is none by any measure. [W m-2]
    known : numpy.ndarray of bool, shape (time,)
        Where the neighbourhood holds enough values for both.
    least : float
        Departure that no spread excuses. [W m-2]
    """

    away: Array
    usual: Array
    known: Mask
    least: float

    @classmethod
    def of(cls, values: Array, half: int, least: float, everywhere: bool = True) -> Departure:
        """
        Compare a series with its neighbourhood.

        Parameters
        ----------
        values : numpy.ndarray, shape (time,)
            The series. [W m-2]
        half : int
            Samples on either side of the median; twice as many for the usual size. [samples]
        least : float
            Departure that no spread excuses. [W m-2]
        everywhere : bool
            Whether departures are asked for also far from any beyond the least; else NaN there.

        Returns
        -------
        departure : Departure
            The usual size only where it is asked for: most intervals depart by nothing.
        """
        present = ~np.isnan(values)
        there = present & (rolling_count(present, half) > half)
        known = there & (rolling_count(there, 2 * half) > half)
        near = None if everywhere else rolling_any(rolling_range(values, half) > least, 2 * half)
        away = values - rolling_median(values, half, half + 1, near)
        size = np.abs(away)
        return cls(away, rolling_median(size, 2 * half, half + 1, size > least), known, least)

    def limit(self, times: float) -> Array:
        """
        Departure beyond which an interval stands out.

        Parameters
        ----------
        times : float
            The usual size so often. [1]

        Returns
        -------
        limit : numpy.ndarray, shape (time,)
            Not below the least. [W m-2]
        """
        return np.fmax(self.least, times * self.usual)


def departure_of(minutes: Minutes, quantity: str, everywhere: bool = True) -> Departure:
    """
    How far each interval departs from its neighbourhood: longwave itself, else the closure.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        A longwave quantity; any other stands for all three components.
    everywhere : bool
        As for :meth:`Departure.of`.

    Returns
    -------
    departure : Departure
        Of the longwave itself, or of what the closure leaves.
    """
    settings, sky = minutes.settings.spike, minutes.sky_or_none
    if quantity in LONGWAVE or sky is None:
        values = minutes[quantity].astype(float)
        return Departure.of(values, SPIKE_HALF, settings.least_height_longwave, everywhere)
    whole = minutes.whole_sky
    half = whole.steps(SPIKE_HALF)
    return Departure.of(whole.residual, half, settings.least_height, everywhere)


def _short(mask: Mask, longest: int) -> Mask:
    run = run_length(mask)
    return np.asarray((run > 0) & (run <= longest))


def _rise(values: Array, starts: Counts, ends: Counts) -> Array:
    """How far each run stands above the values on either side of it."""
    padded = np.concatenate(([np.nan], values, [np.nan]))
    within = (padded[starts + 1] + padded[ends]) / 2
    return np.asarray(within - (padded[starts] + padded[ends + 1]) / 2)


def _component_spikes(minutes: Minutes) -> dict[str, Verdict]:
    sky, settings = minutes.whole_sky, minutes.settings.spike
    jump = departure_of(minutes, "ghi", everywhere=False)
    # where clocks are apart a spike itself makes the light unsteady: some neighbours must be steady
    around = 2 * sky.steps(SPIKE_HALF)
    comparable = rolling_count(minutes.sky.known, around) > around // 4
    tested = jump.known & comparable
    stands_out = np.abs(jump.away) > jump.limit(settings.times_spread)
    high = _short(tested & stands_out, settings.longest)
    edges = np.diff(np.concatenate(([0], high.astype(np.int8), [0])))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    height = np.abs(_rise(sky.residual, starts, ends))
    parts = {"ghi": sky.whole, "dhi": sky.diffuse, "dni": sky.beam}
    share = {q: np.abs(_rise(v, starts, ends)) for q, v in parts.items()}
    out: dict[str, Verdict] = {}
    for quantity in parts:
        others = np.max([s for q, s in share.items() if q != quantity], axis=0)
        alone = (others < OTHERS_SHARE * height) & (height > settings.least_height)
        failed = np.zeros(high.size, bool)
        failed[high] = np.repeat(alone, ends - starts)
        out[quantity] = tested, failed
    return out


def spiking(minutes: Minutes) -> dict[str, Verdict]:
    """
    Say for each component where it alone leaves its neighbourhood.

    Parameters
    ----------
    minutes : Minutes
        The minutes, all three components among them.

    Returns
    -------
    verdicts : dict of (tested, failed)
        By quantity.
    """
    spikes: dict[str, Verdict] = minutes.once("spikes", _component_spikes)
    return spikes


def spike(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Say where one instrument alone leaves its neighbourhood for one to three minutes.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        ``ghi``, ``dhi``, ``dni`` or a longwave quantity.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None for shortwave without all three components, and for intervals above a minute.

    Notes
    -----
    A cloud moves the components together and leaves their closure; a disturbed signal moves one
    and breaks it. Longwave has no partner and must stand out of its own scatter.
    """
    if minutes.ds.attrs.get("interval", 60) > 60:
        return None
    if quantity not in LONGWAVE:
        if minutes.sky_or_none is None:
            return None
        return spiking(minutes)[quantity]
    settings = minutes.settings.spike
    jump = departure_of(minutes, quantity, everywhere=False)
    stands_out = np.abs(jump.away) > jump.limit(settings.times_spread)
    return jump.known, _short(jump.known & stands_out, settings.longest)
