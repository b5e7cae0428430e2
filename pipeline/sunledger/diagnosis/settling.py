"""Findings that speak of the same thing: the one that knows more stands, the others give way."""

from __future__ import annotations

from collections.abc import Iterable

from sunledger.diagnosis.findings import Finding

NEAR = 3 * 86400
"""Onsets nearer than this are one. [s]"""
GROSS = frozenset(
    {
        *("polarity_reversed", "channels_exchanged", "factor_of_ten"),
        *("time_zone_error", "half_day_error", "longitude_reversed", "latitude_reversed"),
    }
)
SILENCED = frozenset(
    {
        *("clock_or_east_lean_step", "clock_or_east_lean_drift", "clock_check_contradicted"),
        *("level_step", "north_lean_or_responsivity_step", "sensitivity_changed"),
        *("sensitivity_off_certificate", "closure_changed_cause_open", "closure_off_cause_open"),
        *("certificates_swapped", "certificate_of_another", "responsivity_beyond_limits"),
        *("cleaning_step", "soiling_drift", "fails_at_one_sun_azimuth", "shade_or_pointing_drift"),
    }
)
"""Beside a gross error nothing finer can be told of closure."""
CLOSURE_STEPS = frozenset({"sensitivity_changed", "closure_changed_cause_open"})
NAMED_STEPS = frozenset({"level_step", "north_lean_or_responsivity_step", *CLOSURE_STEPS})
GIVES_WAY: dict[str, frozenset[str]] = {
    "clock_or_east_lean_step": NAMED_STEPS,
    # a step is told as if nothing else changed: what grows looks like some of a lean
    "level_step": frozenset({"soiling_drift", "cleaning_step"}),
    "sensitivity_changed": frozenset({"cleaning_step", "certificates_swapped", "soiling_drift"}),
    "closure_changed_cause_open": frozenset(
        {
            *("certificates_swapped", "certificate_of_another", "sensitivity_changed"),
            *("cleaning_step", "soiling_drift"),
        }
    ),
    "north_lean_or_responsivity_step": frozenset(
        {
            *("certificates_swapped", "certificate_of_another", "sensitivity_changed"),
            *("cleaning_step", "soiling_drift"),
        }
    ),
    "responsivity_beyond_limits": frozenset(
        {"sensitivity_off_certificate", "certificates_swapped", "certificate_of_another"}
    ),
}
"""Finding → those that explain it where they begin near it, last over it, or have no beginning."""


def settled(findings: Iterable[Finding]) -> list[Finding]:
    """
    Findings without those that another one explains.

    Parameters
    ----------
    findings : iterable of Finding
        Of all checks of a month.

    Returns
    -------
    findings : list of Finding
        In the order given. Of two with the same identifier the first stands; a gross error
        silences everything finer.
    """
    held = list({f.id: f for f in reversed(list(findings))}.values())[::-1]
    if any(f.name in GROSS for f in held):
        return [f for f in held if f.name not in SILENCED]
    return [f for f in held if not any(_explains(other, f) for other in held)]


def _explains(other: Finding, finding: Finding) -> bool:
    if other.name not in GIVES_WAY.get(finding.name, ()):
        return False
    if other.name == finding.name or other is finding:
        return False
    # what grew is no step, but another instrument may have stepped beside it
    whose = other.evidence.get("component", finding.target)
    if finding.name == "sensitivity_changed" and whose != finding.target:
        return False
    grew = "onset_likely" in other.evidence
    if (finding.name, other.name, grew) == ("level_step", "cleaning_step", False):
        return False
    if other.onset is None or finding.onset is None:
        return True
    # a loss lasts: what changes while it grows, or at the cleaning that ends it, is the loss
    since = min(other.onset, int(other.evidence.get("onset_likely", other.onset)))
    until = int(other.evidence.get("until", other.onset))
    return since - NEAR <= finding.onset <= until + NEAR
