"""Night offsets of the shortwave instruments against the net longwave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.series import last_against_earlier
from sunledger.diagnosis.subject import WORDS, Size, Subject, finding_about, severity_of

Array = npt.NDArray[np.float64]
Nights = npt.NDArray[np.int64]

NIGHT = 100.0
"""Least zenith angle of a night minute. [degree]"""
AT_NET = -200.0
"""Net longwave at which classes state the offset (ISO 9060, offset a). [W m-2]"""
LEAST_NIGHTS, LEAST_MINUTES = 5, 120
"""Nights, and minutes that a night must have."""
LEAST_NET = 30.0
"""Size of the net longwave that a night needs to tell of the offset at the class's. [W m-2]"""

INPUT_ZERO = 0.1
"""What the zero of cable and input may add on every night alike: 1 uV, the bound that the BSRN
Operations Manual v2.1 (2005, Annex F) asks of data acquisition, at 10 uV W-1 m2. [W m-2]"""


@dataclass(frozen=True)
class NightOffset:
    """
    Offset of one instrument over the nights of a month.

    Parameters
    ----------
    component : str
        Which.
    nights : int
        How many it rests on.
    offset, half_width : float
        Median over the nights with half its 95 % interval. [W m-2]
    at_class : float
        Offset at a net longwave of -200 W m-2; NaN where the net is unknown or
        small on too many nights. [W m-2]
    at_class_half_width : float
        Half its 95 % interval, the zero of the input allowed for. [W m-2]
    """

    component: str
    nights: int
    offset: float
    half_width: float
    at_class: float
    at_class_half_width: float


def night_offset(
    component: str, value: Array, zenith: Array, night: Nights, net: Array | None = None
) -> NightOffset | None:
    """
    Offset of one instrument.

    Parameters
    ----------
    component : str
        Which.
    value : numpy.ndarray, shape (time,)
        Measured, before any limit was applied. [W m-2]
    zenith : numpy.ndarray, shape (time,)
        Of the sun. [degree]
    night : numpy.ndarray of int64, shape (time,)
        Number of the night: the day of the noon before.
    net : numpy.ndarray or None, shape (time,)
        Net longwave of the instrument, negative under a cold sky. [W m-2]

    Returns
    -------
    offset : NightOffset or None
        None with too few nights: not enough evidence.
    """
    dark = (zenith > NIGHT) & np.isfinite(value)
    nets = np.zeros_like(value) if net is None else net
    dark &= np.isfinite(nets)
    _, place, count = np.unique(night[dark], return_inverse=True, return_counts=True)
    whole = np.flatnonzero(count >= LEAST_MINUTES)
    if whole.size < LEAST_NIGHTS:
        return None
    levels = np.array([np.median(value[dark][place == i]) for i in whole])
    means = np.array([np.median(nets[dark][place == i]) for i in whole])
    middle, half = float(np.median(levels)), _half_of_median(levels)
    if net is None:
        return NightOffset(component, whole.size, middle, half, float("nan"), float("nan"))
    return NightOffset(component, whole.size, middle, half, *_at_class(levels, means))


def _half_of_median(levels: Array) -> float:
    """Half the interval of a median of normal values: 1.2533 standard errors of the mean."""
    quantile = float(special.stdtrit(levels.size - 1, 0.975))
    return float(quantile * 1.2533 * levels.std(ddof=1) / np.sqrt(levels.size))


def _at_class(levels: Array, nets: Array) -> tuple[float, float]:
    """Offset at the class's net longwave, in proportion; cloudy nights tell nothing of it."""
    cold = nets < -LEAST_NET
    if np.count_nonzero(cold) < LEAST_NIGHTS:
        return float("nan"), float("nan")
    scaled = AT_NET * levels[cold] / nets[cold]
    zero = INPUT_ZERO * AT_NET / float(np.median(nets[cold]))
    return float(np.median(scaled)), float(np.hypot(_half_of_median(scaled), zero))


def beyond_class(subject: Subject, offset: NightOffset, limit: float) -> Finding | None:
    """
    Finding where a night offset is surely larger than the class allows.

    Parameters
    ----------
    subject : Subject
        Whose.
    offset : NightOffset
        Of the month.
    limit : float
        The class's zero offset a at 200 W m-2; of a pyrheliometer its complete zero offset.
        [W m-2]

    Returns
    -------
    finding : Finding or None
        None while the interval reaches into the limits, or, of a pyranometer, where the net
        longwave is unknown.
    """
    scaled = bool(np.isfinite(offset.at_class))
    size, half = offset.at_class, offset.at_class_half_width
    if not scaled:
        # only an offset that does not follow the net longwave can be judged as it is
        size, half = offset.offset, offset.half_width
    if not (scaled or offset.component == "dni") or abs(size) - half <= limit:
        return None
    word = WORDS[offset.component]
    where = f"at a net longwave of {AT_NET:.0f} W m-2 " if scaled else "at night "
    return finding_about(
        subject,
        "night_offset_beyond_class",
        offset.component,
        Size(size, half, "W m-2"),
        f"check ventilation, sun shield, desiccant and wiring of the {word} radiometer:"
        f" {where}it reads {size:.1f} W m-2, its class allows {limit:g}",
        evidence={"nights": offset.nights, "median_offset": offset.offset, "limit": limit},
        effect=offset.offset,
        severity=severity_of(offset.offset),
    )


def changing_offset(
    subject: Subject, months: Sequence[NightOffset], least: float = 2.0
) -> Finding | None:
    """
    Finding where the offset of the last month differs from those before.

    Parameters
    ----------
    subject : Subject
        Whose; the last month.
    months : sequence of NightOffset
        One instrument's months in order.
    least : float
        Smaller changes are no matter. [W m-2]

    Returns
    -------
    finding : Finding or None
        Compared at the class's net longwave where it is known, else as it is; None in too short a
        series.
    """
    known = all(np.isfinite(m.at_class) for m in months)
    told = last_against_earlier(
        [m.at_class if known else m.offset for m in months],
        [m.at_class_half_width if known else m.half_width for m in months],
    )
    if told is None:
        return None
    change, half = told
    if abs(change) - half < least:
        return None
    return finding_about(
        subject,
        "night_offset_changed",
        months[-1].component,
        Size(change, half, "W m-2"),
        f"check ventilator and desiccant of the {WORDS[months[-1].component]} radiometer",
        evidence={"months": len(months), "nights": months[-1].nights},
        effect=change,
        severity=severity_of(change),
    )
