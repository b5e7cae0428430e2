"""Gross errors of time and place, from daylight: its middle against solar noon, its length."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.grouped import distinct
from sunledger.diagnosis.month import DiagnosedMonth, Verdict
from sunledger.diagnosis.selection import Components
from sunledger.physics.ephemeris import sun_ephemeris
from sunledger.physics.sun import true_solar_time, zenith_angle

Array = npt.NDArray[np.float64]

LIGHT = 20.0
"""Global from which there is daylight. [W m-2]"""
LIGHT_ZENITH = 88.0
"""Zenith angle at which clear daylight reaches about that. [degree]"""
LEAST_DAYS = 5
"""Days with unbroken daylight for a verdict."""
WHOLE_DAY = 0.9
"""A day counts where its daylight is at least this share of the usual one."""
CLOSE = 0.15
"""An error of whole hours or of a sign explains a displacement it meets within this. [h]"""
LEAST_SHIFT = 0.5
"""Less than this is no gross error. [h]"""
LEAST_LENGTH = 1.0
"""Lengths of day of both hemispheres must differ by this to be told apart. [h]"""
SAMPLING = 421.0
"""Of expected daylight; no part of a day, so that its ends are met at all phases. [s]"""
DATE_ERRORS = (7, 14, 21, 30, 45, 60, 90, 120, 180)
"""Errors of the date that are tried. [d]"""
ROUGH, ROUGH_LATITUDE = 0.3, 60.0
"""How far rough lengths of daylight are off at most [h], and up to where [degree]: at either end by
half a sample, 0.12 h for both, and by the sun's way to the north or south within the day. Only for
stretches of at least ``LEAST_ROUGH``: what is missed at an end is told as hours of a whole day."""
LEAST_ROUGH = 64800.0
"""Rough lengths of shorter stretches are not told: those of 6 h are up to 0.5 h off. [s]"""
HOUR, DAY = 3600.0, 86400.0


@dataclass(frozen=True)
class Daylight:
    """
    What daylight says of a month.

    Parameters
    ----------
    shift : float
        Middle of daylight after solar noon, as the station's times and longitude have it,
        between -12 and 12. [h]
    half_width : float
        Half its interval of 95 %, from the scatter of days. [h]
    length : float
        Usual length of daylight. [h]
    days : int
        Number of days with unbroken daylight.
    """

    shift: float
    half_width: float
    length: float
    days: int


def wrapped(hours: npt.ArrayLike) -> Array:
    """
    Hours of the day between -12 and 12.

    Parameters
    ----------
    hours : array-like
        [h]

    Returns
    -------
    wrapped : numpy.ndarray
        [h]
    """
    return np.asarray((np.asarray(hours, dtype=float) + 12.0) % 24.0 - 12.0)


def daylight(parts: Components) -> Daylight | None:
    """
    Find the middle and the length of daylight.

    Parameters
    ----------
    parts : Components
        The month.

    Returns
    -------
    light : Daylight or None
        None with fewer than ``LEAST_DAYS`` days of unbroken daylight, such as in polar night.
    """
    lit = parts.ghi > LIGHT
    if not lit.any():
        return None
    at = parts.middle[lit]
    hour = true_solar_time(at, parts.longitude) / HOUR - 12.0
    turn = np.exp(2j * np.pi * hour / 24.0)
    rough = float(np.angle(turn.mean()) * 12.0 / np.pi)
    # days that begin half a day before the middle of daylight, wherever that lies
    since = wrapped(hour - rough)
    first, last = _ends(np.round((at - since * HOUR) / DAY).astype(np.int64), since)
    length = last - first
    whole = length >= WHOLE_DAY * np.median(length)
    whole &= length < 23.5
    if np.count_nonzero(whole) < LEAST_DAYS:
        return None
    middle = 0.5 * (first + last)[whole]
    spread = 1.4826 * np.median(np.abs(middle - np.median(middle)))
    unsure = 1.96 * 1.2533 * max(float(spread), parts.interval / HOUR) / np.sqrt(middle.size)
    shift = float(wrapped(rough + np.median(middle)))
    return Daylight(shift, unsure, float(np.median(length[whole])), int(middle.size))


def _ends(day: npt.NDArray[np.int64], since: Array) -> tuple[Array, Array]:
    """First and last light of each day that has any, in hours from the rough middle."""
    _, place, count = distinct(day)
    of_days, start = since[np.argsort(place, kind="stable")], np.cumsum(count) - count
    return np.minimum.reduceat(of_days, start), np.maximum.reduceat(of_days, start)


def expected_length(parts: Components, latitude: float, days_off: float = 0.0) -> float:
    """
    Length of daylight that a latitude would have.

    Parameters
    ----------
    parts : Components
        The month.
    latitude : float
        [degree]
    days_off : float
        Displacement of the dates. [d]

    Returns
    -------
    length : float
        Mean of the month. [h]
    """
    times = np.arange(parts.middle[0], parts.middle[-1], SAMPLING) + days_off * DAY
    zenith = zenith_angle(times, latitude, parts.longitude, parts.altitude)
    return float(np.mean(zenith < LIGHT_ZENITH) * 24.0)


def rough_lengths(
    parts: Components, latitude: float, days_off: npt.NDArray[np.int64]
) -> Array | None:
    """
    Lengths of daylight by one sunrise and one sunset a day, a hundred times sooner.

    Parameters
    ----------
    parts : Components
        The month.
    latitude : float
        [degree]
    days_off : numpy.ndarray of int64, shape (error,)
        Displacements of the dates. [d]

    Returns
    -------
    lengths : numpy.ndarray or None, shape (error,)
        Within ``ROUGH`` of :func:`expected_length`; None beyond ``ROUGH_LATITUDE`` and for
        stretches shorter than ``LEAST_ROUGH``. [h]
    """
    begin, end = float(parts.middle[0]), float(parts.middle[-1])
    if abs(latitude) > ROUGH_LATITUDE or end - begin < LEAST_ROUGH:
        return None
    east = parts.longitude * 240.0
    midday = (np.floor((begin + east) / DAY) - 0.5) * DAY - east
    noons = np.arange(midday, end + DAY, DAY)
    sun = sun_ephemeris(noons + days_off[:, None] * DAY)
    noons = noons - sun.equation_of_time * 240.0
    phi = np.radians(latitude)
    low = np.cos(np.radians(LIGHT_ZENITH)) - np.sin(phi) * sun.sin_declination
    half = np.arccos(np.clip(low / (np.cos(phi) * sun.cos_declination), -1.0, 1.0))
    half *= DAY / (2.0 * np.pi)
    lit = np.minimum(noons + half, end) - np.maximum(noons - half, begin)
    return np.asarray(np.maximum(lit, 0.0).sum(axis=1) * 24.0 / (end - begin))


def date_error_shown(parts: Components, now: float) -> int | None:
    """
    Smallest error of the date that the length of daylight could have shown in this month.

    Parameters
    ----------
    parts : Components
        The month.
    now : float
        Its :func:`expected_length`. [h]

    Returns
    -------
    days : int or None
        None where none could have. [d]
    """
    for days in DATE_ERRORS:
        both = np.array([-days, days])
        rough = rough_lengths(parts, parts.latitude, both)
        changes = np.full(2, LEAST_LENGTH) if rough is None else np.abs(rough - now)
        if np.any(changes < LEAST_LENGTH - ROUGH):
            continue
        unsure = both[changes <= LEAST_LENGTH + ROUGH].tolist()
        exact = (abs(expected_length(parts, parts.latitude, d) - now) for d in unsure)
        if all(change >= LEAST_LENGTH for change in exact):
            return days
    return None


def explanations(shift: float, longitude: float) -> list[tuple[str, float]]:
    """
    Gross errors that displace daylight this much.

    Parameters
    ----------
    shift : float
        Of daylight's middle after solar noon. [h]
    longitude : float
        Of the station, as written. [degree]

    Returns
    -------
    causes : list of (str, float)
        Name of a finding and the displacement it would give, nearest first; all within
        ``CLOSE``. [h]
    """
    if abs(shift) < LEAST_SHIFT:
        return []
    tried = [("time_zone_error", float(h)) for h in range(-11, 12) if h]
    tried += [("half_day_error", 12.0), ("longitude_reversed", float(wrapped(longitude / 7.5)))]
    near = [(abs(float(wrapped(shift - size))), name, size) for name, size in tried]
    return [(name, size) for miss, name, size in sorted(near) if miss <= CLOSE]


def gross_errors(month: DiagnosedMonth) -> tuple[list[Finding], Verdict]:
    """
    Name errors of whole hours and of signs of the coordinates.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    findings : list of Finding
        At most one of the time or longitude and one of the latitude.
    verdict : dict
        Displacement and length of daylight; the date error that this month could have shown.
    """
    parts = month.parts
    light = daylight(parts)
    if light is None:
        least = f"{LEAST_DAYS} days with unbroken daylight"
        return [], {"verdict": "not enough evidence", "asked_for": least}
    here, across = (expected_length(parts, s * parts.latitude) for s in (1.0, -1.0))
    verdict: dict[str, Any] = {
        "noon_shift_h": [light.shift, light.half_width],
        "daylight_h": light.length,
        "expected_daylight_h": here,
        "other_hemisphere_daylight_h": across,
        "date_error_shown_from_days": date_error_shown(parts, here),
    }
    found = _of_time(month, light) + _of_latitude(month, light, here, across)
    verdict["verdict"] = "gross error" if found else "no gross error"
    return found, verdict


def _of_time(month: DiagnosedMonth, light: Daylight) -> list[Finding]:
    causes = explanations(light.shift, month.parts.longitude)
    if not causes:
        return []
    name, size = causes[0]
    others = tuple(f"{n} ({s:+.2f} h)" for n, s in causes[1:])
    what = {
        "time_zone_error": f"times are {size:+.0f} h off: look at utc_offset and daylight saving",
        "half_day_error": "times are 12 h off: look at the clock and at a 12-hour time format",
        "longitude_reversed": f"look at the sign of longitude {month.parts.longitude:g}",
    }[name]
    action = f"{what}; daylight's middle lies {light.shift:+.2f} h after solar noon"
    return [_gross(month, name, light.shift, light.half_width, action, others)]


def _of_latitude(
    month: DiagnosedMonth, light: Daylight, here: float, across: float
) -> list[Finding]:
    if abs(here - across) < LEAST_LENGTH:
        return []
    wrong, right = abs(light.length - here), abs(light.length - across)
    if right > 0.3 * wrong or wrong < LEAST_LENGTH:
        return []
    action = (
        f"look at the sign of latitude {month.parts.latitude:g}: daylight lasts"
        f" {light.length:.1f} h, {across:.1f} h at the other sign, {here:.1f} h as written;"
        " or the date is half a year off"
    )
    others = ("a date half a year off",)
    off = light.length - here
    return [_gross(month, "latitude_reversed", off, 2 * light.half_width, action, others)]


def _gross(
    month: DiagnosedMonth,
    name: str,
    size: float,
    half_width: float,
    action: str,
    others: tuple[str, ...],
) -> Finding:
    return Finding(
        month.config.station.id,
        month.period,
        name,
        "*",
        size=size,
        unit="h",
        lower=size - half_width,
        upper=size + half_width,
        action=action,
        severity="act",
        cannot_tell=others,
    )
