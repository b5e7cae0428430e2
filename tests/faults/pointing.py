"""Faults of pointing: tracker, shade, pyrheliometer and what stands before it."""

from __future__ import annotations

import numpy as np

from faults.readings import Floats, Light

SUN_RATE = 15.0 / 3600.0
"""How fast the sun leaves a point fixed to the ground, at the celestial equator. [degree s-1]"""
SLOPE_ANGLE, LIMIT_ANGLE = 1.0, 4.0
"""Pyrheliometer with 2.5 degree half opening: full beam to the slope angle, none past the limit
angle (facts from memory of WMO-No. 8; a stated shape here). [degree]"""
COVERED_ANGLE, BARE_ANGLE = 2.2, 3.6
"""Angles between which the sun comes out from behind the shade, seen across the receiver's
width. [degree]"""


def _fading(angle: Floats, inner: float, outer: float) -> Floats:
    return np.clip((outer - angle) / (outer - inner), 0.0, 1.0)


def tracker_stopped(light: Light, start: float, end: float, declination: float = 0.0) -> Light:
    """
    Tracker standing still: the direct fades as the sun leaves, then the shade uncovers.

    Full beam for 4 min, none after 16 min; the shade lets the beam in between 9 and 14 min (at
    the equinox). At `end` the tracker is back on the sun at once.

    Parameters
    ----------
    light : Light
        Light without the fault.
    start, end : float
        When it stops and when it is back. [s]
    declination : float
        Sun's declination, which slows its motion. [degree]

    Returns
    -------
    light : Light
        `dni` and `dhi` changed.
    """
    rate = SUN_RATE * np.cos(np.radians(declination))
    angle = np.abs(np.asarray(light.time, dtype=float) - start) * rate
    inside = light.within(start, end)
    seen = np.where(inside, _fading(angle, SLOPE_ANGLE, LIMIT_ANGLE), 1.0)
    uncovered = np.where(inside, 1.0 - _fading(angle, COVERED_ANGLE, BARE_ANGLE), 0.0)
    return light.scaled("dni", seen).raised("dhi", light.beam * (uncovered * light.cos_zenith))


def pyrheliometer_slipped(
    light: Light, start: float, end: float, remaining: float = 0.0, skylight: float = 0.003
) -> Light:
    """
    Pyrheliometer knocked off the sun while the shade still covers.

    Parameters
    ----------
    light : Light
        Light without the fault.
    start, end : float
        When. [s]
    remaining : float
        Share of the beam still seen.
    skylight : float
        Sky seen in the opening, as a share of the diffuse: a cone of 2.5 degree half angle holds
        0.002 of an even sky, more near the sun.

    Returns
    -------
    light : Light
        `dni` changed.
    """
    inside = light.within(start, end)
    lost = light.scaled("dni", np.where(inside, remaining, 1.0))
    return lost.raised("dni", light.dhi * np.where(inside, skylight, 0.0))


def shade_leaking(light: Light, start: float, end: float, share: float = 0.2) -> Light:
    """
    Shade out of place: a constant share of the beam falls on the shaded dome.

    Parameters
    ----------
    light : Light
        Light without the fault.
    start, end : float
        When. [s]
    share : float
        Share of the beam that leaks past; 1 where the shade is gone.

    Returns
    -------
    light : Light
        `dhi` changed.
    """
    leak = np.where(light.within(start, end), share, 0.0)
    return light.raised("dhi", light.beam * (leak * light.cos_zenith))


def shade_misaligned(
    light: Light, start: float, end: float, share: float = 0.2, azimuth: float = 110.0
) -> Light:
    """
    Shade off its arm's geometry: the leak depends on where the sun stands.

    Parameters
    ----------
    light : Light
        Light without the fault.
    start, end : float
        When. [s]
    share : float
        Largest share of the beam that leaks past.
    azimuth : float
        Sun azimuth of the largest leak; it falls as a squared cosine to none 60 degrees away.
        [degree]

    Returns
    -------
    light : Light
        `dhi` changed.
    """
    away = np.abs((light.azimuth - azimuth + 180.0) % 360.0 - 180.0)
    form = np.cos(np.radians(np.minimum(away * 1.5, 90.0))) ** 2
    leak = np.where(light.within(start, end), share * form, 0.0)
    return light.raised("dhi", light.beam * (leak * light.cos_zenith))


def beam_obstructed(light: Light, start: float, end: float, loss: float = 0.2) -> Light:
    """
    Something before the pyrheliometer's window: a web, a cable, an insect.

    Parameters
    ----------
    light : Light
        Light without the fault.
    start, end : float
        When. [s]
    loss : float
        Share of the direct lost.

    Returns
    -------
    light : Light
        `dni` changed.
    """
    return light.scaled("dni", np.where(light.within(start, end), 1.0 - loss, 1.0))
