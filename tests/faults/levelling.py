"""A pyranometer out of level."""

from __future__ import annotations

import numpy as np

from faults.readings import Floats, Light


def cosine_change(zenith: Floats, azimuth: Floats, size: float, toward: float) -> Floats:
    """
    Cosine of the angle on a tilted receiver less that on a level one.

    Parameters
    ----------
    zenith, azimuth : ndarray of float, shape (time,)
        Sun; azimuth clockwise from north. [degree]
    size : float
        Tilt. [degree]
    toward : float
        Azimuth of the lowered edge, where the receiver looks. [degree]

    Returns
    -------
    change : ndarray of float, shape (time,)
        Both cosines taken as zero where negative.
    """
    z, a = np.radians(zenith), np.radians(azimuth)
    e, lowered = np.radians(size), np.radians(toward)
    tilted = np.cos(z) * np.cos(e) + np.sin(z) * np.sin(e) * np.cos(a - lowered)
    return np.asarray(np.maximum(tilted, 0.0) - np.maximum(np.cos(z), 0.0))


def level_out(
    light: Light, start: float, end: float, size: float = 1.0, toward: float = 90.0
) -> Light:
    """
    Global pyranometer tilted at once, until it is levelled.

    The sky's share is left alone: its change is second order in the tilt.

    Parameters
    ----------
    light : Light
        Light without the fault.
    start, end : float
        When it was tilted and when levelled. [s]
    size : float
        Tilt. [degree]
    toward : float
        Azimuth of the lowered edge. [degree]

    Returns
    -------
    light : Light
        `ghi` changed.
    """
    change = cosine_change(light.zenith, light.azimuth, size, toward)
    return light.raised("ghi", light.beam * np.where(light.within(start, end), change, 0.0))
