"""When and where the tracker, the shade and the pyrheliometer miss the sun."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.sectors import SECTOR, Sector
from sunledger.diagnosis.selection import DAY, Components
from sunledger.diagnosis.subject import Size, Subject, finding_about, severity_of

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

LEAST_BEAM = 50.0
"""Global less diffuse from which there is a beam. [W m-2]"""
LOST_SHARE = 0.2
"""Direct below this share of what global less diffuse shows is lost. [1]"""
LOST_ZENITH = 80.0
"""[degree]"""
LEAST_LOST = 30
"""Minutes of a day from which the direct of that day counts as lost."""
SAME_TIME, SAME_TIME_SHARE, SAME_TIME_DAYS = 2, 0.6, 3
"""Hours, share of the minutes within them, and days, from which the failing has its time of day."""
LEAST_LOCAL = 0.015
"""Departure of a sector from its neighbours. [1]"""
DIRECT_LOW = ("a pyrheliometer that points off", "something before the pyrheliometer")
"""Causes of a global above the component sum."""
BEAM_ON_DIFFUSE = ("a shade that lets the beam past", "something before the global")
"""Causes of a global below it."""


def direct_lost(parts: Components) -> Mask:
    """
    Minutes in which global and diffuse show a beam that the direct does not.

    Parameters
    ----------
    parts : Components
        The month.

    Returns
    -------
    lost : numpy.ndarray of bool, shape (time,)
        Whether the direct is missing there or nearly zero. Own limits, without a source.
    """
    flat = parts.ghi - parts.dhi
    seen = (parts.sun.zenith < LOST_ZENITH) & (flat > LEAST_BEAM) & parts.usable
    with np.errstate(invalid="ignore"):
        return np.asarray(seen & ~(parts.dni * parts.cosine > LOST_SHARE * flat))


def lost_days(subject: Subject, parts: Components) -> tuple[Finding, ...]:
    """
    Days on which the direct was lost for long.

    Parameters
    ----------
    subject : Subject
        Whose.
    parts : Components
        The month.

    Returns
    -------
    findings : tuple of Finding
        One a day: minutes lost, and what they are worth in the monthly mean of the direct where
        global less diffuse is taken for it.
    """
    lost, day = direct_lost(parts), parts.day
    if not lost.any():
        return ()
    mu = np.maximum(parts.cosine, 0.05)
    missed = np.where(lost, (parts.ghi - parts.dhi) / mu - np.nan_to_num(parts.dni), 0.0)
    found = []
    for number in np.unique(day[lost]):
        here = lost & (day == number)
        minutes = int(here.sum()) * parts.interval // 60
        if minutes < LEAST_LOST:
            continue
        effect = -float(missed[here].sum()) / parts.middle.size
        at = parts.middle[here]
        found.append(
            finding_about(
                subject,
                "direct_lost",
                "dni",
                Size(float(minutes), 0.0, "min"),
                f"reject the direct of {np.datetime64(int(number), 'D')}; check pointing, window"
                " and cable of the pyrheliometer",
                onset=int(at[0]),
                evidence={
                    "last": int(at[-1]),
                    "missing_minutes": int(np.isnan(parts.dni[here]).sum()),
                    "zero_minutes": int(np.isfinite(parts.dni[here]).sum()),
                },
                effect=effect,
                severity=severity_of(effect),
            )
        )
    return tuple(found)


def off_sun(subject: Subject, parts: Components, off: Mask) -> Finding | None:
    """
    Minutes off the sun, and whether they come at one time of the day.

    Parameters
    ----------
    subject : Subject
        Whose.
    parts : Components
        The month.
    off : numpy.ndarray of bool, shape (time,)
        Minutes flagged as off the sun.

    Returns
    -------
    finding : Finding or None
        None with fewer minutes than make a lost day.
    """
    minutes = int(off.sum()) * parts.interval // 60
    if minutes < LEAST_LOST:
        return None
    at = parts.middle[off] + parts.longitude * 240.0
    hours = np.bincount((at % DAY // 3600).astype(int), minlength=24)
    within = hours + np.roll(hours, -1)
    first = int(np.argmax(within))
    share = float(within[first] / hours.sum())
    days = np.unique(at // DAY).size
    daily = share >= SAME_TIME_SHARE and days >= SAME_TIME_DAYS
    action = (
        f"look for a cable or an obstacle that stops the tracker from {first} to"
        f" {first + SAME_TIME} h solar time; keep clear of moving parts, power off first"
        if daily
        else "check drive, alignment and time of the tracker; never look at the sun to align it"
    )
    return finding_about(
        subject,
        "tracker_off_sun",
        "dni",
        Size(float(minutes), 0.0, "min"),
        action,
        onset=int(parts.middle[off][0]),
        evidence={"days": days, "share_within_two_hours": share, "first_hour": first},
        effect=-subject.means.get("dni", 0.0) * minutes / (parts.middle.size * parts.interval / 60),
        severity="act" if minutes > 600 else "look",
    )


def local_failures(
    subject: Subject, sectors: Sequence[Sector], since: str = ""
) -> tuple[Finding, ...]:
    """
    Sectors of azimuth in which closure departs from both neighbours.

    Parameters
    ----------
    subject : Subject
        Whose.
    sectors : sequence of Sector
        From :func:`sunledger.diagnosis.sectors.sector_departures`, or their changes.
    since : str
        What changes are counted from; empty for departures as they are.

    Returns
    -------
    findings : tuple of Finding
        What changes closure in one sector only is a shade or a pyrheliometer that does not point
        well there, or an obstacle; the sign parts them in two groups.
    """
    return tuple(
        _local(subject, sector, since)
        for sector in sectors
        if abs(sector.departure) >= max(LEAST_LOCAL, 2 * sector.half_width)
    )


def _local(subject: Subject, sector: Sector, since: str) -> Finding:
    first, last = sector.azimuth_from, sector.azimuth_from + SECTOR
    causes = DIRECT_LOW if sector.departure > 0 else BEAM_ON_DIFFUSE
    effect = sector.departure * subject.means.get("ghi", 0.0) * sector.share
    return finding_about(
        subject,
        "shade_or_pointing_drift" if since else "fails_at_one_sun_azimuth",
        f"azimuth {first:.0f} to {last:.0f}",
        Size(100 * sector.departure, 100 * sector.half_width, "%"),
        f"look toward {first:.0f} to {last:.0f}° for {' or '.join(causes)}{since};"
        " never at the sun",
        evidence={"azimuth_from": first, "days": sector.days},
        effect=effect,
        severity=severity_of(effect),
        cannot_tell=causes,
    )
