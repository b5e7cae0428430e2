"""Deployments as periods: which instrument stands where, from when until when."""

from __future__ import annotations

from dataclasses import dataclass

from sunledger.config.models.fieldlog import Deployment, FieldLog, Removal
from sunledger.config.remembering import remembered


@dataclass(frozen=True)
class DeploymentPeriod:
    """
    One deployment in force with its half-open period.

    Parameters
    ----------
    entry : Deployment
        The field log's entry.
    start : int
        First second. [s]
    end : int or None
        First second after it; None while the instrument still stands. [s]
    """

    entry: Deployment
    start: int
    end: int | None


def standing_for(fieldlog: FieldLog) -> dict[str, str]:
    """
    Which entry now stands for each identifier, along chains of corrections.

    Parameters
    ----------
    fieldlog : FieldLog
        The field log.

    Returns
    -------
    current : dict of str
        Identifier of every entry → identifier of the entry in force.
    """
    current: dict[str, str] = {}
    for entry in fieldlog.entries:
        if entry.corrects is not None:
            for known, now in current.items():
                if now == current[entry.corrects]:
                    current[known] = entry.id
        current[entry.id] = entry.id
    return current


@remembered(256)
def deployment_periods(fieldlog: FieldLog) -> tuple[DeploymentPeriod, ...]:
    """
    Every deployment in force with its period.

    Parameters
    ----------
    fieldlog : FieldLog
        The field log.

    Returns
    -------
    periods : tuple of DeploymentPeriod
        By start, then identifier. A period ends at the deployment's ``until`` or at the removal
        that names it (or an entry it corrects), whichever is earlier.
    """
    current, ends = standing_for(fieldlog), dict[str, list[int]]()
    entries = fieldlog.in_force()
    for removal in (e for e in entries if isinstance(e, Removal)):
        ends.setdefault(current.get(removal.deployment, ""), []).append(removal.time)
    rows = []
    for entry in (e for e in entries if isinstance(e, Deployment)):
        stops = [*ends.get(entry.id, []), *([] if entry.until is None else [entry.until])]
        rows.append(DeploymentPeriod(entry, entry.time, min(stops, default=None)))
    return tuple(sorted(rows, key=lambda p: (p.start, p.entry.id)))
