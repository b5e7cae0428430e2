"""What the evidence of a step is made of, as plain numbers by days, and joined over months."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from sunledger.diagnosis.closure_days import joined, moments_of_rows, rows_of
from sunledger.diagnosis.closure_fit import Moments
from sunledger.diagnosis.ratios import DayValues
from sunledger.diagnosis.step_evidence import StepData

DAY = 86400.0
_DIGITS = 9


def rows_of_steps(data: StepData) -> dict[str, Any]:
    """
    The data of a month as plain numbers, one row a day.

    Parameters
    ----------
    data : StepData
        Of pieces of days.

    Returns
    -------
    rows : dict
        Moments of closure, those of the diffuse, solar days, and the dull hours.
    """
    dull = data.dull
    diffuse = [[float(f"{v:.{_DIGITS}g}") for v in row] for row in _daily(data.diffuse)]
    return {
        "closure": rows_of(data.moments),
        "diffuse": diffuse,
        "days": [int(day) for day in data.days],
        "dull": [
            [int(day), float(f"{value:.{_DIGITS}g}"), int(hours)]
            for day, value, hours in zip(dull.day, dull.value, dull.minutes, strict=True)
        ],
        "dull_share": float(dull.share) if np.isfinite(dull.share) else None,
    }


def _daily(moments: Moments) -> np.ndarray:
    start = np.flatnonzero(np.diff(moments.day, prepend=-1))
    return np.add.reduceat(moments.vector, start, axis=0) if start.size else moments.vector


def steps_of_rows(rows: Mapping[str, Any], start: float, end: float) -> StepData | None:
    """
    The data of a stretch from plain numbers.

    Parameters
    ----------
    rows : mapping
        From :func:`rows_of_steps`.
    start, end : float
        Days that begin before the one or end behind the other are left out; of dull hours, days
        by the sun that may. [s since 1970-01-01]

    Returns
    -------
    data : StepData or None
        One piece a day; None where none is left.
    """
    kept = [i for i, row in enumerate(rows["closure"]) if row[1] >= start and row[2] < end]
    moments = moments_of_rows([rows["closure"][i] for i in kept])
    if moments is None:
        return None
    diffuse = replace(moments, vector=np.array([rows["diffuse"][i] for i in kept], dtype=float))
    days = np.array([rows["days"][i] for i in kept], dtype=np.int64)
    inside = [row for row in rows["dull"] if start + DAY / 2 <= row[0] * DAY < end - 3 * DAY / 2]
    day, value, hours = np.array(inside, dtype=float).reshape(-1, 3).T
    share = float("nan") if rows["dull_share"] is None else rows["dull_share"]
    dull = DayValues(day.astype(np.int64), value, hours.astype(np.int64), share)
    return StepData(moments, diffuse, days, dull)


def joined_steps(earlier: StepData, later: StepData) -> StepData:
    """
    The data of two stretches, one after the other.

    Parameters
    ----------
    earlier, later : StepData
        From :func:`steps_of_rows`.

    Returns
    -------
    data : StepData
        A day that the end of a month parts stays one day.
    """
    moments = joined(earlier.moments, later.moments)
    diffuse = joined(earlier.diffuse, later.diffuse)
    parted = earlier.moments.days + later.moments.days - moments.days
    days = np.concatenate([earlier.days, later.days[parted:]])
    first, second = earlier.dull, later.dull
    hours = np.array([first.minutes.sum(), second.minutes.sum()], dtype=float)
    shares = np.array([first.share, second.share])
    known = (hours > 0) & np.isfinite(shares)
    share = np.average(shares[known], weights=hours[known]) if known.any() else np.nan
    days_of, values, samples = (
        np.concatenate([getattr(first, name), getattr(second, name)])
        for name in ("day", "value", "minutes")
    )
    dull = DayValues(days_of, values, samples, float(share))
    return StepData(moments, diffuse, days, dull)
