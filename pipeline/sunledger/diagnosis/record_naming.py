"""Changes of the east-west term, named with what the record rules out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.month import SeriesMonth
from sunledger.diagnosis.ruled_out import Lapse, ruled_out
from sunledger.diagnosis.step_causes import CLOCK, LEAN
from sunledger.diagnosis.watchdog import CAUSES

NAMES = ("clock_or_east_lean_step", "clock_or_east_lean_drift")
CAUSE_OF = {LEAN: CAUSES[0], CLOCK: CAUSES[1]}


def by_record(month: SeriesMonth, finding: Finding) -> Finding:
    """
    The finding with the causes that the record leaves.

    Parameters
    ----------
    month : SeriesMonth
        With the record.
    finding : Finding
        Any; others than changes of the east-west term come back as they are.

    Returns
    -------
    finding : Finding
        A step that no clock can have made is a step of the level. Where the record excludes both
        causes, it contradicts the data, and both are kept.
    """
    if finding.name not in NAMES or finding.onset is None:
        return finding
    east, half = finding.evidence["lean_degree"]
    first, last = (
        float(np.datetime64(t, "s").astype(np.int64)) for t in finding.evidence["between"]
    )
    days = (last - first) / 86400.0 if finding.name.endswith("drift") else 1.0
    least = max(abs(east) - half, 0.0) * days
    reasons = ruled_out(month, Lapse(first, last, least, least))
    if len(reasons) != 1:
        return finding
    left = tuple(words for cause, words in CAUSE_OF.items() if cause not in reasons)
    said = replace(finding, cannot_tell=(), evidence={**finding.evidence, "ruled_out": reasons})
    if CLOCK in reasons and finding.name.endswith("step"):
        return _lean(said, east, half)
    return replace(said, action=f"{said.action}; the record leaves {left[0]} alone")


def _lean(finding: Finding, east: float, half: float) -> Finding:
    """The same step as one of the level, toward the east or the west."""
    side, size = ("east", east) if east > 0 else ("west", -east)
    since = finding.evidence["between"][0]
    action = (
        f"level the global pyranometer: leans {size:.1f} +- {half:.1f} degree more toward {side}"
        f" since {since}; the clock is ruled out by the record"
    )
    return replace(
        finding,
        name="level_step",
        size=size,
        lower=size - half,
        upper=size + half,
        unit="degree",
        action=action,
    )
