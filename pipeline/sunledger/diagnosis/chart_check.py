"""Check of a month's responsivity against the limits of its control chart."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import astuple
from typing import Any

from sunledger.config.coefficients import Coefficients
from sunledger.diagnosis.chart import ChartMonth, ChartPoint, chart_limit, control_chart
from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.month import (
    NOT_ENOUGH,
    Check,
    DiagnosedMonth,
    SeriesMonth,
    Told,
    Verdict,
)
from sunledger.diagnosis.of_record import (
    coefficients_at,
    expanded_uncertainties,
    sensitivities,
    stretches,
)
from sunledger.diagnosis.ratios import Ratios
from sunledger.diagnosis.responsivity import (
    InSitu,
    against_certificates,
    responsivity_by_zenith,
    responsivity_in_tens,
)
from sunledger.diagnosis.separation import LEAST_CLEAR
from sunledger.diagnosis.subject import Size, finding_about, severity_of
from sunledger.physics.iso9060 import PYRANOMETER_CLASSES

YEAR = 365.25 * 86400
UNSTATED = "C"
"""Class whose non-stability is taken where none is recorded."""
OFF_CERTIFICATE = "off_certificate"
"""Between the two parts of the check: instruments that could be at fault where none is named."""


def _alone(month: DiagnosedMonth) -> Told:
    """What the month brings to the chart, and which instruments could be off their certificate."""
    whole = stretches(month)
    if not whole:
        return [], {"verdict": NOT_ENOUGH}
    start, end = whole[-1]
    clear, dull = (r.where((r.middle >= start) & (r.middle < end)) for r in month.skies)
    if clear.day.size < LEAST_CLEAR[0]:
        return [], {"verdict": NOT_ENOUGH, "clear_minutes": int(clear.day.size)}
    rows = coefficients_at(month, start)
    own = ChartMonth(responsivity_in_tens(clear), _limit(rows, clear, month))
    pair = (clear, dull)
    _, opinion, said = against_certificates(month.subject, pair, expanded_uncertainties(rows))
    return [], _told(own, clear, rows) | {
        OFF_CERTIFICATE: None if said else list(opinion.candidates)
    }


def _compared(month: SeriesMonth, alone: Verdict) -> Told:
    """The month on its chart; beyond the limits, a finding unless the certificates say so."""
    if OFF_CERTIFICATE not in alone:
        return [], alone
    told = {name: value for name, value in alone.items() if name != OFF_CERTIFICATE}
    chart = control_chart(dict(_earlier(month)) | {month.period: _charted(told)})
    told["chart"] = [[p.month, *astuple(p.in_situ)[:4], p.lower, p.upper] for p in chart]
    if not chart or not chart[-1].outside:
        return [], told | {"verdict": "within the limits"}
    candidates = alone[OFF_CERTIFICATE]
    named = [] if candidates is None else [_finding(month, chart[-1], tuple(candidates))]
    return named, told | {"verdict": "beyond the limits"}


responsivity = Check(_alone, _compared)
"""Puts the month on the control chart of the global's responsivity. A finding where it is beyond
its limits and no comparison with the certificates says so already. The verdict: ratio to the
certificate and responsivity by zenith angle, limit, and the chart so far."""


def _limit(rows: dict[str, Coefficients], clear: Ratios, month: DiagnosedMonth) -> float:
    row = rows["ghi"]
    age = max(0.0, (month.resolved.end - row.certified) / YEAR)
    allowed = PYRANOMETER_CLASSES[row.iso_class or UNSTATED].non_stability / 100.0
    return chart_limit(expanded_uncertainties(rows), float(clear.share.mean()), allowed, age)


def _told(own: ChartMonth, clear: Ratios, rows: dict[str, Coefficients]) -> Verdict:
    sensitivity = sensitivities(rows)["ghi"]
    bins = responsivity_by_zenith(clear)
    return {
        "certificate": rows["ghi"].certificate,
        "certificate_responsivity": sensitivity,
        "bins": [[*astuple(b), b.responsivity(sensitivity)] for b in bins],
        "ranges": [list(astuple(r)) for r in own.ranges],
        "limit": own.limit,
    }


def _charted(told: Mapping[str, Any]) -> ChartMonth:
    """What a month brings to the chart, as its verdict holds it."""
    return ChartMonth(tuple(InSitu(*r) for r in told["ranges"]), told["limit"])


def _earlier(month: SeriesMonth) -> Iterator[tuple[str, ChartMonth]]:
    for name, verdicts in month.told_before.items():
        held = verdicts.get("responsivity", {})
        if "ranges" in held:
            yield name, _charted(held)


def _finding(month: SeriesMonth, point: ChartPoint, candidates: tuple[str, ...]) -> Finding:
    off, half = point.in_situ.ratio - 1.0, point.in_situ.half_width
    effect = off * month.subject.means.get("ghi", 0.0)
    return finding_about(
        month.subject,
        "responsivity_beyond_limits",
        "closure",
        Size(100 * off, 100 * half, "%"),
        "compare all three radiometers with references: global over component sum is beyond what"
        f" certificates and class allow ({100 * (point.upper - 1.0):.1f} %)",
        evidence={"zenith_from": point.in_situ.zenith_from, "days": point.in_situ.days},
        effect=effect,
        severity=severity_of(effect),
        cannot_tell=candidates or ("more than one instrument at once",),
    )
