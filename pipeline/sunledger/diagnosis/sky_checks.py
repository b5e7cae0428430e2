"""Checks of a month for pointing, shade, obstacles and frost."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.month import (
    NOT_ENOUGH,
    Check,
    DiagnosedMonth,
    SeriesMonth,
    Told,
    Verdict,
)
from sunledger.diagnosis.obstacles import (
    below_profile,
    returning_shadows,
    suggested_skyline,
    sun_path,
)
from sunledger.diagnosis.pointing import direct_lost, local_failures, lost_days, off_sun
from sunledger.diagnosis.sectors import Sector, pointing_losses, sector_departures
from sunledger.diagnosis.selection import solar_day
from sunledger.diagnosis.separation import LEAST_CLEAR
from sunledger.diagnosis.series import last_against_earlier
from sunledger.diagnosis.soiling import frost_mornings

Mask = npt.NDArray[np.bool_]
OFF_SUN = ("tracker_off_sun", "pyrheliometer_off_sun")


def _pointing_alone(month: DiagnosedMonth) -> Told:
    """Days and minutes off the sun, and azimuths at which closure fails."""
    lost = lost_days(month.subject, month.parts)
    off = _off_sun(month)
    elsewhere = off_sun(month.subject, month.parts, off & ~_on_days(month, lost))
    found = [*lost, *([elsewhere] if elsewhere else [])]
    verdict: Verdict = {
        "lost_days": len(lost),
        "lost_minutes": _minutes(month, direct_lost(month.parts)),
        "off_sun_minutes": _minutes(month, off),
        "shade_misaligned_minutes": _minutes(month, _flagged(month, "shade_misaligned")),
        "beam_obstructed_minutes": _minutes(month, _flagged(month, "beam_obstructed")),
    }
    clear = month.skies[0]
    if clear.day.size < LEAST_CLEAR[0]:
        return found, verdict | {"azimuths": NOT_ENOUGH}
    sectors = sector_departures(clear)
    found += local_failures(month.subject, sectors)
    told = {"sectors": _rows(sectors), "direct_lacks_under_clearest": _rows(pointing_losses(clear))}
    return found, verdict | told


def _pointing_compared(month: SeriesMonth, alone: Verdict) -> Told:
    """Azimuths at which closure changed over the months."""
    changed = tuple(_changes(month, alone.get("sectors", [])))
    return list(local_failures(month.subject, changed, " since earlier months")), alone


pointing = Check(_pointing_alone, _pointing_compared)
"""Says when and at which azimuths tracker, shade and pyrheliometer missed the sun. Findings: days
on which the direct was lost; minutes off the sun on other days; azimuths at which closure fails,
and where that changed over the months. Azimuths need as much clear sky as a comparison does."""


def _flagged(month: DiagnosedMonth, test: str) -> Mask:
    return month.beside.minutes_of(test, month.parts.middle.size)


def _off_sun(month: DiagnosedMonth) -> Mask:
    """Minutes off the sun that no visit or homing explains."""
    off = np.any([_flagged(month, test) for test in OFF_SUN], axis=0)
    return np.asarray(off & month.parts.usable)


def _on_days(month: DiagnosedMonth, lost: Iterable[Finding]) -> Mask:
    times = np.array([f.onset for f in lost], dtype=float)
    days = solar_day(times, month.parts.longitude)
    return np.isin(month.parts.day, days)


def _minutes(month: DiagnosedMonth, chosen: Mask) -> int:
    return int(chosen.sum()) * month.parts.interval // 60


def _rows(sectors: Iterable[Sector]) -> list[list[float]]:
    """Azimuth, percent, half its interval, days."""
    return [
        [s.azimuth_from, 100 * s.departure, 100 * s.half_width, s.days, s.share] for s in sectors
    ]


def _changes(month: SeriesMonth, sectors: Iterable[Sequence[float]]) -> Iterator[Sector]:
    """Sectors whose departure changed against the earlier months."""
    held = [v.get("pointing", {}).get("sectors", []) for v in month.told_before.values()]
    for azimuth, percent, half, days, share in sectors:
        rows = [*(r for rows in held for r in rows if r[0] == azimuth), (azimuth, percent, half)]
        told = last_against_earlier([r[1] / 100 for r in rows], [r[2] / 100 for r in rows])
        if told:
            yield Sector(azimuth, *told, int(days), share)


def shadows(month: DiagnosedMonth) -> Told:
    """
    Shadows that return at the same position of the sun and are not in the horizon profile.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    findings, verdict : list of Finding, dict
        The verdict holds the lower corners of the cells of the sky in which shadows return, known
        ones too, and the skyline that they suggest.
    """
    path = sun_path(month.parts)
    known = np.zeros(path.azimuth.size, dtype=bool)
    for _, _, profile in month.resolved.skylines:
        known |= below_profile(path, profile)
    found = returning_shadows(month.subject, path, known, month.parts.middle.size)
    skyline = [list(corner) for corner in suggested_skyline(path)]
    here = path.returning
    corners = zip(path.azimuth[here].tolist(), path.elevation[here].tolist(), strict=True)
    return list(found), {"suggested_skyline": skyline, "returning": [list(c) for c in corners]}


def frost(month: DiagnosedMonth) -> Told:
    """
    Count the mornings on which the global's dome was frosted or dewed.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    findings, verdict : list of Finding, dict
        At most one; the verdict tells the minutes also where there was none.
    """
    iced = _flagged(month, "frost_or_ventilation")
    found = frost_mornings(month.subject, month.parts, "ghi", iced)
    said = {"minutes": _minutes(month, iced), "mornings": int(found.size) if found else 0}
    return [found] if found else [], said
