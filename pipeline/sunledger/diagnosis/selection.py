"""The clear, steady minutes of a month, in which closure can be measured."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from sunledger.physics.clear_sky import clear_sky
from sunledger.physics.closure import closure_residual
from sunledger.physics.kept_sun import kept_solar_position
from sunledger.physics.sun import SolarPosition, extraterrestrial_normal
from sunledger.physics.windows import rolling_range

Array = npt.NDArray[np.float64]
Days = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]

LARGEST_ZENITH = 80.0
"""Below, refraction and directional response outweigh the rest. [degree]"""
HALF_WINDOW = 180
"""A minute is steady by what lies this near to it. [s]"""
STEADY_SHARE = 0.03
"""Largest range within the window, as a share of what a clear sky gives."""
LEAST_BEAM = 0.4
"""Least direct, as a share of what a clear sky gives."""
STEADY_HALF = 120
"""The same where closure is fitted: shorter, so that broken days keep their clear spells. [s]"""
STEADY_DIRECT, STEADY_DIFFUSE = 0.06, 0.15
"""Largest range within that window, as a share of the value itself."""
LEAST_SHARE, LEAST_DIRECT = 0.3, 150.0
"""Least direct there, as a share of a clear sky's and by itself. [1, W m-2]"""
LARGEST_MISFIT = 0.25
"""A global farther than this from the component sum, relative to it, is another fault."""
DAY = 86400


@dataclass(frozen=True)
class Components:
    """
    Three components of a month side by side, of one regular grid.

    Parameters
    ----------
    middle : numpy.ndarray, shape (time,)
        True middle of each interval, UTC. [s since 1970-01-01]
    interval : int
        [s]
    ghi, dhi, dni : numpy.ndarray, shape (time,)
        Global, diffuse and direct normal; NaN where unknown. [W m-2]
    usable : numpy.ndarray of bool, shape (time,)
        False where the record says that the platform was disturbed, or clocks are apart.
    latitude, longitude : float
        North and east positive. [degree]
    altitude : float
        [m]
    """

    middle: Array
    interval: int
    ghi: Array
    dhi: Array
    dni: Array
    usable: Mask
    latitude: float
    longitude: float
    altitude: float

    @cached_property
    def sun(self) -> SolarPosition:
        """
        Where the sun stands in the middle of each interval, found once for all checks.

        Returns
        -------
        sun : SolarPosition
            At the site; shape (time,).
        """
        return kept_solar_position(self.middle, self.latitude, self.longitude, self.altitude)

    @cached_property
    def cosine(self) -> Array:
        """
        Cosine of the zenith angle.

        Returns
        -------
        cosine : numpy.ndarray, shape (time,)
            Negative with the sun down. [1]
        """
        return np.asarray(np.cos(np.radians(self.sun.zenith)))

    @cached_property
    def day(self) -> Days:
        """
        Local solar day of each interval.

        Returns
        -------
        day : numpy.ndarray of int64, shape (time,)
            From :func:`solar_day`.
        """
        return solar_day(self.middle, self.longitude)

    @cached_property
    def clear_sky(self) -> tuple[Array, Array]:
        """
        What a clear sky would give.

        Returns
        -------
        direct, whole : numpy.ndarray, shape (time,)
            Normal to the beam, and global; 0 with the sun down. [W m-2]
        """
        outside = extraterrestrial_normal(self.sun.distance)
        return clear_sky(self.sun.zenith, outside, self.altitude)


@dataclass(frozen=True)
class ClearMinutes:
    """
    Clear steady minutes.

    Parameters
    ----------
    middle : numpy.ndarray, shape (sample,)
        True middle. [s since 1970-01-01]
    day : numpy.ndarray of int64, shape (sample,)
        Local solar day, counted from 1970-01-01.
    zenith, azimuth : numpy.ndarray, shape (sample,)
        Of the sun. [degree]
    ghi, dhi, dni : numpy.ndarray, shape (sample,)
        [W m-2]
    residual : numpy.ndarray, shape (sample,)
        Global less component sum. [W m-2]
    """

    middle: Array
    day: Days
    zenith: Array
    azimuth: Array
    ghi: Array
    dhi: Array
    dni: Array
    residual: Array

    @cached_property
    def columns(self) -> Array:
        """
        Regressors of closure: responsivity, lean to the east, lean to the north.

        Returns
        -------
        columns : numpy.ndarray, shape (sample, 3)
            Direct times ``cos z``, ``sin z sin A``, ``sin z cos A``: a coefficient is a relative
            error of the global on the direct, and the sines of two small leans. [W m-2]
        """
        return closure_columns(self.dni, self.zenith, self.azimuth)


def closure_columns(dni: Array, zenith: Array, azimuth: Array) -> Array:
    """
    Regressors of closure for any assumed sun.

    Parameters
    ----------
    dni : numpy.ndarray, shape (sample,)
        Direct normal. [W m-2]
    zenith, azimuth : numpy.ndarray, shape (sample,)
        Of the sun. [degree]

    Returns
    -------
    columns : numpy.ndarray, shape (sample, 3)
        See :attr:`ClearMinutes.columns`. [W m-2]
    """
    z, a = np.radians(zenith), np.radians(azimuth)
    flat = np.sin(z)
    columns = np.empty((dni.size, 3))
    parts = (np.cos(z), flat * np.sin(a), flat * np.cos(a))
    for place, part in enumerate(parts):
        columns[:, place] = dni * part
    return columns


def solar_day(time: Array, longitude: float) -> Days:
    """
    Local solar day of instants.

    Parameters
    ----------
    time : numpy.ndarray
        UTC. [s since 1970-01-01]
    longitude : float
        East positive. [degree]

    Returns
    -------
    day : numpy.ndarray of int64
        Days since 1970-01-01 of local mean time, so that no day's light is parted.
    """
    return np.floor((np.asarray(time) + longitude * 240.0) / DAY).astype(np.int64)


def steady_clear(parts: Components, zenith: Array, sky: tuple[Array, Array]) -> Mask:
    """
    Say which minutes are clear and steady.

    Parameters
    ----------
    parts : Components
        The month.
    zenith : numpy.ndarray, shape (time,)
        Of the sun. [degree]
    sky : tuple of numpy.ndarray, each of shape (time,)
        Direct and global of a clear sky. [W m-2]

    Returns
    -------
    clear : numpy.ndarray of bool, shape (time,)
        Sun higher than ``LARGEST_ZENITH`` allows, direct at least ``LEAST_BEAM`` of a clear
        sky's, and all three components, over what a clear sky gives, within ``STEADY_SHARE``
        for ``HALF_WINDOW`` on either side.
    """
    up = zenith < LARGEST_ZENITH
    beam, whole = (np.where(up, clear, np.nan) for clear in sky)
    half = max(1, HALF_WINDOW // parts.interval)
    shares = (parts.dni / beam, parts.dhi / whole, parts.ghi / whole)
    steady = np.all([rolling_range(s, half) < STEADY_SHARE for s in shares], axis=0)
    known = np.isfinite(parts.ghi + parts.dhi + parts.dni) & parts.usable
    return np.asarray(up & steady & known & (shares[0] > LEAST_BEAM))


def steady_beam(parts: Components, zenith: Array, clear: Array) -> Mask:
    """
    Say in which minutes the beam is there and keeps still, for the fit of closure.

    Parameters
    ----------
    parts : Components
        The month.
    zenith : numpy.ndarray, shape (time,)
        Of the sun. [degree]
    clear : numpy.ndarray, shape (time,)
        Direct of a clear sky. [W m-2]

    Returns
    -------
    steady : numpy.ndarray of bool, shape (time,)
        Sun higher than ``LARGEST_ZENITH`` allows, direct at least ``LEAST_DIRECT`` and
        ``LEAST_SHARE`` of a clear sky's, direct and diffuse within ``STEADY_DIRECT`` and
        ``STEADY_DIFFUSE`` of themselves for ``STEADY_HALF`` on either side. Wider than
        :func:`steady_clear`: what counts for lean and clock are many days with morning and
        afternoon. Own limits, without a source.
    """
    up = zenith < LARGEST_ZENITH
    beam = np.where(up, clear, np.nan)
    half = max(1, STEADY_HALF // parts.interval)
    steady = rolling_range(parts.dni, half) < STEADY_DIRECT * parts.dni
    steady &= rolling_range(parts.dhi, half) < STEADY_DIFFUSE * parts.dhi
    known = np.isfinite(parts.ghi + parts.dhi + parts.dni) & parts.usable
    strong = parts.dni > np.maximum(LEAST_SHARE * beam, LEAST_DIRECT)
    return np.asarray(up & steady & known & strong)


def clear_minutes(parts: Components) -> ClearMinutes:
    """
    Select the clear steady minutes of a month.

    Parameters
    ----------
    parts : Components
        The month.

    Returns
    -------
    clear : ClearMinutes
        In order of time. Minutes whose global is far from the component sum are left out: they are
        another fault's.
    """
    sun = parts.sun
    chosen = steady_beam(parts, sun.zenith, parts.clear_sky[0])
    residual = closure_residual(parts.ghi, parts.dhi, parts.dni, parts.cosine)
    total = np.maximum(parts.ghi - residual, 1.0)
    chosen &= np.abs(residual) < LARGEST_MISFIT * total
    at = np.flatnonzero(chosen)
    return ClearMinutes(
        parts.middle[at],
        parts.day[at],
        sun.zenith[at],
        sun.azimuth[at],
        parts.ghi[at],
        parts.dhi[at],
        parts.dni[at],
        residual[at],
    )
