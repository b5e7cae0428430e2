"""Tests of one signal by itself: frozen, contradictory, or faster than anything natural."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sunledger.physics.runs import constant_run_length
from sunledger.stages.qc_view import Minutes, scale_of
from sunledger.vocabulary import LONGWAVE, SHORTWAVE

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Verdict = tuple[Mask, Mask]

STUCK_REACH = 360 * 60
"""The longest run that a setting may ask for, on either side. [s]"""
STEP_REACH = 60 * 60
"""The next interval, of whatever length. [s]"""
ROUNDING = 0.5
"""The logger rounds mean, minimum, maximum and deviation each by itself; other light in proportion.
[W m-2]"""


def steps_beside(values: npt.ArrayLike) -> tuple[Array, Array]:
    """
    Return the changes from the interval before and to the one after.

    Parameters
    ----------
    values : array-like, shape (time,)
        Values; NaN missing.

    Returns
    -------
    before, after : numpy.ndarray, shape (time,)
        Not negative; NaN where that neighbour is not known. In the unit of the values.
    """
    change = np.abs(np.diff(np.asarray(values, dtype=float)))
    return np.concatenate(([np.nan], change)), np.concatenate((change, [np.nan]))


def stuck_value(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Say where mean, minimum, maximum and deviation all stand still for longer than is natural.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        The quantity.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        All but longwave is tested only while there is light: at night it may stand still.
    """
    if not minutes.has(f"{quantity}_fingerprint"):
        return None
    verdict: Verdict = minutes.once(f"stuck {quantity}", lambda m: _frozen(m, quantity))
    return verdict


def _frozen(minutes: Minutes, quantity: str) -> Verdict:
    settings = minutes.settings.stuck
    run = constant_run_length(minutes[f"{quantity}_fingerprint"])
    tested = ~np.isnan(minutes[quantity])
    if quantity not in LONGWAVE:
        tested &= minutes[quantity] > settings.least_irradiance * scale_of(quantity)
    return tested, tested & (run >= settings.least_run[quantity])


def spread_inconsistent(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Say where minimum, mean, maximum and deviation contradict each other.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        The quantity.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None without minimum and maximum. A deviation can never exceed half the range, and is not
        zero while the mean moves: a signal that is sampled passes through what lies between.
    """
    if not minutes.has(f"{quantity}_min", f"{quantity}_max"):
        return None
    verdict: Verdict = minutes.once(f"spread {quantity}", lambda m: _contradicts(m, quantity))
    return verdict


def _contradicts(minutes: Minutes, quantity: str) -> Verdict:
    mean, lowest, highest = (
        minutes[quantity],
        minutes[f"{quantity}_min"],
        minutes[f"{quantity}_max"],
    )
    tested = ~np.isnan(mean + lowest + highest)
    scale = scale_of(quantity)
    rounding = ROUNDING * scale
    failed = (lowest > mean + rounding) | (mean > highest + rounding)
    if minutes.has(f"{quantity}_std"):
        deviation = minutes[f"{quantity}_std"]
        failed |= (deviation < 0) | (deviation > (highest - lowest) / 2 + rounding)
        failed |= _still_but_moving(mean, deviation, minutes.settings.rate.least_step * scale)
    return tested, tested & failed


def _still_but_moving(mean: Array, deviation: Array, least: float) -> Mask:
    """Where neither of two intervals in a row knows any scatter, and their means differ."""
    still = deviation == 0.0
    jump = still[1:] & still[:-1] & (np.abs(np.diff(mean)) > least)
    out = np.zeros(mean.shape, bool)
    out[1:] |= jump
    out[:-1] |= jump
    return out


def largest_step(minutes: Minutes, quantity: str) -> float:
    """
    Largest change from one minute to the next that can be natural.

    Parameters
    ----------
    minutes : Minutes
        With settings.
    quantity : str
        An irradiance, or an air quantity that has tests.

    Returns
    -------
    step : float
        In the unit of the quantity.
    """
    settings = minutes.settings.rate
    own = {
        "air_temperature": settings.air_temperature,
        "relative_humidity": settings.relative_humidity,
        "air_pressure": settings.air_pressure,
    }
    plain = settings.shortwave if quantity in SHORTWAVE else settings.longwave
    return own.get(quantity, plain)


def changes_too_fast(minutes: Minutes, quantity: str) -> Verdict | None:
    """
    Say where a value changes from one minute to the next by more than is possible.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        An irradiance, or an air quantity that has tests.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        None for intervals above a minute. A minute that changes so on both sides fails alone; of a
        change that stays both sides fail: which is wrong it does not tell.
    """
    if minutes.ds.attrs.get("interval", 60) > 60:
        return None
    before, after = steps_beside(minutes[quantity])
    limit = largest_step(minutes, quantity)
    tested = ~(np.isnan(before) & np.isnan(after))
    from_before, to_after = before > limit, after > limit
    alone = from_before & to_after
    failed = alone.copy()
    failed[1:] |= from_before[1:] & ~alone[:-1]
    failed[:-1] |= to_after[:-1] & ~alone[1:]
    return tested, failed
