"""Findings after a run: stale or fresh is decided here, many are made by workers."""

from __future__ import annotations

from collections.abc import Sequence

from sunledger.run.context import RunContext
from sunledger.run.diagnosing import diagnose, stale_findings
from sunledger.run.engine import diagnose_on_cluster
from sunledger.run.publish import Outcome
from sunledger.run.unit import Unit

MANY_FINDINGS = 24
"""Months to be judged for which workers are started: some ten seconds of work."""


def judge(
    context: RunContext, units: Sequence[Unit], workers: int, scheduler: str | None
) -> list[Outcome]:
    """
    Make the findings that are stale after a run's units were made.

    Parameters
    ----------
    context : RunContext
        The run.
    units : sequence of Unit
        Of the plan.
    workers : int
        Worker processes.
    scheduler : str or None
        Address of an existing cluster.

    Returns
    -------
    outcomes : list of Outcome
        One a month. Many stale months of several stations are judged by workers, a station each,
        and then stations without a stale one are left out.
    """
    if workers > 1 or scheduler is not None:
        stale = stale_findings(context, units)
        if len(stale) > 1 and stale.total() >= MANY_FINDINGS:
            mine = [unit for unit in units if unit.station in stale]
            return diagnose_on_cluster(context, mine, workers, scheduler)
    return diagnose(context, units)
