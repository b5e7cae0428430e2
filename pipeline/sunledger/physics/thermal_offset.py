"""What a pyranometer with one black detector shows without light, by exchange of heat."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sunledger.physics.iso9060 import PYRANOMETER_CLASSES

Array = npt.NDArray[np.float64]

LARGEST_OFFSET = 30.0
"""A larger one is not believed: DOE/SC-ARM/TR-009, quoted at second hand. [W m-2]"""

NET_LONGWAVE_OF_CLASS = 200.0
"""Net thermal radiation for which ISO 9060 states zero offset a. [W m-2]"""

NIGHT_HALF_WIDTH = 3 * 3600.0
"""Around local midnight; TR-009, quoted at second hand. [s]"""

NIGHT_ZENITH = 96.0
"""The sun has to stand lower, or twilight would count as offset. Common practice. [degree]"""

LEAST_READINGS = 30
"""Of a night, for its median to count. Common practice, no source."""

DAY = 86400.0


def largest_net_longwave_factor(iso_class: str) -> float:
    """
    Largest offset a W m-2 of net longwave that a class allows.

    Parameters
    ----------
    iso_class : str
        ``A``, ``B`` or ``C``.

    Returns
    -------
    factor : float
        Zero offset a over the 200 W m-2 for which ISO 9060 states it. [1]
    """
    return PYRANOMETER_CLASSES[iso_class].zero_offset_a / NET_LONGWAVE_OF_CLASS


def offset_from_net_longwave(
    net_longwave: npt.ArrayLike, dome_excess: npt.ArrayLike, factors: tuple[float, float, float]
) -> Array:
    r"""
    Thermal offset from a pyrgeometer that stands beside the pyranometer.

    Parameters
    ----------
    net_longwave : float or array-like, shape (time,)
        Thermopile term of the pyrgeometer, negative under a cold sky. [W m-2]
    dome_excess : float or array-like, shape (time,)
        What its dome emits more than its body; not looked at where its factor is 0. [W m-2]
    factors : tuple of float
        Constant [W m-2], factor of the net longwave [1], factor of the dome's excess [1].

    Returns
    -------
    offset : numpy.ndarray, shape (time,)
        Normally negative. [W m-2]

    Notes
    -----
    .. math:: E_0 = b_0 + b_1 U/C + b_2 \sigma (T_d^4 - T_b^4)

    References
    ----------
    .. [1] E. G. Dutton et al., "Measurement of broadband diffuse solar irradiance using current
       commercial instrumentation with a correction for thermal offset errors," J. Atmos. Oceanic
       Technol., vol. 18, pp. 297-314, 2001. Form quoted at second hand.
    """
    constant, of_net, of_dome = factors
    offset = constant + of_net * np.asarray(net_longwave, dtype=float)
    return np.asarray(offset + of_dome * np.asarray(dome_excess, float) if of_dome else offset)


def nights(time: npt.ArrayLike, longitude: float) -> tuple[npt.NDArray[np.int64], Array]:
    """
    Night nearest to each time, and how far its local mean midnight is away.

    Parameters
    ----------
    time : float or array-like, shape (time,)
        [s since 1970-01-01 UTC]
    longitude : float
        Positive east. [degree]

    Returns
    -------
    night : numpy.ndarray of int64, shape (time,)
        Counted from 1970.
    after : numpy.ndarray, shape (time,)
        Time since its midnight, negative before. [s]
    """
    local = np.asarray(time, dtype=float) / DAY + longitude / 360.0
    night = np.round(local)
    return night.astype(np.int64), np.asarray((local - night) * DAY)


def offset_between_nights(
    time: npt.ArrayLike, signal: npt.ArrayLike, zenith: npt.ArrayLike, longitude: float
) -> Array:
    """
    Signal without light, from the nights before and after.

    Parameters
    ----------
    time : array-like, shape (time,)
        Of the readings, in any order. [s since 1970-01-01 UTC]
    signal : array-like, shape (time,)
        Of the pyranometer, in any unit.
    zenith : array-like, shape (time,)
        Of the sun. [degree]
    longitude : float
        Positive east. [degree]

    Returns
    -------
    offset : numpy.ndarray, shape (time,)
        Linear in time between the medians of the two nights around each reading; NaN unless both
        nights have enough dark readings. [unit of the signal]
    """
    when, values = np.asarray(time, dtype=float), np.asarray(signal, dtype=float)
    night, after = nights(when, longitude)
    dark = (np.abs(after) <= NIGHT_HALF_WIDTH) & (np.asarray(zenith) > NIGHT_ZENITH)
    dark &= np.isfinite(values)
    names, medians = _medians(night[dark], values[dark])
    local = when / DAY + longitude / 360.0
    before = np.floor(local).astype(np.int64)
    first, second = (_looked_up(before + k, names, medians) for k in (0, 1))
    return np.asarray(first + (second - first) * (local - before))


def _medians(night: npt.NDArray[np.int64], values: Array) -> tuple[npt.NDArray[np.int64], Array]:
    """Median of each night; a median does not depend on the order of the readings."""
    order = np.argsort(night, kind="stable")
    names, first, size = np.unique(night[order], return_index=True, return_counts=True)
    parts = np.split(values[order], first[1:])
    enough = size >= LEAST_READINGS
    medians = [np.median(p) if ok else np.nan for p, ok in zip(parts, enough, strict=False)]
    return names, np.asarray(medians[: names.size], dtype=float)


def _looked_up(wanted: npt.NDArray[np.int64], names: npt.NDArray[np.int64], values: Array) -> Array:
    if names.size == 0:
        return np.full(wanted.shape, np.nan)
    place = np.minimum(np.searchsorted(names, wanted), names.size - 1)
    return np.where(names[place] == wanted, values[place], np.nan)
