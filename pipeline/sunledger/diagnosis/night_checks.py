"""Check of a month's nights: offset by instrument, what its class allows, change over months."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.config.coefficients import Coefficients
from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.month import (
    NOT_ENOUGH,
    Check,
    DiagnosedMonth,
    SeriesMonth,
    Told,
    Verdict,
)
from sunledger.diagnosis.night import (
    KNOWN,
    NET_KNOWN,
    UNKNOWN,
    NightOffset,
    Surroundings,
    beyond_class,
    changing_offset,
    night_offset,
)
from sunledger.diagnosis.of_record import COMPONENTS, coefficients_at
from sunledger.diagnosis.selection import solar_day
from sunledger.physics.iso9060 import PYRANOMETER_CLASSES, PYRHELIOMETER_CLASSES

HALF_DAY = 43200


def night_numbers(month: DiagnosedMonth) -> npt.NDArray[np.int64]:
    """
    Number of the night that each minute belongs to.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    night : numpy.ndarray of int64, shape (time,)
        Local solar day of the noon before.
    """
    return solar_day(month.parts.middle - HALF_DAY, month.parts.longitude)


def class_limit(row: Coefficients | None) -> float | None:
    """
    Night offset that the class of an instrument allows.

    Parameters
    ----------
    row : Coefficients or None
        Of its position.

    Returns
    -------
    limit : float or None
        Offset a of a pyranometer at a net longwave of -200 W m-2, complete zero offset of a
        pyrheliometer; None without a class. [W m-2]
    """
    if row is None or row.iso_class is None:
        return None
    if row.kind == "pyrheliometer":
        return PYRHELIOMETER_CLASSES[row.iso_class].total_zero_offset
    return PYRANOMETER_CLASSES[row.iso_class].zero_offset_a


def _alone(month: DiagnosedMonth) -> Told:
    """Offset of each component, and whether its class allows it."""
    rows = coefficients_at(month, month.resolved.start)
    found: list[Finding] = []
    verdict: Verdict = {}
    night = night_numbers(month)
    for name in COMPONENTS:
        offset = _offset(month, name, rows.get(name), night)
        if offset is None:
            verdict[name] = {"verdict": NOT_ENOUGH}
            continue
        limit = class_limit(rows.get(name))
        verdict[name] = _told(offset, limit, name in month.beside.corrected)
        beyond = None if limit is None else beyond_class(month.subject, offset, limit)
        found += [beyond] if beyond else []
    return found, verdict


def _compared(month: SeriesMonth, alone: Verdict) -> Told:
    """Offsets that changed against earlier months."""
    changed = (
        changing_offset(month.subject, [*_earlier(month, name), offset])
        for name in COMPONENTS
        for offset in _held(alone, name)
    )
    return [f for f in changed if f], alone


nights = Check(_alone, _compared)
"""Judges the night offsets of global, diffuse and direct. Findings: beyond the class, and changed
against earlier months. The verdict: component → offset, offset at the class's net longwave, and
whether the class allows it."""


def _offset(
    month: DiagnosedMonth, name: str, row: Coefficients | None, night: npt.NDArray[np.int64]
) -> NightOffset | None:
    """The offset of a pyrheliometer does not follow the net longwave: it looks at the sun alone."""
    apart = row is not None and row.kind == "pyrheliometer"
    beside = month.beside
    around = (
        UNKNOWN if apart else Surroundings(beside.net_longwave, beside.rate, *_known(month, row))
    )
    value = getattr(month.parts, name)
    return night_offset(name, value, month.parts.sun.zenith, night, around)


def _known(month: DiagnosedMonth, row: Coefficients | None) -> tuple[float, float]:
    """Expanded uncertainties of net longwave and sensitivity, from the certificates in force."""
    start = month.resolved.start
    rows = [r for r in month.resolved.coefficients if r.quantity == "lwd"]
    net = [2 * r.relative_uncertainty for r in rows if r.start <= start < r.end]
    return (net or [NET_KNOWN])[0], KNOWN if row is None else 2 * row.relative_uncertainty


def _told(offset: NightOffset, limit: float | None, corrected: bool) -> dict[str, Any]:
    known, rate_known = (bool(np.isfinite(v)) for v in (offset.at_class, offset.at_rate))
    size, half = (
        (offset.at_class, offset.at_class_half_width)
        if known
        else (offset.offset, offset.half_width)
    )
    words = "no class is recorded"
    if limit is not None:
        words = "within the class" if abs(size) + half <= limit else "cannot be told"
        words = "beyond the class" if abs(size) - half > limit else words
    return {
        "nights": offset.nights,
        "offset": [offset.offset, offset.half_width],
        "at_class": [offset.at_class, offset.at_class_half_width] if known else None,
        "at_rate": [offset.at_rate, offset.at_rate_half_width] if rate_known else None,
        "class_limit": limit,
        "corrected_before": corrected,
        "verdict": words,
    }


def _held(verdict: Mapping[str, Any], name: str) -> Iterator[NightOffset]:
    """The offset of a component as the verdict of its month holds it, if there is one."""
    held = verdict.get(name, {})
    if "nights" in held:
        at = held["at_class"] or [float("nan"), float("nan")]
        yield NightOffset(name, held["nights"], *held["offset"], *at)


def _earlier(month: SeriesMonth, name: str) -> Iterator[NightOffset]:
    for verdicts in month.told_before.values():
        yield from _held(verdicts.get("nights", {}), name)
