"""Accepting a finding: a dated entry in `review.yaml`, which is an input like any other."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sunledger.archive.findings_file import FINDINGS, read_findings
from sunledger.config.appending import append_entry
from sunledger.config.loading import LoadedWorkflow, StationConfig, load_workflow
from sunledger.config.models.review import Review
from sunledger.errors import SunledgerError

CONDITIONS_OF = {
    "level_step": ("level_doubtful",),
    "north_lean_or_responsivity_step": ("level_doubtful",),
    "clock_or_east_lean_step": ("clock_doubtful", "level_doubtful"),
    "clock_or_east_lean_drift": ("clock_doubtful", "level_doubtful"),
    "clock_check_contradicted": ("clock_doubtful",),
    "soiling_drift": ("soiling_recorded",),
    "cleaning_step": ("soiling_recorded",),
}
"""What accepting a finding can mean; where there are two, the person has to say which."""


@dataclass(frozen=True)
class Decided:
    """
    Who accepts a finding, when, why and as what.

    Parameters
    ----------
    role : str
        Who, by role.
    decided : str
        When, as `review.yaml` writes times.
    reason : str
        Why.
    condition : str
        One of `CONDITIONS_OF` the finding; empty where it leaves no choice.
    """

    role: str
    decided: str
    reason: str
    condition: str = ""


def accept(workflow: Path, finding: str, decided: Decided) -> Path:
    """
    Append an accepted finding to the station's `review.yaml`.

    Parameters
    ----------
    workflow : Path
        Run plan, which names stations and archive.
    finding : str
        Identifier of the finding.
    decided : Decided
        Who, when, why and as what.

    Returns
    -------
    path : Path
        The file that has one more entry. The next run applies it.

    Raises
    ------
    SunledgerError
        If the archive holds no such finding, it was accepted already, or it is not one that an
        entry could apply.
    ConfigError
        If the file or the entry is not valid.
    """
    loaded = load_workflow(workflow)
    config, row = _found(loaded, finding)
    if any(a.finding == finding for a in config.review.accepted_findings):
        raise SunledgerError(f"{finding}: accepted already")
    condition = _condition(row, decided.condition)
    path = config.folder / "review.yaml"
    entry = {
        "id": f"accepted-{finding}",
        "finding": finding,
        "condition": condition,
        "targets": [_target(config, row, condition)],
        **_lasting(row),
        "reason": decided.reason,
        "role": decided.role,
        "decided": decided.decided,
        **_bound(row, condition),
    }
    append_entry(path, entry, Review, "accepted_findings")
    return path


def _found(loaded: LoadedWorkflow, finding: str) -> tuple[StationConfig, Mapping[str, Any]]:
    known = []
    for config in loaded.stations:
        folder = loaded.archive / config.station.id / FINDINGS
        for path in sorted(folder.glob("*.jsonl")):
            for row in read_findings(path).rows:
                if row["id"] == finding:
                    return config, row
                known.append(str(row["id"]))
    allowed = ", ".join(known) or "none, the archive holds no finding"
    raise SunledgerError(f"{finding}: no such finding; allowed: {allowed}")


def _condition(row: Mapping[str, Any], wanted: str) -> str:
    possible = CONDITIONS_OF.get(row["name"], ())
    if not possible or row["onset"] is None:
        why = "cannot be accepted as doubt of a time; put right what it names instead"
        raise SunledgerError(f"{row['id']}: {why}: {row['action']}")
    if not wanted and len(possible) == 1:
        return possible[0]
    if wanted not in possible:
        why = f"say as what it is accepted; allowed: {', '.join(possible)}"
        raise SunledgerError(f"{row['id']}: {why} (got {wanted or 'nothing'})")
    return wanted


def _lasting(row: Mapping[str, Any]) -> dict[str, str]:
    """From the onset on; dirt that a cleaning ended lies between the cleaning before and it."""
    if row["name"] != "cleaning_step":
        return {"from": _written(row["onset"])}
    told = row["evidence"]
    return {"from": _written(told["since"]), "until": _written(told["cleaned"])}


def _written(time: float) -> str:
    return datetime.fromtimestamp(int(time), UTC).strftime("%Y-%m-%d %H:%M:%S")


def _bound(row: Mapping[str, Any], condition: str) -> dict[str, float]:
    """Of a loss the far end of its interval, at least the tenth of a percent."""
    if condition != "soiling_recorded":
        return {}
    far = max(abs(float(row[end])) for end in ("lower", "upper"))
    return {"bound": max(round(far, 1), 0.1)}


def _target(config: StationConfig, row: Mapping[str, Any], condition: str) -> str:
    """Position, or for a clock the logger that reads it."""
    target = str(row["target"])
    if condition != "clock_doubtful" or target in config.station.loggers:
        return target
    return next(
        name
        for name, logger in config.station.loggers.items()
        if any(c.position == target for c in logger.channels)
    )
