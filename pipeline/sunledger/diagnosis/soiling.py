"""Dirt and frost on domes: the step at a cleaning, the drift since, frosted mornings, their cost.

Closure sees differences only: dirt that is equal on all three instruments cannot be observed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.grouped import counted
from sunledger.diagnosis.growing_loss import Growth, Sky, growth
from sunledger.diagnosis.ratios import Ratios
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.separation import (
    COMPONENTS,
    SINGLE,
    Pair,
    Verdict,
    change_between,
    judge,
)
from sunledger.diagnosis.subject import WORDS, Size, Subject, finding_about, severity_of
from sunledger.physics.closure import closure_residual

Mask = npt.NDArray[np.bool_]

LEAST_STEP = 0.006
"""A smaller step at a cleaning is no matter. [1]"""
LEAST_DRIFT = 0.008
"""A smaller loss within the days seen is no matter. [1]"""
NOT_SEEN = "equal dirt on all instruments is not observable"
LEAST_FROSTED = 20
"""Flagged minutes that make a frosted morning."""
OFTEN_FROSTED = 5
"""Mornings of a month from which the dome needs looking at, whatever it costs."""
MONTH = 365.25 / 12 * 86400
"""[s]"""
STRAIGHT = "a straight line from the first day on: too few days to tell an onset"
GROWING = "nothing until an onset, then growing evenly; every onset weighed by how well it fits"


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
    mean = subject.means.get(verdict.cause, 0.0)
    return (
        pair,
        verdict,
        finding_about(
            subject,
            "cleaning_step",
            verdict.cause,
            Size(100 * verdict.size, 100 * verdict.half_width, "%"),
            clean_more_often(verdict.cause, 100 * verdict.size),
            onset=int(after[0].middle[0]),
            evidence={"clear_minutes": pair.minutes, "days": pair.days, "limit": NOT_SEEN},
            effect=-verdict.size * mean,
            severity=severity_of(verdict.size * mean),
        ),
    )


def clean_more_often(component: str, size: float, mean: float | None = None) -> str:
    """
    What a person should do after a cleaning that showed a loss.

    Parameters
    ----------
    component : str
        Whose radiometer.
    size : float
        How much less it read before it was cleaned. [%]
    mean : float or None
        The same in the mean of the days before, where ``size`` is what it had grown to. [%]

    Returns
    -------
    action : str
        The sentence.
    """
    told = "" if mean is None else f", {mean:.1f} % in the mean"
    return (
        f"clean the {WORDS[component]} radiometer more often: it read {size:.1f} % less"
        f" before it was cleaned{told}"
    )


def soiling_drift(
    subject: Subject,
    skies: Sequence[Sky],
    since: float,
    longitude: float,
    may_be: Sequence[str] = COMPONENTS,
) -> tuple[Growth | None, Verdict | None, Finding | None]:
    """
    Loss of one instrument that grows, such as since the last cleaning.

    Parameters
    ----------
    subject : Subject
        Whose.
    skies : sequence of (Ratios, Ratios)
        Clear minutes and dull hours since then, of each stretch between exchanges.
    since : float
        Since when it can have grown: the cleaning before, or where the record tells none, the
        start of the month or an exchange. [s since 1970-01-01]
    longitude : float
        East. [degree]
    may_be : sequence of str
        Components whose instrument stood there all the time. Where another one explains the ratios
        best, nothing is found.

    Returns
    -------
    growth, verdict, finding : Growth, Verdict, Finding or None
        No growth with too few days; no finding where nothing grew, a step meets the days as well,
        or the ratios do not speak for one instrument alone. The size is what was lost within the
        days seen; the onset is the earliest one (2.5 % of the weight lies before it), ``since``
        where that is the first day seen; the likely and the latest one (97.5 %) are evidence.
    """
    grown = growth(skies, longitude)
    if grown is None or not grown.pair.enough:
        return grown, None, None
    verdict = judge(grown.pair, SINGLE, LEAST_DRIFT)
    if not (verdict.cause in may_be and verdict.size < 0 and grown.sure):
        return grown, verdict, None
    return grown, verdict, _lost(subject, grown, verdict, since)


def _lost(subject: Subject, grown: Growth, verdict: Verdict, since: float) -> Finding:
    word, size = WORDS[verdict.cause], float(np.expm1(verdict.size))
    # half of it over the days from the onset on
    share = 0.5 * (grown.seen[1] - grown.onset[1]) / MONTH
    effect = share * size * subject.means.get(verdict.cause, 0.0)
    first, last = (str(np.datetime64(int(t), "s"))[:10] for t in grown.seen)
    return finding_about(
        subject,
        "soiling_drift",
        verdict.cause,
        Size(100 * size, 100 * (1 + size) * verdict.half_width, "%"),
        f"clean the {word} radiometer and note its state before: it lost {-100 * size:.1f} %"
        f" from {first} to {last}",
        onset=int(since if grown.from_the_first_day else grown.onset[0]),
        evidence={
            "clear_minutes": grown.pair.minutes,
            "days": grown.pair.days,
            "component": verdict.cause,
            "course": STRAIGHT if grown.straight else GROWING,
            "seen": [int(t) for t in grown.seen],
            "onset_likely": int(grown.onset[1]),
            "onset_latest": int(grown.onset[2]),
            "limit": NOT_SEEN,
        },
        effect=effect,
        severity=severity_of(effect),
        cannot_tell=("dirt", "drift of the sensitivity"),
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
    found, count = counted(days[frosted])
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
