"""What the fault models act on: statistics of intervals, and the light at a station."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Component = Literal["ghi", "dhi", "dni", "lwd"]


@dataclass(frozen=True)
class Statistics:
    """
    Mean, minimum, maximum and standard deviation of every interval, with the arithmetic of both.

    Multiplying by a number and adding a number are exact. Adding two `Statistics` takes both to
    move together within the interval, which holds for what the same cloud causes: extremes and
    deviations add up. The deviation is then an upper bound.

    Parameters
    ----------
    mean, minimum, maximum, deviation : ndarray of float, shape (time,)
        Same unit, the deviation not negative.
    """

    mean: Floats
    minimum: Floats
    maximum: Floats
    deviation: Floats

    # Makes `array * statistics` come here instead of looping over the object.
    __array_ufunc__ = None

    def __mul__(self, factor: ArrayLike) -> Statistics:
        """Scale every interval; a negative factor turns minimum and maximum round."""
        f = np.asarray(factor, dtype=float)
        ends = (self.minimum * f, self.maximum * f)
        return Statistics(
            self.mean * f, np.minimum(*ends), np.maximum(*ends), self.deviation * np.abs(f)
        )

    __rmul__ = __mul__

    def __add__(self, other: Statistics | ArrayLike) -> Statistics:
        """Add a constant per interval, or the statistics of what varies along with this."""
        if isinstance(other, Statistics):
            return Statistics(
                self.mean + other.mean,
                self.minimum + other.minimum,
                self.maximum + other.maximum,
                self.deviation + other.deviation,
            )
        shift = np.asarray(other, dtype=float)
        return Statistics(
            self.mean + shift, self.minimum + shift, self.maximum + shift, self.deviation + 0.0
        )

    __radd__ = __add__

    def rows(self, index: NDArray[np.intp]) -> Statistics:
        """
        Statistics of chosen intervals.

        Parameters
        ----------
        index : ndarray of int, shape (n,)
            Row numbers, repeats allowed.

        Returns
        -------
        chosen : Statistics
            Of shape ``(n,)``.
        """
        return Statistics(
            self.mean[index], self.minimum[index], self.maximum[index], self.deviation[index]
        )


Values = Floats | Statistics


@dataclass(frozen=True)
class Light:
    """
    What reaches the sensors of one station.

    Parameters
    ----------
    time : ndarray, shape (time,)
        Seconds since 1970-01-01 UTC, true time. [s]
    zenith, azimuth : ndarray of float, shape (time,)
        Sun; azimuth clockwise from north. [degree]
    ghi, dhi, dni : ndarray or Statistics, shape (time,)
        What the global, the shaded and the direct instrument receive. [W m-2]
    beam : ndarray or Statistics, shape (time,)
        Direct irradiance that truly arrives, whatever `dni` has become by a fault. [W m-2]
    lwd : ndarray or Statistics, optional
        Downward longwave as the pyrgeometer receives it. [W m-2]
    emission : ndarray, optional
        Blackbody emission at the temperature of the instruments. [W m-2]
    """

    time: NDArray[Any]
    zenith: Floats
    azimuth: Floats
    ghi: Values
    dhi: Values
    dni: Values
    beam: Values
    lwd: Values | None = None
    emission: Floats | None = None

    @property
    def cos_zenith(self) -> Floats:
        """
        Cosine of the zenith angle, zero while the sun is down.

        Returns
        -------
        cos_zenith : ndarray of float, shape (time,)
            Between 0 and 1.
        """
        return np.clip(np.cos(np.radians(self.zenith)), 0.0, 1.0)

    def within(self, start: float, end: float) -> NDArray[np.bool_]:
        """
        Which times lie in a half-open period.

        Parameters
        ----------
        start, end : float
            Seconds since 1970-01-01 UTC.

        Returns
        -------
        inside : ndarray of bool, shape (time,)
            True in ``[start, end)``.
        """
        return np.asarray((self.time >= start) & (self.time < end))

    def scaled(self, component: Component, factor: Floats) -> Light:
        """
        The same light with one component multiplied.

        Parameters
        ----------
        component : {"ghi", "dhi", "dni", "lwd"}
            Which one.
        factor : ndarray of float, shape (time,)
            Factor for every time.

        Returns
        -------
        light : Light
            Changed copy.
        """
        values: Values = getattr(self, component)
        changed: dict[str, Any] = {component: values * factor}
        return replace(self, **changed)

    def raised(self, component: Component, amount: Values) -> Light:
        """
        The same light with something added to one component.

        Parameters
        ----------
        component : {"ghi", "dhi", "dni", "lwd"}
            Which one.
        amount : ndarray or Statistics, shape (time,)
            What is added. [W m-2]

        Returns
        -------
        light : Light
            Changed copy.
        """
        values: Values = getattr(self, component)
        changed: dict[str, Any] = {component: values + amount}
        return replace(self, **changed)


def elapsed_share(light: Light, start: float, end: float) -> Floats:
    """
    How much of a period has passed.

    Parameters
    ----------
    light : Light
        Gives the times.
    start, end : float
        Seconds since 1970-01-01 UTC.

    Returns
    -------
    share : ndarray of float, shape (time,)
        0 at ``start`` rising to 1 at ``end``; held outside.
    """
    elapsed = np.asarray(light.time, dtype=float) - start
    return np.clip(elapsed / (end - start), 0.0, 1.0)
