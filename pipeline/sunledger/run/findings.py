"""What ingest found besides the lines themselves: jumps of an hour, other record types."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from itertools import pairwise
from typing import Any

import numpy as np
import xarray as xr

from sunledger.config.clocks import clock_segments
from sunledger.config.loading import StationConfig
from sunledger.config.models.station import Logger
from sunledger.run.publish import Outcome
from sunledger.stages.jumps import HOUR

NEAR_CHECK = 2 * 86400
"""A clock entry this near to a jump, of its size within `SLACK`, explains it. [s]"""
SLACK = 120


def line_accounting(readings: xr.Dataset, config: StationConfig, logger_id: str) -> dict[str, Any]:
    """
    Accounting of the lines of a logger and month, as the manifest holds it.

    Parameters
    ----------
    readings : xarray.Dataset
        Out of the ingest stage.
    config : StationConfig
        With the clock entries of the field log.
    logger_id : str
        The logger.

    Returns
    -------
    accounting : dict
        ``data_lines`` and what they became; where there are any, ``daylight_saving_jumps`` that no
        clock entry explains, and ``other_records``: file → lines of other record types, which are
        no data lines, of the whole file.
    """
    accounting: dict[str, Any] = dict(readings.attrs["accounting"])
    logger = config.station.loggers[logger_id]
    steps = clock_steps(config, logger_id)
    jumps = [
        _worded(jump)
        for jump in readings.attrs["hour_jumps"]
        if not _is_explained(jump, steps, logger)
    ]
    if jumps:
        accounting["daylight_saving_jumps"] = jumps
    if readings.attrs["other_records"]:
        accounting["other_records"] = readings.attrs["other_records"]
    return accounting


def clock_steps(config: StationConfig, logger_id: str) -> list[tuple[int, float]]:
    """
    Where the clock entries of the field log say that a clock was set, and by how much.

    Parameters
    ----------
    config : StationConfig
        With the field log.
    logger_id : str
        The logger.

    Returns
    -------
    steps : list of (int, float)
        True time and change of the clock's error. [s]
    """
    clock = config.station.loggers[logger_id].clock
    segments = clock_segments(config.fieldlog, logger_id, clock, "hold")
    return [
        (after.start, after.error_start - before.error_end) for before, after in pairwise(segments)
    ]


def _is_explained(jump: dict[str, Any], steps: list[tuple[int, float]], logger: Logger) -> bool:
    return any(
        abs(jump["label"] - logger.utc_offset - time) <= NEAR_CHECK
        and abs(size - jump["seconds"]) <= SLACK
        for time, size in steps
    )


def _worded(jump: dict[str, Any]) -> dict[str, Any]:
    """The same with the label as a person reads it."""
    return {**jump, "label": str(np.datetime64(jump["label"], "s"))}


def finding_lines(outcomes: Iterable[Outcome]) -> list[str]:
    """
    Findings of the lines of a station, in words.

    Parameters
    ----------
    outcomes : iterable of Outcome
        Of its voltage units.

    Returns
    -------
    lines : list of str
        One a jump, and one for all lines of other record types.
    """
    lines, others = [], dict[str, dict[str, int]]()
    for outcome in outcomes:
        others |= outcome.accounting.get("other_records", {})
        for jump in outcome.accounting.get("daylight_saving_jumps", ()):
            way = "forwards" if jump["seconds"] == HOUR else "backwards"
            lines.append(
                f"  {outcome.unit}: labels jump {way} by one hour at {jump['label']}"
                f" ({jump['file']}, line {jump['line']}): daylight saving? Without clock entries"
                " of 3600 s in the field log, times are taken as logged"
            )
    count = Counter[str]()
    for codes in others.values():
        count.update(codes)
    if count:
        said = ", ".join(f"{n:,} of record {code}" for code, n in sorted(count.items()))
        lines.append(f"  lines of other record types, not read: {said}")
    return lines
