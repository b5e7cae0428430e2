"""The sun as watchdog of the clock and of the level, from clear steady minutes."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.config.clocks import clock_checks
from sunledger.diagnosis.changes import (
    DAY,
    LEAST_DAYS,
    LEAST_MINUTES,
    Change,
    best_step,
    candidates,
    drift,
    step_before,
)
from sunledger.diagnosis.closure_fit import (
    EAST,
    NORTH,
    RESPONSIVITY,
    Moments,
    constant_design,
    fitted,
)
from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.last_checks import last_before, told
from sunledger.diagnosis.lean_sums import mean_effect
from sunledger.diagnosis.month import DiagnosedMonth, SeriesMonth, Verdict

LEAST_LEAN = 0.2
"""A change of the east-west term below this raises no finding: twice the 0.1 degree to which a
bubble is level. [degree]"""
LARGEST_CHANCE = 0.05
"""A change this likely by chance alone raises no finding."""
CAUSES = (
    "a lean of the global pyranometer toward east or west",
    "an error of the logger's clock",
    "labels that mark the other end of the interval",
    "a wrong longitude of the station",
)
SEASON = "a directional response of the global that differs between east and west"
SEASONAL = 45 * DAY
"""Over data this long the sun's path itself changes. [s]"""
NOT_ENOUGH = "not enough evidence"
TURN = 2.0 * np.pi / DAY


def as_seconds(lean: float, latitude: float) -> float:
    """
    Clock error that looks like a lean toward the east.

    Parameters
    ----------
    lean : float
        East-west term; positive toward the east. [rad]
    latitude : float
        Of the station. [degree]

    Returns
    -------
    error : float
        Logger less true time: a slow clock looks like a lean toward the east. [s]
    """
    return -lean / (TURN * max(float(np.cos(np.radians(latitude))), 1e-6))


def _stamp(seconds: float) -> str:
    return datetime.fromtimestamp(int(seconds), UTC).strftime("%Y-%m-%d %H:%M")


def _position(month: SeriesMonth, onset: float) -> str:
    """Position whose values the global takes."""
    rows = [row for row in month.resolved.primary if row[0] == "ghi"]
    return next((p for _, p, a, b in rows if a <= onset < b), rows[0][1])


def constant_terms(month: DiagnosedMonth) -> tuple[list[Finding], Verdict]:
    """
    List what is constant over the month, with every cause of that size; never a finding.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    findings : list of Finding
        None: closure cannot tell these causes apart.
    verdict : dict
        East and north term with intervals, what they would be as other causes, the correlation of
        north and responsivity.
    """
    moments = month.moments
    if moments.minutes.sum() < LEAST_MINUTES or moments.days < LEAST_DAYS:
        return [], {"verdict": NOT_ENOUGH}
    found = fitted(moments, constant_design(moments))
    lean, width = np.degrees(found.value), np.degrees(found.half_width)
    seconds = as_seconds(float(found.value[EAST]), month.resolved.latitude)
    unsure = abs(as_seconds(float(found.half_width[EAST]), month.resolved.latitude))
    interval = month.parts.interval
    verdict: dict[str, Any] = {
        "responsivity_percent": _pair(100 * found.value[RESPONSIVITY], 100 * found.half_width[0]),
        "east_degree": _pair(lean[EAST], width[EAST]),
        "north_degree": _pair(lean[NORTH], width[NORTH]),
        "size_degree": float(np.hypot(lean[EAST], lean[NORTH])),
        "azimuth_degree": float(np.degrees(np.arctan2(lean[EAST], lean[NORTH])) % 360.0),
        "north_responsivity_correlation": float(found.correlation[NORTH, RESPONSIVITY]),
        "as_clock_error_s": _pair(seconds, unsure),
        "as_longitude_error_degree": _pair(seconds / 240.0, unsure / 240.0),
        "label_convention_would_be_s": [-interval, interval],
        "cannot_tell": list(CAUSES),
        "verdict": "constant terms are listed, not judged: only a level check, a clock check or the"
        " station's papers tell these causes apart",
    }
    return [], verdict


def _pair(value: float, half_width: float) -> list[float]:
    return [float(value), float(half_width)]


def _is_found(size: tuple[float, float, float], days: float = 1.0) -> bool:
    """Whether a change of the east-west term is large and not by chance; a drift over its days."""
    value, _, chance = size
    return bool(np.degrees(abs(value)) * days >= LEAST_LEAN and chance < LARGEST_CHANCE)


def changes(month: SeriesMonth) -> tuple[list[Finding], Verdict]:
    """
    Steps and drifts of the lean since the last check, from earlier months too.

    Parameters
    ----------
    month : SeriesMonth
        The month.

    Returns
    -------
    findings : list of Finding
        At most one of the east-west term and one of the north term.
    verdict : dict
        The best step and the drift with their intervals, or that there is not enough evidence; the
        last check before the step, since when it is a change.
    """
    moments = month.since_check
    east, slope = best_step(moments), drift(moments)
    if east is None or slope is None:
        least = f"{LEAST_MINUTES} clear minutes from {LEAST_DAYS} days on each side"
        return [], {"verdict": NOT_ENOUGH, "asked_for": least}
    latitude = month.resolved.latitude
    verdict: dict[str, Any] = {
        "since": told(last_before(month.marks, east.before)),
        "data_from": _stamp(moments.first[0]),
        "east_step_s": _as_clock(east, latitude),
        "east_drift_s_per_day": _as_clock(slope, latitude),
        "east_step_degree": [float(np.degrees(x)) for x in east.size(EAST)[:2]],
        "cannot_tell": list(_causes(month)),
    }
    found = _east(month, east, slope)
    verdict["verdict"] = "changed" if found else "no change above its limit"
    return found, verdict


def _as_clock(change: Change, latitude: float) -> list[float]:
    value, half_width, _ = change.size(EAST)
    return _pair(as_seconds(value, latitude), abs(as_seconds(half_width, latitude)))


def _east(month: SeriesMonth, step: Change, slope: Change) -> list[Finding]:
    """The east-west term: a step or a drift, whichever explains more."""
    days = (slope.before - slope.after) / DAY
    drifts = slope.misfit < step.misfit
    change, per = (slope, " d-1") if drifts else (step, "")
    if not _is_found(change.size(EAST), days if drifts else 1.0):
        return []
    seconds, width = _as_clock(change, month.resolved.latitude)
    value, half_width, chance = change.size(EAST)
    name = f"clock_or_east_lean_{'drift' if drifts else 'step'}"
    action = (
        f"check the clock and the level of the global: the east-west term moved by"
        f" {seconds:+.0f} +- {width:.0f} s{per} of clock error or"
        f" {np.degrees(value):+.2f} +- {np.degrees(half_width):.2f} degree{per} toward east,"
        f" since {_stamp(change.after)}; {_last_check(month, change)}"
    )
    evidence = _evidence(month, change) | {"chance": chance}
    evidence |= {"lean_degree": _pair(np.degrees(value), np.degrees(half_width))}
    if not drifts:
        north, words = _north(month, change)
        evidence |= {"north_lean_degree": north}
        action += words
    return [
        Finding(
            month.config.station.id,
            month.period,
            name,
            _position(month, change.before),
            size=seconds,
            unit=f"s{per}",
            lower=seconds - width,
            upper=seconds + width,
            action=action,
            onset=int(change.after if drifts else change.before),
            evidence=evidence,
            effect=_effect(month, change, value),
            cannot_tell=_causes(month),
        )
    ]


def _north(month: SeriesMonth, step: Change) -> tuple[list[float], str]:
    """North part of what may be a slanted lean, and words where it is beyond its interval."""
    piece = int(np.argmax(step.course > 0))
    both = step_before(month.since_check, piece, (EAST, NORTH))
    east, (value, half, _) = both.size(EAST)[0], both.size(NORTH)
    north = _pair(np.degrees(value), np.degrees(half))
    if abs(value) <= half:
        return north, ""
    azimuth = float(np.degrees(np.arctan2(east, value)) % 360.0)
    return north, (
        f"; if it is a lean it has a north part of {north[0]:+.2f} +- {north[1]:.2f} degree,"
        f" toward {azimuth:.0f} degree of azimuth in all, unless the responsivity changed as well"
    )


def _causes(month: SeriesMonth) -> tuple[str, ...]:
    """What a change of the east-west term may be."""
    first, last = month.since_check.first[0], month.since_check.last[-1]
    return (*CAUSES[:2], SEASON) if last - first > SEASONAL else CAUSES[:2]


def _last_check(month: SeriesMonth, change: Change) -> str:
    mark = last_before(month.marks, change.before)
    if mark is None:
        return "no check before it is on record"
    return f"the last check before it is {mark.kind} {mark.id} of {_stamp(mark.time)}"


def _evidence(month: SeriesMonth, change: Change) -> dict[str, Any]:
    later = change.course > 0
    moments = month.since_check
    return {
        "minutes_before": int(moments.minutes[~later].sum()),
        "minutes_after": int(moments.minutes[later].sum()),
        "days": moments.days,
        "between": [_stamp(change.after), _stamp(change.before)],
        "since": told(last_before(month.marks, change.before)),
    }


def _effect(month: SeriesMonth, change: Change, value: float) -> float:
    """Change of the month's mean global, from all minutes behind the onset. [W m-2]"""
    return mean_effect(month.leans, month.since_check.middle, change.course) * value


def recorded_settings(month: SeriesMonth) -> tuple[list[Finding], Verdict]:
    """
    Whether the sun follows what the record says of the clock.

    Parameters
    ----------
    month : SeriesMonth
        The month.

    Returns
    -------
    findings : list of Finding
        One a clock check after which the corrected times stepped against the sun.
    verdict : dict
        Clock check → what is left of a step there, which is none where the record is right.
    """
    findings, verdict = [], Verdict()
    first, last = month.span
    for name in month.config.station.loggers:
        for check in clock_checks(month.config.fieldlog, name):
            later = month.since_check.middle >= check.time
            if not first <= check.time <= last or check.left is None:
                continue
            change = _step_at(month.since_check, later)
            if change is None:
                verdict[check.id] = {"verdict": NOT_ENOUGH}
                continue
            seconds, width = _as_clock(change, month.resolved.latitude)
            wrong = _is_found(change.size(EAST))
            verdict[check.id] = {
                "recorded_s": check.left - check.found,
                "left_over_s": [seconds, width],
                "verdict": "contradicted" if wrong else "agrees within the interval",
            }
            if wrong:
                findings.append(_contradiction(month, change, name, check.id, check.time))
    return findings, verdict


def _step_at(moments: Moments, later: npt.NDArray[np.bool_]) -> Change | None:
    """The step at a check; None without evidence, as where the global was moved at that visit."""
    piece = int(np.count_nonzero(~later))
    return step_before(moments, piece, (EAST,)) if piece in candidates(moments) else None


def _contradiction(
    month: SeriesMonth, change: Change, logger: str, check: str, time: int
) -> Finding:
    seconds, width = _as_clock(change, month.resolved.latitude)
    action = (
        f"look at clock check {check} of {logger}: times corrected by it step by {seconds:+.0f} +-"
        f" {width:.0f} s against the sun; is its size, sign or time wrong, or was the global moved?"
    )
    return Finding(
        month.config.station.id,
        month.period,
        "clock_check_contradicted",
        logger,
        size=seconds,
        unit="s",
        lower=seconds - width,
        upper=seconds + width,
        action=action,
        onset=time,
        evidence=_evidence(month, change) | {"clock_check": check},
        severity="act",
        effect=_effect(month, change, change.size(EAST)[0]),
        cannot_tell=CAUSES[:2],
    )
