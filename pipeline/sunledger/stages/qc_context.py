"""Tests that need twins, the night, the horizon or the weather of the hours before."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sunledger.physics.moisture import dew_or_frost_settles
from sunledger.physics.runs import run_length
from sunledger.physics.windows import rolling_any, rolling_count, rolling_median
from sunledger.stages.qc_sky import Sky
from sunledger.stages.qc_view import Minutes
from sunledger.vocabulary import CONDITIONS, SHORTWAVE

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Counts = npt.NDArray[np.int64]
Verdict = tuple[Mask, Mask]

FROST_REACH = 12 * 3600 + 2 * 3600
"""Hours of humidity that a setting may ask for, and the window around them. [s]"""


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
    highest, lowest = (
        np.where(known, values, -np.inf).max(0),
        np.where(known, values, np.inf).min(0),
    )
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
