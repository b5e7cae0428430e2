"""Gaps of a month by their cause, as far as the record tells it."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.report.month import StationMonth
from sunledger.vocabulary import CONDITIONS, mask_of

Mask = npt.NDArray[np.bool_]

CAUSES = {
    "calibration": "instrument taken down, and calibrated within the gap",
    "removed": "no instrument recorded at the position",
    "power": "power failure in the field log",
    "visit": "visit or work in the field log",
    "link": "work at cables or link in the field log",
    "clock": "no reading fell here: the clock was set or drifted over half an interval",
    "line": "the raw line was rejected",
    "unknown": "nothing recorded explains it",
}
"""In this order: the first that holds names the gap."""


def causes_of_gaps(month: StationMonth, quantity: str) -> dict[str, int]:
    """
    Minutes without a value of a quantity, by cause.

    Parameters
    ----------
    month : StationMonth
        The month.
    quantity : str
        Such as ``ghi``.

    Returns
    -------
    minutes : dict of int
        Cause (one of ``CAUSES``) → intervals without a value; causes without any are left out.
    """
    if month.minutes is None:
        return {}
    ds = month.minutes
    missing = ~np.isfinite(ds[quantity].values)
    word = ds[f"{quantity}_conditions"].values
    time = ds["time"].values
    absent = (word & CONDITIONS["no_deployment"].mask) != 0
    tests = {
        "calibration": absent & _calibrated(month, quantity, time),
        "removed": absent,
        "power": _during(month, ("power",), time),
        "visit": _during(month, ("visit",), time)
        | ((word & mask_of(CONDITIONS, "maintenance")) != 0),
        "link": _during(month, ("cable",), time),
        "clock": (word & mask_of(CONDITIONS, "interval_emptied")) != 0,
        "line": (word & mask_of(CONDITIONS, "line_rejected")) != 0,
        "unknown": np.ones(time.size, bool),
    }
    counts = {}
    for cause in CAUSES:
        hit = missing & tests[cause]
        if hit.any():
            counts[cause] = int(hit.sum())
        missing &= ~hit
    return counts


def _during(month: StationMonth, kinds: tuple[str, ...], time: npt.NDArray[np.int64]) -> Mask:
    events: Any = month.tables.get("event", {})
    inside = np.zeros(time.size, bool)
    rows = zip(
        *(events.get(c, ()) for c in ("event_type", "event_start", "event_end")), strict=True
    )
    for kind, start, end in rows:
        if kind in kinds:
            inside |= (time >= start - 60) & (time < (end if np.isfinite(end) else start + 60))
    return inside


def _calibrated(month: StationMonth, quantity: str, time: npt.NDArray[np.int64]) -> Mask:
    """Times between the end of a deployment and a later one, with a certificate dated between."""
    stood: Any = month.tables.get("deployment", {})
    certified: Any = month.tables.get("calibration", {})
    inside = np.zeros(time.size, bool)
    for i, name in enumerate(stood.get("quantity", ())):
        end = stood["deployment_end"][i]
        if name != quantity or not np.isfinite(end):
            continue
        mine = [
            when
            for serial, when in zip(
                certified.get("certified_serial_number", ()),
                certified.get("calibration_time", ()),
                strict=True,
            )
            if serial == stood["serial_number"][i] and when >= end
        ]
        starts = [s for s in stood["deployment_start"] if s >= end]
        until = min(starts, default=np.inf)
        if mine and min(mine) <= until:
            inside |= (time >= end) & (time < until)
    return inside
