"""All checks of a station and month: what they found, and what each could say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sunledger.diagnosis.chart_check import responsivity
from sunledger.diagnosis.findings import Finding, ordered
from sunledger.diagnosis.month import Check, DiagnosedMonth, Verdict
from sunledger.diagnosis.month_checks import certificates, dirt
from sunledger.diagnosis.night_checks import nights
from sunledger.diagnosis.of_record import COMPONENTS
from sunledger.diagnosis.record_naming import by_record
from sunledger.diagnosis.settling import settled
from sunledger.diagnosis.sky_checks import frost, pointing, shadows
from sunledger.diagnosis.steps import steps
from sunledger.diagnosis.symmetry import gross_errors
from sunledger.diagnosis.watchdog import changes, constant_terms, recorded_settings

VERSION = 9
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
    found: list[Finding] = []
    verdicts: dict[str, Verdict] = {}
    for name in CHECKS if names is None else names:
        more, verdicts[name] = CHECKS[name](month)
        found += more
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
    "evidence": evidence,
    "gross_errors": gross_errors,
    "constant_terms": constant_terms,
    "changes": changes,
    "steps": steps,
    "recorded_settings": recorded_settings,
    "certificates": certificates,
    "responsivity": responsivity,
    "dirt": dirt,
    "pointing": pointing,
    "shadows": shadows,
    "frost": frost,
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
