"""Night offsets of the shortwave instruments against the net longwave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.grouped import counted, medians
from sunledger.diagnosis.night_fit import AT_NET, LEAST_MINUTES, night_fit
from sunledger.diagnosis.series import last_against_earlier
from sunledger.diagnosis.subject import WORDS, Size, Subject, finding_about, severity_of
from sunledger.physics.special import special

Array = npt.NDArray[np.float64]
Nights = npt.NDArray[np.int64]

NIGHT = 100.0
"""Least zenith angle of a night minute. [degree]"""
LEAST_NIGHTS = 5
"""Nights that a month must have, and as many with a net longwave of ``LEAST_NET``."""
LEAST_NET = 30.0
"""Size of the net longwave that a night needs to tell of the offset at the class's. [W m-2]"""
NET_KNOWN, KNOWN = 0.05, 0.03
"""Expanded relative uncertainties of net longwave and of sensitivity where no certificate tells
them. Own values. [1]"""
RESPONSE_KNOWN = 0.01
"""What temperatures of the night may change the sensitivity: class B allows 1 % (ISO 9060). [1]"""


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
        Offset a, at a net longwave of -200 W m-2, told apart from the zero of the input; NaN where
        the net is unknown or small on too many nights. [W m-2]
    at_class_half_width : float
        Half its 95 % interval, what is known of sensitivity and net longwave in it. [W m-2]
    at_rate, at_rate_half_width : float
        Offset b, where the body warms by 5 K in an hour; NaN where its temperature is unknown.
        [W m-2]
    """

    component: str
    nights: int
    offset: float
    half_width: float
    at_class: float
    at_class_half_width: float
    at_rate: float = float("nan")
    at_rate_half_width: float = float("nan")


@dataclass(frozen=True)
class Surroundings:
    """
    What a radiometer exchanges heat with at night.

    Parameters
    ----------
    net : numpy.ndarray or None, shape (time,)
        Net longwave, negative under a cold sky. [W m-2]
    rate : numpy.ndarray or None, shape (time,)
        Rate of the body's temperature. [K h-1]
    net_known, known : float
        Expanded relative uncertainties of the net longwave and of the radiometer's sensitivity. [1]
    """

    net: Array | None = None
    rate: Array | None = None
    net_known: float = NET_KNOWN
    known: float = KNOWN


UNKNOWN = Surroundings()


def night_offset(
    component: str, value: Array, zenith: Array, night: Nights, around: Surroundings = UNKNOWN
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
    around : Surroundings
        Net longwave and rate of temperature, as far as they are known.

    Returns
    -------
    offset : NightOffset or None
        None with too few nights: not enough evidence.
    """
    dark = (zenith > NIGHT) & np.isfinite(value)
    for other in (around.net, around.rate):
        dark &= True if other is None else np.isfinite(other)
    _, count = counted(night[dark])
    whole = count >= LEAST_MINUTES
    if np.count_nonzero(whole) < LEAST_NIGHTS:
        return None
    levels = medians(value[dark], count)[whole]
    plain = float(np.median(levels)), _half_of_median(levels)
    if around.net is None:
        return NightOffset(component, levels.size, *plain, float("nan"), float("nan"))
    cold = medians(around.net[dark], count)[whole] < -LEAST_NET
    rate = None if around.rate is None else around.rate[dark]
    fit = night_fit(value[dark], night[dark], around.net[dark], rate)
    if np.count_nonzero(cold) < LEAST_NIGHTS or fit is None:
        return NightOffset(component, levels.size, *plain, float("nan"), float("nan"))
    _, a, b = (float(v) for v in fit.value)
    _, half_a, half_b = (float(h) for h in fit.half_width)
    known = float(np.hypot(around.known, RESPONSE_KNOWN))
    half_a = float(np.hypot(half_a, np.hypot(around.net_known, known) * a))
    half_b = float(np.hypot(half_b, known * b))
    return NightOffset(component, levels.size, *plain, a, half_a, b, half_b)


def _half_of_median(levels: Array) -> float:
    """Half the interval of a median of normal values: 1.2533 standard errors of the mean."""
    quantile = float(special.stdtrit(levels.size - 1, 0.975))
    return float(quantile * 1.2533 * levels.std(ddof=1) / np.sqrt(levels.size))


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
