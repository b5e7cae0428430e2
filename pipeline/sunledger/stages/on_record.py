"""What the record says of how far an instrument may be off: clock, age, level and soiling.

By minutes where it changes within them, one number where it does not.
"""

from __future__ import annotations

from functools import reduce
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.config.coefficients import DAY, Coefficients
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST
from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.stages.beside import logger_of

Array = npt.NDArray[np.float64]

YEAR = 365.25 * DAY
CHECK_RESOLUTION = 1.0
"""To what a clock is known between good checks. Common practice, no source. [s]"""
NEVER_CHECKED = 60.0
"""Clock error taken where no check was ever made. Common practice, no source. [s]"""


def clock_half_width(
    logger: ResolvedLogger, time: npt.NDArray[np.int64], growth: float
) -> Array | float:
    """
    How well the error of a logger's clock is known.

    Parameters
    ----------
    logger : ResolvedLogger
        With its clock segments.
    time : numpy.ndarray of int64, shape (time,)
        Rising. [s]
    growth : float
        Beyond the last check and before the first. [s d-1]

    Returns
    -------
    half_width : numpy.ndarray, shape (time,), or float
        [s]
    """
    loose = [s for s in logger.segments if not s.verified]
    if not loose:
        return CHECK_RESOLUTION
    out = np.full(time.shape, CHECK_RESOLUTION)
    for segment in loose:
        inside = slice(*np.searchsorted(time, [segment.start, segment.end]).tolist())
        away: Any = np.inf
        if segment.start > FAR_PAST:
            away = time[inside] - float(segment.start)
        if segment.end < FAR_FUTURE:
            away = np.minimum(away, segment.end - time[inside])
        out[inside] = np.minimum(CHECK_RESOLUTION + growth * away / DAY, NEVER_CHECKED)
    return out


def years_of_age(row: Coefficients, time: npt.NDArray[np.int64]) -> Array | float:
    """
    How long ago, or ahead, the nearest certificate is that the sensitivity rests on.

    Parameters
    ----------
    row : Coefficients
        With the times of its certificates.
    time : numpy.ndarray of int64, shape (time,)
        Rising. [s]

    Returns
    -------
    years : numpy.ndarray, shape (time,), or float
        At least one. [a]
    """
    points = sorted(t for t, _ in row.sensitivity_points)
    if time.size and min(max(abs(time[0] - t), abs(time[-1] - t)) for t in points) <= YEAR:
        return 1.0
    if time.size:  # of those before and of those after, the nearest alone can be the nearest of all
        ahead, past = ([t for t in points if t <= time[0]], [t for t in points if t >= time[-1]])
        inside = [t for t in points if time[0] < t < time[-1]]
        points = [*ahead[-1:], *inside, *past[:1]]
    away: Array = reduce(np.minimum, (np.abs(time - t) for t in points)) / YEAR
    return np.maximum(away, 1.0) if away.size and away.max() > 1.0 else 1.0


def tilt_on_record(period: Period, position: str, time: npt.NDArray[np.int64]) -> Array | float:
    """
    How far an instrument may lean.

    Parameters
    ----------
    period : Period
        With the intervals that level checks make doubtful.
    position : str
        Such as ``global_1``.
    time : numpy.ndarray of int64, shape (time,)
        [s]

    Returns
    -------
    tilt : numpy.ndarray, shape (time,), or float
        What a good check leaves open, or what a later one found. [degree]
    """
    mine = [r for r in period.tilts if r[0] == position]
    usual = period.processing.uncertainty.level
    if not mine:
        return usual
    out = np.full(time.shape, usual)
    for _, start, end, size in mine:
        out = np.where((time >= start) & (time < end), np.maximum(out, size), out)
    return out


def loss_on_record(
    period: Period, row: Coefficients, time: npt.NDArray[np.int64], interval: int
) -> Array | float:
    """
    Bound of the loss by soiling in every interval that a recorded or accepted one touches.

    Parameters
    ----------
    period : Period
        With the soiled times, as the condition has them.
    row : Coefficients
        The instrument.
    time : numpy.ndarray of int64, shape (time,)
        [s]
    interval : int
        [s]

    Returns
    -------
    loss : numpy.ndarray, shape (time,), or float
        0 where nothing is recorded. [percent]
    """
    logger = logger_of(period, row.position).name
    targets = {row.position, row.quantity, logger, "*"}
    mine = [r for r in period.soilings if r[0] in targets]
    if not mine:
        return 0.0
    out = np.zeros(time.shape)
    for _, start, end, bound in mine:
        inside = (time + interval > start) & (time < end)
        out = np.where(inside, np.maximum(out, bound), out)
    return out
