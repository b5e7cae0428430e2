"""Dirt and frost on domes: the step at a cleaning, the drift since, frosted mornings, their cost.

Closure sees differences only: dirt that is equal on all three instruments cannot be observed.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.grouped import distinct
from sunledger.diagnosis.mean_of_days import DayMean
from sunledger.diagnosis.ratios import DayValues, Ratios, day_values, usual_by_bin
from sunledger.diagnosis.robust import huber_weights, spread
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.separation import (
    SINGLE,
    Pair,
    Verdict,
    change_between,
    judge,
    pair_of,
)
from sunledger.diagnosis.subject import WORDS, Size, Subject, finding_about, severity_of
from sunledger.physics.closure import closure_residual

Mask = npt.NDArray[np.bool_]

LEAST_STEP = 0.006
"""A smaller step at a cleaning is no matter. [1]"""
LEAST_DRIFT = 0.008
"""A smaller loss from first to last day is no matter. [1]"""
NOT_SEEN = "equal dirt on all instruments is not observable"
LEAST_FROSTED = 20
"""Flagged minutes that make a frosted morning."""
OFTEN_FROSTED = 5
"""Mornings of a month from which the dome needs looking at, whatever it costs."""
_ROUNDS = 20
_PASSES = 6


def cleaning_step(
    subject: Subject, before: tuple[Ratios, Ratios], after: tuple[Ratios, Ratios]
) -> tuple[Pair, Verdict, Finding | None]:
    """
    What a cleaning changed.

    Parameters
    ----------
    subject : Subject
        Whose; the period in which the cleaning was.
    before, after : tuple of Ratios
        Clear minutes and dull hours since the cleaning before, and until the next.

    Returns
    -------
    pair, verdict, finding : Pair, Verdict, Finding or None
        None where nothing changed, one instrument alone is not the cause, it read less afterwards
        (no dirt does that), or there is not enough evidence.
    """
    pair = change_between(before, after)
    verdict = judge(pair, SINGLE, LEAST_STEP)
    if not (pair.enough and verdict.cause and verdict.size > 0):
        return pair, verdict, None
    word, mean = WORDS[verdict.cause], subject.means.get(verdict.cause, 0.0)
    return (
        pair,
        verdict,
        finding_about(
            subject,
            "cleaning_step",
            verdict.cause,
            Size(100 * verdict.size, 100 * verdict.half_width, "%"),
            f"clean the {word} radiometer more often: it read {100 * verdict.size:.1f} % less"
            " before it was cleaned",
            onset=int(after[0].middle[0]),
            evidence={"clear_minutes": pair.minutes, "days": pair.days, "limit": NOT_SEEN},
            effect=-verdict.size * mean,
            severity=severity_of(verdict.size * mean),
        ),
    )


def _slope(values: DayValues, full: int, span: int) -> DayMean:
    """Change over so many days by a straight line, as if it were a mean."""
    count, days = int(values.minutes.sum()), values.day.size
    if days < 4:
        return DayMean(float("nan"), float("inf"), count, 0, 0.0)
    base = np.minimum(values.minutes, full) / full
    passed = (values.day - values.day.mean()) / max(span, 1)
    weights, found = base, np.zeros(2)
    columns = np.stack([np.ones(days), passed], axis=1)
    for _ in range(_ROUNDS):
        root = np.sqrt(weights)[:, None]
        found = np.linalg.lstsq(columns * root, values.value * root[:, 0], rcond=None)[0]
        left = values.value - columns @ found
        weights = base * huber_weights(left, spread(left))
    inverse = np.linalg.pinv(columns.T @ (columns * weights[:, None]))
    # scatter between days as it is, not as the weights would have it
    middle = (columns * (weights * left)[:, None]).T @ (columns * (weights * left)[:, None])
    variance = float((inverse @ middle @ inverse)[1, 1]) * days / (days - 2)
    return DayMean(float(found[1]), variance, count, days, float(days - 2))


def drift_pair(clear: Ratios, dull: Ratios) -> Pair:
    """
    Change of both ratios from the first to the last day of a stretch, by a straight line.

    Parameters
    ----------
    clear, dull : Ratios
        Since the last cleaning.

    Returns
    -------
    pair : Pair
        As of a change.
    """
    # dull days may cover less of the stretch: both slopes are told over the same days
    every = np.concatenate([clear.day, dull.day])
    span = int(np.ptp(every)) if every.size else 0
    bright, slope = day_values(clear, usual_by_bin(clear)), DayMean(0.0, 0.0, 0, 0, 0.0)
    for _ in range(_PASSES):
        # positions of the sun come and go with the month: what they usually show is free of drift
        level = replace(clear, log_ratio=clear.log_ratio - slope.value * _passed(clear, span))
        bright = day_values(clear, usual_by_bin(level))
        slope = _slope(bright, 200, span)
        if not np.isfinite(slope.value):
            break
    grey = day_values(dull, None, 1)
    return pair_of(slope, _slope(grey, 4, span), np.array([bright.share, grey.share]))


def _passed(ratios: Ratios, span: int) -> npt.NDArray[np.float64]:
    """Share of the stretch that has passed, by days, around its mean."""
    if ratios.day.size == 0:
        return np.zeros(0)
    return np.asarray((ratios.day - ratios.day.mean()) / max(span, 1))


def soiling_drift(
    subject: Subject, clear: Ratios, dull: Ratios
) -> tuple[Pair, Verdict, Finding | None]:
    """
    Loss of one instrument since the last cleaning.

    Parameters
    ----------
    subject : Subject
        Whose.
    clear, dull : Ratios
        Clear minutes and dull hours since then.

    Returns
    -------
    pair, verdict, finding : Pair, Verdict, Finding or None
        As :func:`cleaning_step`; the effect is half the loss, which grew.
    """
    pair = drift_pair(clear, dull)
    verdict = judge(pair, SINGLE, LEAST_DRIFT)
    if not (pair.enough and verdict.cause and verdict.size < 0):
        return pair, verdict, None
    word, effect = WORDS[verdict.cause], verdict.size * subject.means.get(verdict.cause, 0.0) / 2
    return (
        pair,
        verdict,
        finding_about(
            subject,
            "soiling_drift",
            verdict.cause,
            Size(100 * verdict.size, 100 * verdict.half_width, "%"),
            f"clean the {word} radiometer and note its state before:"
            f" it lost {-100 * verdict.size:.1f} %",
            evidence={"clear_minutes": pair.minutes, "days": pair.days, "limit": NOT_SEEN},
            effect=effect,
            severity=severity_of(effect),
            cannot_tell=("dirt", "drift of the sensitivity"),
        ),
    )


def frost_mornings(
    subject: Subject, parts: Components, component: str, frosted: Mask
) -> Finding | None:
    """
    Count the days on which a dome was frosted or dewed.

    Parameters
    ----------
    subject : Subject
        Whose.
    parts : Components
        The month.
    component : str
        Whose dome.
    frosted : numpy.ndarray of bool, shape (time,)
        Minutes flagged so.

    Returns
    -------
    finding : Finding or None
        The size is the number of mornings, the effect what was measured there against the other
        two instruments; None without such a morning.
    """
    days = parts.day
    found, _, count = distinct(days[frosted])
    whole = found[count >= LEAST_FROSTED]
    mornings = int(whole.size)
    if not mornings:
        return None
    lost = _frost_loss(parts, component, frosted)
    return finding_about(
        subject,
        "frost_mornings",
        component,
        Size(float(mornings), 0.0, "d"),
        f"check ventilation and heating of the {WORDS[component]} dome on frosty mornings",
        onset=int(parts.middle[frosted & np.isin(days, whole)][0]),
        evidence={"minutes": int(frosted.sum()), "days": _dates(whole)},
        effect=lost,
        severity="look" if mornings >= OFTEN_FROSTED else severity_of(lost),
    )


def _dates(days: npt.NDArray[np.int64]) -> list[str]:
    return [str(np.datetime64(int(day), "D")) for day in days]


def _frost_loss(parts: Components, component: str, frosted: Mask) -> float:
    """What a frosted global lacks against diffuse plus direct, in the monthly mean. [W m-2]"""
    if component != "ghi":
        return 0.0
    missing = closure_residual(parts.ghi, parts.dhi, parts.dni, parts.cosine)[frosted]
    return float(np.nansum(missing)) / parts.middle.size


def without_loss(parts: Components, component: str, loss: float, until: float) -> Components:
    """
    The month as a clean instrument would have read it.

    Parameters
    ----------
    parts : Components
        The month.
    component : str
        Whose loss.
    loss : float
        Share lost. [1]
    until : float
        Time of the cleaning. [s since 1970-01-01]

    Returns
    -------
    parts : Components
        To tell the cost in the monthly mean; nothing in the archive changes.
    """
    values = getattr(parts, component)
    clean = np.where(parts.middle < until, values / (1.0 - loss), values)
    changed = {component: clean}
    return replace(parts, **changed)


def monthly_cost(parts: Components, component: str, loss: float, until: float) -> float:
    """
    What a loss until a cleaning cost the monthly mean.

    Parameters
    ----------
    parts : Components
        The month.
    component : str
        Whose loss.
    loss : float
        Share lost. [1]
    until : float
        Time of the cleaning. [s since 1970-01-01]

    Returns
    -------
    cost : float
        Measured less clean; negative for dirt. [W m-2]
    """
    clean = getattr(without_loss(parts, component, loss, until), component)
    return float(np.nanmean(getattr(parts, component) - clean))
