"""Stations of an invented network, for tests of what compares them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sunledger.archive.findings_file import FindingsFile
from sunledger.archive.listing import Published
from sunledger.archive.manifest import Manifest
from sunledger.report.network import StationState

MINUTES = 1000


def state(station: str, missing: int = 0, bad: int = 0, **changes: Any) -> StationState:
    """A station with global alone."""
    good = MINUTES - missing - bad
    counts = {
        "minutes": MINUTES,
        "present": {"ghi": MINUTES - missing},
        "grades": {"ghi": {"good": good, "missing": missing, "bad": bad}},
    }
    manifest = Manifest(
        **{"product": "minute", "station": station, "period": "2031-04", "key": "k"},
        **{"inputs": (), "resolved_configuration": {}, "software": {}, "accounting": counts},
        **{"flags_raised": {}, "logical_digest": "d", "file_sha256": "s", "size": 1},
        **{"status": "provisional", "version": 1},
    )
    plain = {"findings": FindingsFile({}), "means": {}} | changes
    title = f"Station {station}"
    return StationState(station, title, Published(Path("x.nc"), manifest), **plain)


def finding(effect: float, severity: str = "look") -> dict[str, Any]:
    """A finding that costs the mean so much. [W m-2]"""
    words = {"name": "level_step", "target": "global_1", "action": "level <it>"}
    return words | {"effect": effect, "severity": severity}


def with_findings(station: str, *rows: dict[str, Any], **changes: Any) -> StationState:
    """A station with findings."""
    return state(station, findings=FindingsFile({}, rows), **changes)
