"""Checks of a month for sensitivities, mix-ups and dirt."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.growing_loss import Growth
from sunledger.diagnosis.mixups import all_causes, certificate_mixup, gross_mixups
from sunledger.diagnosis.month import NOT_ENOUGH, DiagnosedMonth, Told, Verdict
from sunledger.diagnosis.of_record import (
    cleanings,
    coefficients_at,
    dirty_since,
    expanded_uncertainties,
    other_sensitivities,
    sensitivities,
    stretches,
    was_cleaned,
)
from sunledger.diagnosis.ratios import Ratios
from sunledger.diagnosis.responsivity import (
    against_certificates,
    changed_sensitivity,
)
from sunledger.diagnosis.separation import Pair
from sunledger.diagnosis.separation import Verdict as Opinion
from sunledger.diagnosis.soiling import (
    NOT_SEEN,
    clean_more_often,
    cleaning_step,
    soiling_drift,
)
from sunledger.diagnosis.subject import Subject

NOT_CLEANED = (
    "look at {0}, its window or dome and its cable: it reads more since other positions were"
    " cleaned, and no cleaning of its own is on record"
)
NOT_SEPARABLE = "not separable"
Sky = tuple[Ratios, Ratios]


def _within(sky: Sky, start: float, end: float) -> Sky:
    clear, dull = (r.where((r.middle >= start) & (r.middle < end)) for r in sky)
    return clear, dull


def _between(sky: Sky, edges: list[int]) -> Iterator[tuple[int, Sky, Sky]]:
    """Both sides of each edge but the first and the last."""
    sides = [_within(sky, a, b) for a, b in pairwise(edges)]
    for at, (before, after) in zip(edges[1:-1], pairwise(sides), strict=True):
        yield at, before, after


def _told(pair: Pair) -> Verdict:
    if not pair.enough:
        return {"said": NOT_ENOUGH, "clear_minutes": pair.minutes, "days": pair.days}
    dull = 100 * float(pair.value[1]) if pair.dull_known else None
    return {
        "clear_percent": 100 * float(pair.value[0]),
        "dull_percent": dull,
        "clear_minutes": pair.minutes,
        "days": pair.days,
    }


def certificates(month: DiagnosedMonth) -> Told:
    """
    Compare each stretch with its certificates, and with the stretch before an exchange.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    findings, verdict : list of Finding, dict
        Gross mix-ups first: where there is one, nothing finer is said of the month.
    """
    subject, parts = month.subject, stretches(month)
    found: list[Finding] = []
    verdict: Verdict = {"stretches": []}
    for start, end in parts:
        rows = coefficients_at(month, start)
        in_use = sensitivities(rows)
        found += _gross(month, subject, in_use, (start, end))
        causes = all_causes(in_use, other_sensitivities(month, rows))
        known = expanded_uncertainties(rows)
        sky = _within(month.skies, start, end)
        pair, opinion, own = against_certificates(subject, sky, known, causes)
        found += [f for f in (certificate_mixup(subject, pair, opinion) or own,) if f]
        verdict["stretches"].append(_told(pair))
    for (_, before_end), (start, _) in pairwise(parts):
        before = _within(month.skies, month.resolved.start, before_end)
        after = _within(month.skies, start, month.resolved.end)
        causes = all_causes(sensitivities(coefficients_at(month, start)))
        pair, opinion, own = changed_sensitivity(subject, before, after, causes)
        found += [f for f in (certificate_mixup(subject, pair, opinion) or own,) if f]
        verdict["stretches"].append(_told(pair) | {"change_at": start})
    gross = [f for f in found if f.name in ("polarity_reversed", "channels_exchanged")]
    gross += [f for f in found if f.name == "factor_of_ten"]
    return gross or found, verdict


def _gross(
    month: DiagnosedMonth, subject: Subject, in_use: dict[str, float], stretch: tuple[int, int]
) -> list[Finding]:
    middle = month.parts.middle
    inside = (middle >= stretch[0]) & (middle < stretch[1])
    return list(gross_mixups(subject, month.parts, in_use, inside))


def dirt(month: DiagnosedMonth) -> Told:
    """
    Steps at the cleanings that the field log tells, and the drift between and after them.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    findings, verdict : list of Finding, dict
        Steps only within a stretch without exchanges. A loss that a cleaning ended is told by the
        step there, with the size to which it had grown; where that could not tell it, by its
        drift, and so is a loss that an exchange ended.
    """
    subject = month.subject
    found: list[Finding] = []
    verdict: Verdict = {"cleanings": [], "drifts": [], "limit": NOT_SEEN}
    told: dict[tuple[int, str], int] = {}
    for start, end in stretches(month):
        edges = [start, *(t for t in cleanings(month) if start < t < end), end]
        for at, before, after in _between(month.skies, edges):
            pair, _, step = cleaning_step(subject, before, after)
            verdict["cleanings"].append(_told(pair) | {"at": at})
            if step:
                told[at, step.target] = len(found)
                found.append(_cleaned(month, step, at))
    edges = [month.resolved.start, *cleanings(month), month.resolved.end]
    for since, until in pairwise(edges):
        said, drifts = _drifts(month, since, until)
        verdict["drifts"] += said
        for drift in drifts:
            # a loss that an exchange ended, or of another instrument, is not that of the step
            step_at = told.get((drift.evidence["until"], drift.evidence["component"]))
            if step_at is None:
                found.append(drift)
            else:
                found[step_at] = _grown(found[step_at], drift)
    return found, verdict


def _grown(step: Finding, drift: Finding) -> Finding:
    """A step at a cleaning with the size to which the loss had grown, where the days tell it."""
    if step.name != "cleaning_step":
        return step
    action = clean_more_often(drift.evidence["component"], -drift.size, step.size)
    evidence = {**step.evidence, "mean_percent": [step.size, step.upper - step.size]}
    return replace(
        step,
        size=-drift.size,
        lower=-drift.upper,
        upper=-drift.lower,
        action=action,
        evidence=evidence | {n: drift.evidence[n] for n in ("component", "onset_likely")},
        effect=drift.effect,
        severity=drift.severity,
    )


def _drifts(month: DiagnosedMonth, since: int, until: int) -> tuple[list[Verdict], list[Finding]]:
    """Losses between two cleanings: over exchanges of other instruments, else between exchanges."""
    parts = [(max(a, since), min(b, until)) for a, b in stretches(month)]
    parts = [(a, b) for a, b in parts if a < b]
    tries = ([parts] if len(parts) > 1 else []) + [[part] for part in parts]
    said: list[Verdict] = []
    found: list[Finding] = []
    for tried in tries:
        skies = [_within(month.skies, *part) for part in tried]
        begin, end = tried[0][0], tried[-1][1]
        grown, opinion, drift = soiling_drift(
            month.subject, skies, begin, month.parts.longitude, _stayed(month, tried)
        )
        said.append(_told_drift(grown, opinion) | {"since": begin})
        found += [_placed(month, drift, (begin, end))] if drift else []
        if drift and len(tried) > 1:
            break
    return said, found


def _stayed(month: DiagnosedMonth, parts: list[tuple[int, int]]) -> list[str]:
    """Components whose instrument stood at one place through all parts."""
    rows = [coefficients_at(month, start) for start, _ in parts]
    places = [{n: (r.position, r.serial_number) for n, r in row.items()} for row in rows]
    return [name for name in places[0] if all(p[name] == places[0][name] for p in places)]


def _told_drift(grown: Growth | None, opinion: Opinion | None) -> Verdict:
    if grown is None or opinion is None:
        return {"said": NOT_ENOUGH}
    told = _told(grown.pair)
    if opinion.changed and not opinion.cause:
        return told | {"said": NOT_SEPARABLE if grown.pair.dull_known else NOT_ENOUGH}
    return told


def _cleaned(month: DiagnosedMonth, found: Finding, visit: int) -> Finding:
    """A step at a cleaning with its position, and since when the dirt can have gathered.

    An instrument that the record says was not cleaned changed for another reason.
    """
    position = coefficients_at(month, visit)[found.target].position
    if not was_cleaned(month, position, visit):
        return replace(found, name="sensitivity_changed", action=NOT_CLEANED.format(position))
    since = dirty_since(month.config, position, visit)
    evidence = {"cleaned": visit, "since": month.resolved.start if since is None else since}
    return replace(found, target=position, evidence={**found.evidence, **evidence})


def _placed(month: DiagnosedMonth, found: Finding, stretch: tuple[int, int]) -> Finding:
    """A loss with the position that has it, as a person accepts it."""
    since, until = stretch
    position = coefficients_at(month, since)[found.target].position
    return replace(found, target=position, evidence={**found.evidence, "until": until})
