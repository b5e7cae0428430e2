"""What a reading needs of elsewhere: the sun, a pyrgeometer beside it, the nights around it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from sunledger.config.coefficients import Coefficients
from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.physics.logger_gain import true_signal
from sunledger.physics.sun import SolarPosition, solar_position, zenith_angle
from sunledger.physics.thermal_offset import offset_between_nights, offset_from_net_longwave
from sunledger.stages.signals import PositionReadings, Rows, sensitivity_at, without_over_range

Array = npt.NDArray[np.float64]


def logger_of(period: Period, position: str) -> ResolvedLogger:
    """
    The logger that reads a position.

    Parameters
    ----------
    period : Period
        Resolved configuration.
    position : str
        Such as ``direct_1``.

    Returns
    -------
    logger : ResolvedLogger
        The first that does.
    """
    return next(
        x
        for x in period.loggers
        if any(c.position == position and c.kind == "signal" for c in x.channels)
    )


def sun_at(period: Period, middle: Array) -> SolarPosition:
    """
    The sun over the station.

    Parameters
    ----------
    period : Period
        Where.
    middle : numpy.ndarray, shape (reading,)
        True middle of each reading. [s]

    Returns
    -------
    sun : SolarPosition
        Angles in degrees.
    """
    return solar_position(middle, period.latitude, period.longitude, period.altitude)


def _zenith_at(period: Period, middle: Array) -> Array:
    return zenith_angle(middle, period.latitude, period.longitude, period.altitude)


def at_same_time(values: Array, start: Array, wanted: Array, tolerance: float) -> Array:
    """
    Values of one logger for the readings of another.

    Parameters
    ----------
    values : numpy.ndarray, shape (reading,)
        Of the one.
    start : numpy.ndarray, shape (reading,)
        Its true times, in any order. [s]
    wanted : numpy.ndarray, shape (other,)
        True times of the other. [s]
    tolerance : float
        Largest distance in time. [s]

    Returns
    -------
    values : numpy.ndarray, shape (other,)
        From the nearest in time, NaN where none is near enough.
    """
    usable = np.flatnonzero(np.isfinite(start))
    order = usable[np.argsort(start[usable], kind="stable")]
    if order.size == 0:
        return np.full(wanted.shape, np.nan)
    times = start[order]
    after = np.clip(np.searchsorted(times, wanted), 0, times.size - 1)
    before = np.maximum(after - 1, 0)
    nearer = np.where(np.abs(times[before] - wanted) < np.abs(times[after] - wanted), before, after)
    near = np.abs(times[nearer] - wanted) <= tolerance
    return np.where(near, values[order[nearer]], np.nan)


def night_signal(
    mine: PositionReadings, period: Period, row: Coefficients, interval: float
) -> Array:
    """
    Signal of a pyranometer without light, from the nights before and after.

    Parameters
    ----------
    mine : PositionReadings
        Its readings.
    period : Period
        Resolved configuration.
    row : Coefficients
        Names the deployment; nights of another instrument do not count.
    interval : float
        Of the readings. [s]

    Returns
    -------
    signal : numpy.ndarray, shape (reading,)
        Zero and gain of the logger allowed for; NaN where one of the nights is missing. [uV]
    """
    own = np.zeros(mine.start.shape, bool)
    for other in period.coefficients:
        if (other.position, other.deployment) == (row.position, row.deployment):
            own |= (mine.start >= other.start) & (mine.start < other.end)
    signal = without_over_range(mine.signals["mean"])
    if mine.path is not None:
        gain, zero = mine.path
        signal = true_signal(
            signal, np.where(np.isnan(gain), 1.0, gain), np.where(np.isnan(zero), 0.0, zero)
        )
    middle = mine.start + interval / 2.0
    out = np.full(mine.start.shape, np.nan)
    zenith = _zenith_at(period, middle[own])
    out[own] = offset_between_nights(middle[own], signal[own], zenith, period.longitude)
    return out


def thermal_offset(
    mine: PositionReadings,
    period: Period,
    row: Coefficients,
    where: Rows,
    net: Callable[[str], Array],
) -> Array:
    """
    Thermal offset of the readings of one row.

    Parameters
    ----------
    mine : PositionReadings
        Readings of the pyranometer.
    period : Period
        Resolved configuration.
    row : Coefficients
        With the model of the offset.
    where : numpy.ndarray of bool, shape (reading,), or slice
        Readings of the row.
    net : callable
        From the position of a pyrgeometer, gives its thermopile term and its dome's excess
        emission for the readings of the row, shape (2, wanted). [W m-2]

    Returns
    -------
    offset : numpy.ndarray, shape (wanted,)
        NaN where it is not known; without offset model, zero. [W m-2]
    """
    model = row.corrections.thermal_offset
    if model is None:
        return np.zeros(mine.start[where].shape)
    interval = logger_of(period, row.position).interval
    start = mine.start[where]
    if model.beside is not None:
        thermopile, dome = net(model.beside)
        factors = (model.constant, model.net_longwave, model.dome_excess)
        offset = offset_from_net_longwave(thermopile, dome, factors)
    else:
        dark = night_signal(mine, period, row, interval)[where]
        offset = dark / sensitivity_at(start, row)
    if model.daylight_factor == 1.0:
        return offset
    up = _zenith_at(period, start + interval / 2.0) < 90.0
    return np.where(up, model.daylight_factor * offset, offset)
