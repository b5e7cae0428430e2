"""How far out of level the record allows each instrument to have been, and when."""

from __future__ import annotations

from sunledger.config.loading import StationConfig
from sunledger.config.models.base import FAR_FUTURE
from sunledger.config.models.fieldlog import LevelCheck
from sunledger.config.record import deployment_periods

Rows = tuple[tuple[str, int, int, float], ...]


def tilts(config: StationConfig, usual: float, start: int, end: int) -> Rows:
    """
    Largest tilts by position and time.

    Parameters
    ----------
    config : StationConfig
        Level checks and deployments.
    usual : float
        What a good check leaves open. [degree]
    start, end : int
        Period. [s]

    Returns
    -------
    rows : tuple of (position, from, until, tilt)
        Between two checks the larger of what the first left and the second found, from the
        deployment to its first check what that found, after the last one what it left; only where
        that is more than ``usual``. [s, degree]
    """
    checks = sorted(
        (e for e in config.fieldlog.in_force() if isinstance(e, LevelCheck)), key=lambda e: e.time
    )
    rows = []
    for period in deployment_periods(config.fieldlog):
        until = FAR_FUTURE if period.end is None else period.end
        position = period.entry.position
        mine = [c for c in checks if c.position == position and period.start <= c.time < until]
        begins = [period.start, *(c.time for c in mine)]
        ends = [*(c.time for c in mine), until]
        left = [0.0, *((c.after_tightening or c.left or c.found).size for c in mine)]
        found = [*(c.found.size for c in mine), 0.0]
        for begin, stop, before, after in zip(begins, ends, left, found, strict=True):
            size = max(before, after)
            if size > usual and max(begin, start) < min(stop, end):
                rows.append((position, max(begin, start), min(stop, end), size))
    return tuple(sorted(rows))
