"""Gaps of a month by their cause, as far as the record tells it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.report.month import StationMonth
from sunledger.report.wiring import SUPPLY, Wiring, wiring_of
from sunledger.vocabulary import CONDITIONS, mask_of

Mask = npt.NDArray[np.bool_]

CAUSES = {
    "calibration": "instrument taken down, and calibrated before it stood again",
    "removed": "no instrument recorded at the position",
    "power": "power failure in the field log, or low supply beside the gap",
    "visit": "visit or work in the field log",
    "link": "work at cables or link in the field log",
    "clock": "no reading fell here: the clock was set or drifted over half an interval",
    "line": "the raw line was rejected",
    "not begun or ended": "before the first or after the last line of the month",
    "link or logger": "no line came, supply good before and after: link, logger or a lost file",
    "no line": "no line came; nothing recorded says why",
    "unknown": "the line came without a usable number; nothing recorded explains it",
}
"""In this order: the first that holds names the gap."""
NAMED = ("calibration", "removed", "power", "visit", "link")
"""Causes that the record or a status names; the others say what is missing, not why."""


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
    lines = lines_seen(ds, wiring_of(month, quantity))
    tests = {
        "calibration": absent & _calibrated(month, quantity, time),
        "removed": absent,
        "power": _during(month, ("power",), time) | lines.low_supply,
        "visit": _during(month, ("visit",), time)
        | ((word & mask_of(CONDITIONS, "maintenance")) != 0),
        "link": _during(month, ("cable",), time),
        "clock": (word & mask_of(CONDITIONS, "interval_emptied")) != 0,
        "line": (word & mask_of(CONDITIONS, "line_rejected")) != 0,
        "not begun or ended": lines.outside,
        "link or logger": lines.good_supply,
        "no line": lines.silent,
        "unknown": np.ones(time.size, bool),
    }
    counts = {}
    for cause in CAUSES:
        hit = missing & tests[cause]
        if hit.any():
            counts[cause] = int(hit.sum())
        missing &= ~hit
    return counts


@dataclass(frozen=True)
class Lines:
    """
    Where no line of a logger came, and what its supply was beside such stretches.

    Parameters
    ----------
    silent : array of bool, shape (time,)
        No reading fell into the interval.
    outside : array of bool, shape (time,)
        Silent before the first or after the last reading of the month.
    low_supply : array of bool, shape (time,)
        Silent, and the supply was below its least value before or after.
    good_supply : array of bool, shape (time,)
        Silent, and the supply was known and not low before and after.
    """

    silent: Mask
    outside: Mask
    low_supply: Mask
    good_supply: Mask


def lines_seen(ds: xr.Dataset, wiring: Wiring | None) -> Lines:
    """
    Where no line of a logger came.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes.
    wiring : Wiring or None
        The logger; None where it is not known, so that nothing is said of it.

    Returns
    -------
    lines : Lines
        All false where nothing can be said.
    """
    none = np.zeros(ds.sizes["time"], bool)
    residual = None if wiring is None else ds.get(f"clock_residual_{wiring.logger}")
    if wiring is None or residual is None:
        return Lines(none, none, none, none)
    came = np.isfinite(residual.values)
    before, after = _neighbours(came)
    silent = ~came
    outside = silent & ((before < 0) | (after >= came.size))
    inside = silent & ~outside
    if wiring.least_supply is None or SUPPLY not in ds:
        return Lines(silent, outside, none, none)
    supply = ds[SUPPLY].values
    sides = np.stack([supply[np.maximum(before, 0)], supply[np.minimum(after, came.size - 1)]])
    low = (sides < wiring.least_supply).any(axis=0)
    good = (sides >= wiring.least_supply).all(axis=0)
    return Lines(silent, outside, inside & low, inside & good)


def _neighbours(came: Mask) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Places of the readings before and after each interval; -1 and the size for none."""
    places = np.arange(came.size)
    before = np.maximum.accumulate(np.where(came, places, -1))
    after = np.minimum.accumulate(np.where(came, places, came.size)[::-1])[::-1]
    return before, after


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
    """Times after an instrument was taken down that was calibrated before it stood again."""
    inside = np.zeros(time.size, bool)
    stood = list(_stood(month))
    for own, serial, _, end in stood:
        if own != quantity or not np.isfinite(end):
            continue
        again = min((s for _, n, s, _ in stood if n == serial and s >= end), default=np.inf)
        follows = min((s for q, _, s, _ in stood if q == quantity and s >= end), default=np.inf)
        if any(end <= when <= again for when in _certified(month, serial)):
            inside |= (time >= end) & (time < follows)
    return inside


def _stood(month: StationMonth) -> Iterator[tuple[str, str, float, float]]:
    """Quantity, serial number, start and end of each deployment that the file names."""
    table: Any = month.tables.get("deployment", {})
    names = ("quantity", "serial_number", "deployment_start", "deployment_end")
    yield from zip(*(table.get(n, ()) for n in names), strict=True)


def _certified(month: StationMonth, serial: str) -> list[float]:
    table: Any = month.tables.get("calibration", {})
    rows = zip(
        *(table.get(n, ()) for n in ("certified_serial_number", "calibration_time")), strict=True
    )
    return [when for name, when in rows if name == serial]
