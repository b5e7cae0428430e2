"""How far the minutes of a logger may lie beside their time, worked out once for all it reads."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.physics.changing_light import displaced_share
from sunledger.stages.on_record import clock_half_width

Array = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]


class Lasting(NamedTuple):
    """
    What of a displacement lasts, clock and lag apart.

    Parameters
    ----------
    share : numpy.ndarray of float32, shape (minute,)
        Displacement by the interval, at most 1. [1]
    clock, lag : numpy.ndarray of float32, shape (minute,)
        Roots of the parts of it, so that their squares add up to 1. [1]
    """

    share: Singles
    clock: Singles
    lag: Singles


@dataclass(frozen=True)
class Timing:
    """
    By how much minutes may be displaced.

    Parameters
    ----------
    displaced : numpy.ndarray, shape (minute,)
        By the clock. [s]
    lag : float
        Time constant of the instrument. [s]
    interval : int
        Of the minutes. [s]
    """

    displaced: Array
    lag: float
    interval: int

    @cached_property
    def share(self) -> Array:
        """
        Share of each interval that is not common with the displaced one.

        Returns
        -------
        share : numpy.ndarray, shape (minute,)
            At most 1. [1]
        """
        return displaced_share(self.displaced + self.lag, self.interval)

    @cached_property
    def lasting(self) -> Lasting:
        """
        What lasts of it; single precision is ample.

        Returns
        -------
        lasting : Lasting
            Of every minute.
        """
        displaced = np.asarray(self.displaced, np.float32)
        late = displaced + np.float32(self.lag)
        share = np.minimum(late / self.interval, 1.0)
        part = displaced / late
        return Lasting(share, np.sqrt(part), np.sqrt(1.0 - part))

    def cut(self, where: Any) -> Timing:
        """
        Some of the minutes.

        Parameters
        ----------
        where : numpy.ndarray of bool or slice
            Which.

        Returns
        -------
        timing : Timing
            Of those.
        """
        if isinstance(where, slice) and where == slice(None):
            return self
        return Timing(self.displaced[where], self.lag, self.interval)


@dataclass(frozen=True)
class Clock:
    """
    True times of a logger's minutes and how well they are known.

    Parameters
    ----------
    residual : numpy.ndarray or None, shape (minute,)
        What it was made of. [s]
    true : numpy.ndarray, shape (minute,)
        True starts, inside the period. [s]
    displaced : numpy.ndarray, shape (minute,)
        By how much the clock allows the minutes to lie beside their time. [s]
    interval : int
        Of the minutes. [s]
    """

    residual: npt.NDArray[Any] | None
    true: Array
    displaced: Array
    interval: int
    _timings: dict[float, Timing] = field(default_factory=dict)

    @cached_property
    def bounds(self) -> tuple[float, float]:
        """
        First and last true start.

        Returns
        -------
        bounds : (float, float)
            [s]
        """
        return float(self.true.min()), float(self.true.max())

    def between(self, start: float, end: float) -> npt.NDArray[np.bool_]:
        """
        Say which minutes truly begin in a stretch of time.

        Parameters
        ----------
        start, end : float
            Half open. [s]

        Returns
        -------
        inside : numpy.ndarray of bool, shape (minute,)
            One truth value a minute.
        """
        if self.true.size and start <= self.bounds[0] and self.bounds[1] < end:
            return np.ones(self.true.shape, bool)
        return np.asarray((self.true >= start) & (self.true < end))

    def timing(self, lag: float) -> Timing:
        """
        Displacement of an instrument that this logger reads.

        Parameters
        ----------
        lag : float
            Its time constant. [s]

        Returns
        -------
        timing : Timing
            The same for all instruments of one lag.
        """
        return self._timings.setdefault(lag, Timing(self.displaced, lag, self.interval))


def clock_of(
    logger: ResolvedLogger,
    residual: npt.NDArray[Any] | None,
    time: npt.NDArray[np.int64],
    interval: int,
    period: Period,
) -> Clock:
    """
    The clock of a logger on the grid.

    Parameters
    ----------
    logger : ResolvedLogger
        With its clock segments.
    residual : numpy.ndarray or None, shape (time,)
        True start less grid time; what is not known counts as 0. [s]
    time : numpy.ndarray of int64, shape (time,)
        Rising. [s]
    interval : int
        Of the grid. [s]
    period : Period
        How an unchecked clock's error grows, and the bounds: what began a little before the period
        belongs to it.

    Returns
    -------
    clock : Clock
        Along the grid.
    """
    left = np.zeros(time.shape) if residual is None else np.array(residual, dtype=float)
    left[np.isnan(left)] = 0.0
    growth = period.processing.uncertainty.clock_growth
    displaced = np.abs(left) + clock_half_width(logger, time, growth)
    true = np.clip(time + left, period.start, period.end - 1)
    return Clock(residual, true, displaced, interval)
