"""All checks of a station and month: what they found, and what each could say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sunledger.diagnosis.chart_check import responsivity
from sunledger.diagnosis.findings import Finding, ordered
from sunledger.diagnosis.month import Check, DiagnosedMonth, SeriesMonth, Told, Verdict
from sunledger.diagnosis.month_checks import certificates, dirt
from sunledger.diagnosis.month_turn import over_turn, steps_within
from sunledger.diagnosis.night_checks import nights
from sunledger.diagnosis.of_record import COMPONENTS
from sunledger.diagnosis.record_naming import by_record
from sunledger.diagnosis.settling import settled
from sunledger.diagnosis.sky_checks import frost, pointing, shadows
from sunledger.diagnosis.symmetry import gross_errors
from sunledger.diagnosis.watchdog import changes, constant_terms, recorded_settings

VERSION = 17
"""Raise it when a check says something else of the same minutes."""


def diagnosed(
    month: DiagnosedMonth, names: Iterable[str] | None = None
) -> tuple[tuple[Finding, ...], dict[str, Verdict]]:
    """
    Run every check on a month.

    Parameters
    ----------
    month : DiagnosedMonth
        What the checks read.
    names : iterable of str or None
        Of the checks to run; all by default.

    Returns
    -------
    findings : tuple of Finding
        The one that costs most first.
    verdicts : dict
        Check → what it could say, also where it found nothing.
    """
    told = {name: CHECKS[name](month) for name in (CHECKS if names is None else names)}
    return _concluded(month, told)


def alone(month: DiagnosedMonth) -> dict[str, Told]:
    """
    What the month's own minutes say, check by check.

    Parameters
    ----------
    month : DiagnosedMonth
        What the checks read.

    Returns
    -------
    told : dict
        Check → findings and verdict of its first part.
    """
    return {name: check.alone(month) for name, check in CHECKS.items()}


def compared(
    month: SeriesMonth, told: Mapping[str, Told]
) -> tuple[tuple[Finding, ...], dict[str, Verdict]]:
    """
    Run the second part of every check.

    Parameters
    ----------
    month : SeriesMonth
        Numbers of the month and of its series.
    told : mapping
        From :func:`alone`, of the same month.

    Returns
    -------
    findings, verdicts : tuple of Finding, dict
        As :func:`diagnosed`.
    """
    whole = {name: check.whole(month, told[name]) for name, check in CHECKS.items()}
    return _concluded(month, whole)


def _concluded(
    month: SeriesMonth, told: Mapping[str, Told]
) -> tuple[tuple[Finding, ...], dict[str, Verdict]]:
    found = [f for findings, _ in told.values() for f in findings]
    verdicts = {name: verdict for name, (_, verdict) in told.items()}
    return ordered(by_record(month, f) for f in settled(found)), verdicts


def evidence(month: DiagnosedMonth) -> tuple[list[Finding], Verdict]:
    """
    Say how much there is to judge by.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    findings : list of Finding
        None.
    verdict : dict
        Numbers of clear steady minutes and of days with enough of them.
    """
    return [], {"clear_minutes": int(month.clear.middle.size), "clear_days": month.moments.days}


CHECKS: dict[str, Check] = {
    "evidence": Check(evidence),
    "gross_errors": Check(gross_errors),
    "constant_terms": Check(constant_terms),
    "changes": Check(compared=lambda month, _: changes(month)),
    "steps": Check(steps_within, over_turn),
    "recorded_settings": Check(compared=lambda month, _: recorded_settings(month)),
    "certificates": Check(certificates),
    "responsivity": responsivity,
    "dirt": Check(dirt),
    "pointing": pointing,
    "shadows": Check(shadows),
    "frost": Check(frost),
    "nights": nights,
}
"""In this order; a new check is one row."""

OVER_MONTHS: Mapping[str, tuple[str, ...]] = {
    "responsivity": ("ranges", "limit"),
    "pointing": ("sectors",),
    "nights": COMPONENTS,
}
"""Check → fields of its verdict with which later months are compared. They follow from their own
month alone, so that a changed month stales those after it once and no further."""
NEXT_MONTH: Mapping[str, tuple[str, ...]] = {"steps": ("series",)}
"""The same that the month behind alone reads."""
