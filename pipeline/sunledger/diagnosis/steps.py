"""The one step of a month, by its cause: a lean, or the sensitivity of one radiometer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.diagnosis.changes import Change, step_before
from sunledger.diagnosis.closure_fit import EAST, NORTH, RESPONSIVITY, Moments
from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.month import NOT_ENOUGH, DiagnosedMonth, SeriesMonth, Told, Verdict
from sunledger.diagnosis.of_record import coefficients_at
from sunledger.diagnosis.responsivity import LEAST_CHANGE
from sunledger.diagnosis.ruled_out import Lapse, ruled_out
from sunledger.diagnosis.step_causes import (
    CLOCK,
    LEAN,
    Explanation,
    explained,
    is_change,
    possible,
)
from sunledger.diagnosis.step_evidence import StepEvidence
from sunledger.diagnosis.subject import WORDS, Size, finding_about, severity_of

Array = npt.NDArray[np.float64]

LEAST_LEAN = 0.3
"""Smaller leans are no matter. [degree]"""
CAUSE_WORDS = {
    LEAN: "a lean of the global",
    CLOCK: "an error of the logger's clock",
    **{name: f"a change of the {word} radiometer" for name, word in WORDS.items()},
}


@dataclass(frozen=True)
class Step:
    """
    What changed, when, and what can have caused it.

    Parameters
    ----------
    evidence : StepEvidence
        Its four numbers.
    after, before : float
        It lies between these. [s since 1970-01-01]
    causes : tuple of Explanation
        That agree and that the record does not rule out, the best first.
    record : mapping
        Causes that it rules out, and why.
    moments : Moments
        Of the closure in which it lies.
    behind : numpy.ndarray, shape (3,)
        Sum of the regressors of closure behind it, over all minutes of the month. [W m-2]
    later : float
        Share of the month that lies behind it. [1]
    """

    evidence: StepEvidence
    after: float
    before: float
    causes: tuple[Explanation, ...]
    record: dict[str, str]
    moments: Moments
    behind: Array
    later: float

    @property
    def names(self) -> set[str]:
        """
        Names of the causes.

        Returns
        -------
        names : set of str
            Empty where no single cause agrees.
        """
        return {c.cause for c in self.causes}


def step_of(month: DiagnosedMonth) -> Step | None:
    """
    The step at which most changed in a month.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    step : Step or None
        None without enough evidence; it may be no more than chance.
    """
    evidence = month.strongest
    if evidence is None:
        return None
    later = month.parts.middle >= month.moments.first[evidence.piece]
    behind = month.columns[later].sum(axis=0) / later.size
    return step_from(month, month.moments, evidence, (behind, float(later.mean())))


def step_from(
    month: SeriesMonth, moments: Moments, evidence: StepEvidence, behind: tuple[Array, float]
) -> Step:
    """
    A step from its evidence and the record.

    Parameters
    ----------
    month : SeriesMonth
        In which it is told.
    moments : Moments
        Of the closure in which it lies.
    evidence : StepEvidence
        Of it.
    behind : (numpy.ndarray of shape (3,), float)
        See :class:`Step`.

    Returns
    -------
    step : Step
        With the causes that the record leaves.
    """
    piece = evidence.piece
    after, before = float(moments.last[piece - 1]), float(moments.first[piece])
    record = ruled_out(month, Lapse(after, before, *_least_lean(evidence)))
    causes = possible(evidence, tuple(record))
    return Step(evidence, after, before, causes, record, moments, *behind)


def _least_lean(evidence: StepEvidence) -> tuple[float, float]:
    """Least lean to east or west, and at all, that the intervals leave. [degree]"""
    lean = explained(LEAN, evidence)
    size, half = np.abs(np.degrees(lean.size)), np.degrees(lean.half_width)
    return float(max(size[0] - half[0], 0.0)), float(max(np.hypot(*size) - np.hypot(*half), 0.0))


def steps(month: DiagnosedMonth) -> tuple[list[Finding], Verdict]:
    """
    Say what changed within the month, and by which single cause.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    findings : list of Finding
        At most one. A step that a clock explains as well as a lean is left to the watch over the
        clock (`watchdog.changes`), which tells the two together.
    verdict : dict
        The four numbers of the evidence, the causes that agree, and those the record rules out.
    """
    step = step_of(month)
    if step is None:
        return [], {"verdict": NOT_ENOUGH}
    return concluded(month, step)


def concluded(month: SeriesMonth, step: Step) -> Told:
    """
    The finding of a step and what could be said of it.

    Parameters
    ----------
    month : SeriesMonth
        In which it is told.
    step : Step
        The strongest.

    Returns
    -------
    findings, verdict : list of Finding, dict
        See :func:`steps`.
    """
    told = _told(step)
    if not is_change(step.evidence):
        return [], told | {"verdict": "no change"}
    found = _finding(month, step, told)
    words = " or ".join(CAUSE_WORDS[c.cause] for c in step.causes) or "no single cause"
    return [found] if found else [], told | {"verdict": words}


def _told(step: Step) -> dict[str, Any]:
    evidence = step.evidence
    scale = np.array([100.0, *np.degrees([1.0, 1.0]), 100.0])
    spread = np.sqrt(np.diag(evidence.variance))
    values, halves = scale * evidence.value, 1.96 * scale * spread
    names = ("responsivity_percent", "east_degree", "north_degree", "dull_percent")
    numbers = {
        name: [float(value), float(half)] if np.isfinite(value) else None
        for name, value, half in zip(names, values, halves, strict=True)
    }
    both = evidence.variance[NORTH, RESPONSIVITY] / (spread[NORTH] * spread[RESPONSIVITY])
    return numbers | {
        "between": [int(step.after), int(step.before)],
        "north_responsivity_correlation": float(both),
        "misfits": {c.cause: c.misfit for c in step.causes},
        "ruled_out": step.record,
    }


def _finding(month: SeriesMonth, step: Step, told: dict[str, Any]) -> Finding | None:
    names = step.names
    if CLOCK in names:
        return None
    if LEAN in names:
        return _lean(month, step, told)
    if len(names) == 1:
        return _sensitivity(month, step, told)
    return _open(month, step, told)


def _stamp(seconds: float) -> str:
    return datetime.fromtimestamp(int(seconds), UTC).strftime("%Y-%m-%d %H:%M")


def _position(month: SeriesMonth, name: str, time: float) -> str:
    """Where the component was measured; its own name where nothing is recorded."""
    rows = coefficients_at(month, max(int(time), month.resolved.start))
    return rows[name].position if name in rows else name


def _lean(month: SeriesMonth, step: Step, told: dict[str, Any]) -> Finding | None:
    """Alone it is a lean; with a sensitivity beside it, one of the two."""
    change = step_before(step.moments, step.evidence.piece, (EAST, NORTH))
    east, north = (np.degrees(change.size(c)[:2]) for c in (EAST, NORTH))
    size = float(np.hypot(east[0], north[0]))
    if size < LEAST_LEAN:
        return None
    half = float(np.hypot(east[0] * east[1], north[0] * north[1]) / size)
    azimuth = float(np.degrees(np.arctan2(east[0], north[0])) % 360.0)
    alone = step.names == {LEAN}
    action = (
        f"level the global pyranometer: leans {size:.1f} +- {half:.1f} degree more toward"
        f" {azimuth:.0f} degree of azimuth since {_stamp(step.after)}"
    )
    causes = [LEAN, *sorted(step.names - {LEAN})]
    others = tuple(CAUSE_WORDS[c] for c in causes)
    evidence = {"east": list(east), "north": list(north), "azimuth_degree": azimuth, **told}
    return finding_about(
        month.subject,
        "level_step" if alone else "north_lean_or_responsivity_step",
        _position(month, "ghi", step.before),
        Size(size, half, "degree"),
        action if alone else f"{action}; or {', or '.join(others[1:])}",
        onset=int(step.before),
        evidence=evidence,
        effect=(effect := _effect(step, change)),
        severity=severity_of(effect),
        cannot_tell=() if alone else others,
    )


def _effect(step: Step, change: Change) -> float:
    """Change of the month's mean global, from all minutes behind the onset. [W m-2]"""
    leans = np.array([change.size(c)[0] for c in (EAST, NORTH)])
    return float(step.behind[[EAST, NORTH]] @ leans)


def _sensitivity(month: SeriesMonth, step: Step, told: dict[str, Any]) -> Finding | None:
    (cause,) = step.causes
    size, half = 100 * float(cause.size[0]), 100 * float(cause.half_width[0])
    if abs(size) < 100 * LEAST_CHANGE:
        return None
    effect = size / 100 * step.later * month.subject.means.get(cause.cause, 0.0)
    word = WORDS[cause.cause]
    return finding_about(
        month.subject,
        "sensitivity_changed",
        cause.cause,
        Size(size, half, "%"),
        f"look at the {word} radiometer, its window or dome and its cable; compare it with a"
        f" reference: it reads {size:+.1f} +- {half:.1f} % since {_stamp(step.after)}",
        onset=int(step.before),
        evidence=told,
        effect=effect,
        severity=severity_of(effect),
    )


def _open(month: SeriesMonth, step: Step, told: dict[str, Any]) -> Finding:
    value, variance = step.evidence.value, step.evidence.variance
    size, half = 100 * float(value[RESPONSIVITY]), 196 * float(np.sqrt(variance[0, 0]))
    if step.causes:
        best = step.causes[0]
        size, half = 100 * float(best.size[0]), 100 * float(best.half_width[0])
    effect = size / 100 * month.subject.means.get("ghi", 0.0)
    others = tuple(CAUSE_WORDS[c.cause] for c in step.causes)
    return finding_about(
        month.subject,
        "closure_changed_cause_open",
        "closure",
        Size(size, half, "%"),
        "check cleanness, level, clock, cables and certificates of all three radiometers: closure"
        f" changed since {_stamp(step.after)}",
        onset=int(step.before),
        evidence=told,
        effect=effect,
        severity=severity_of(effect),
        cannot_tell=others or ("more than one cause at once",),
    )
