"""Tests that need neighbours, twins, the night, the horizon or the weather of the hours before."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.physics.moisture import dew_or_frost_settles
from sunledger.physics.runs import run_length
from sunledger.physics.windows import rolling_any, rolling_count, rolling_median
from sunledger.stages.qc_sky import Sky
from sunledger.stages.qc_view import Minutes
from sunledger.vocabulary import CONDITIONS, LONGWAVE, SHORTWAVE

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
FROST_REACH = 12 * 3600 + 2 * 3600
"""Hours of humidity that a setting may ask for, and the window around them. [s]"""


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
    def of(cls, values: Array, half: int, least: float) -> Departure:
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

        Returns
        -------
        departure : Departure
            The usual size only where it is asked for: most intervals depart by nothing.
        """
        away = values - rolling_median(values, half, half + 1)
        there = ~np.isnan(away)
        known = there & (rolling_count(there, 2 * half) > half)
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


def departure_of(minutes: Minutes, quantity: str) -> Departure:
    """
    How far each interval departs from its neighbourhood: longwave itself, else the closure.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        A longwave quantity; any other stands for all three components.

    Returns
    -------
    departure : Departure
        Of the longwave itself, or of what the closure leaves.
    """
    settings, sky = minutes.settings.spike, minutes.sky_or_none
    if quantity in LONGWAVE or sky is None:
        values = minutes[quantity].astype(float)
        return Departure.of(values, SPIKE_HALF, settings.least_height_longwave)
    whole = minutes.whole_sky
    return Departure.of(whole.residual, whole.steps(SPIKE_HALF), settings.least_height)


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
    jump = departure_of(minutes, "ghi")
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
    jump = departure_of(minutes, quantity)
    stands_out = np.abs(jump.away) > jump.limit(settings.times_spread)
    return jump.known, _short(jump.known & stands_out, settings.longest)


def night_offset_large(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Compare the signal of the night with the zero offset that the instrument's class allows.

    Parameters
    ----------
    minutes : Minutes
        The minutes, with the class's offset.
    quantity : str
        A shortwave quantity.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None where no class is recorded. Runs only at night.
    """
    allowed = minutes.zero_offset.get(quantity)
    if allowed is None:
        return None
    settings = minutes.settings.night
    night = minutes.zenith(quantity) > settings.least_zenith
    value = np.where(night, minutes[quantity].astype(float), np.nan)
    tested = ~np.isnan(value) & ~np.isnan(allowed)
    large = tested & (np.abs(value) > allowed)
    middle = rolling_median(value, minutes.steps(settings.window), wanted=large)
    return tested, large & (np.abs(middle) > allowed)


def twins_disagree(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Compare all instruments that measure the same quantity.

    Parameters
    ----------
    minutes : Minutes
        The minutes, with ``<quantity>_at_<position>``.
    quantity : str
        The quantity.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None where only one instrument measures it.
    """
    head = f"{quantity}_at_"
    names = [str(n) for n in minutes.ds if str(n).startswith(head)]
    plain = [n for n in names if f"{n}_conditions" in minutes.ds]
    if len(plain) < 2:
        return None
    values = np.stack([minutes[n].astype(float) for n in plain])
    known = ~np.isnan(values)
    tested = known.sum(axis=0) >= 2
    highest = np.where(known, values, -np.inf).max(axis=0)
    lowest = np.where(known, values, np.inf).min(axis=0)
    settings = minutes.settings.twins
    limit = np.maximum(settings.least_difference, settings.largest_difference * np.abs(highest))
    apart = tested & (np.where(tested, highest, 0.0) - np.where(tested, lowest, 0.0) > limit)
    return tested, apart & (run_length(apart) >= settings.least_run)


def zenith_changes_fast(minutes: Minutes, quantity: str) -> Verdict:
    """
    Say where the sun is so low that its zenith angle changes much within the interval.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        ``ghi``, ``dhi`` or ``dni``.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        Runs while the sun is up. It informs: the measurement may be right, but what is compared
        with the angle at the middle of the interval cannot be relied on.
    """
    cosine = minutes[f"{quantity}_cosine_zenith"]
    tested = ~np.isnan(minutes[quantity]) & (cosine > 0.0)
    change = np.abs(np.gradient(cosine)) if cosine.size > 1 else np.zeros(cosine.size)
    return tested, tested & (change > minutes.settings.low_sun.largest_change * cosine)


def soiled(minutes: Minutes, quantity: str) -> Verdict:
    """
    Say where the record knows a soiling that a cleaning has ended.

    Parameters
    ----------
    minutes : Minutes
        The minutes, with the conditions from the record.
    quantity : str
        Any quantity.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        Runs only where the record knows of one, so that it does not matter how time was cut;
        shortwave by day only: a loss needs light.
    """
    words = minutes[f"{quantity}_conditions"].astype(np.int32)
    known = (words & CONDITIONS["soiling_recorded"].mask) != 0
    known &= ~np.isnan(minutes[quantity])
    if quantity in SHORTWAVE:
        known &= minutes.zenith(quantity) < 90.0
    return known, known


def below_horizon_profile(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Say where the sun stands behind the recorded skyline.

    Parameters
    ----------
    minutes : Minutes
        The minutes, with the skyline's elevation at the sun's azimuth.
    quantity : str
        ``ghi``, ``dhi`` or ``dni``: the verdict is the same for all.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None without a recorded skyline. Runs while the sun is above the level horizon.
    """
    if minutes.skyline is None:
        return None
    elevation = 90.0 - minutes["solar_zenith_angle"]
    tested = ~np.isnan(minutes.skyline) & (elevation > 0.0)
    return tested, tested & (elevation < minutes.skyline)


def _moist_before(minutes: Minutes, steps: int, least: float) -> Mask:
    """
    Where dew or frost could settle within so many steps before.

    The air was nearly saturated, or a dome at or below its dew or frost point: that of the
    pyrgeometer, where it is measured, stands for the one beside it.
    """
    humidity, dome = minutes["relative_humidity"], "lwd_dome_temperature"
    wet = humidity >= least
    if minutes.has(dome, "air_temperature"):
        wet |= dew_or_frost_settles(minutes[dome], minutes["air_temperature"], humidity)
    total = np.concatenate(([0], np.cumsum(wet)))
    index = np.arange(wet.size)
    return np.asarray(total[index + 1] > total[np.maximum(index - steps, 0)])


def _iced(sky: Sky, minutes: Minutes) -> Verdict:
    settings = minutes.settings.frost
    steps = sky.steps(60 * settings.hours_before)
    total = sky.diffuse + sky.beam
    morning = (sky.azimuth < 180.0) & (sky.zenith > settings.smallest_zenith)
    tested = sky.known & morning & (sky.zenith < 88.0) & (total > 20.0)
    tested &= ~np.isnan(minutes["relative_humidity"])
    lost = tested & (sky.residual < -settings.least_loss * total)
    # what is missing from the global and nothing else: the sum is no more than a clear sky gives
    lost &= total < 1.1 * sky.clear_global
    half = sky.steps(settings.window)
    often = rolling_count(lost, half) >= settings.least_share * rolling_count(tested, half)
    often &= rolling_count(lost, half) > half // 2
    iced = lost & often & _moist_before(minutes, steps, settings.least_humidity)
    # frost does not come and go: a minute between two frosted ones that loses anything is frosted
    between = ~rolling_any(~rolling_any(iced, half), half)
    return tested, iced | (tested & between & (sky.residual < 0))


def frost_or_ventilation(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Say where the ventilator stands, or frost or dew on the dome takes light from the global.

    Parameters
    ----------
    minutes : Minutes
        The minutes, with what the ventilator status says.
    quantity : str
        Any quantity; frost itself is looked for on the global only.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None without ventilator status and, for the global, without humidity or a component.
    """
    still = minutes.unventilated.get(quantity)
    iced: Verdict | None = None
    if quantity == "ghi" and minutes.has("relative_humidity") and minutes.sky_or_none is not None:
        iced = _iced(minutes.whole_sky, minutes)
    if still is None:
        return iced
    everywhere = np.ones(still.size, bool)
    return (everywhere, still) if iced is None else (everywhere, still | iced[1])
