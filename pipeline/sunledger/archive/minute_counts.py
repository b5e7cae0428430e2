"""What the manifest of a minute file tells of its values, so that a catalogue need not open it."""

from __future__ import annotations

from typing import Any

import numpy as np

from sunledger.archive.specification import FileSpec
from sunledger.vocabulary import GRADES, QUANTITIES

DAY = 86400
PICTURED = ("ghi", "dni", "dhi", "lwd", "swu", "lwu")
LEAST_SHARE_OF_A_DAY = 0.9


def minute_counts(spec: FileSpec) -> dict[str, Any]:
    """
    Numbers of minutes, of values and of grades, and the mean of each day.

    Parameters
    ----------
    spec : FileSpec
        A minute or series file, to be written or as read.

    Returns
    -------
    counts : dict
        ``minutes``; ``present``: quantity → number of values; ``grades``: quantity → grade → number
        of minutes; ``daily_means``: quantity → mean of the minutes of each day with a value that is
        not graded bad, one decimal, None where a tenth or more of the day is missing. [W m-2]
    """
    columns = {v.name: v.data for v in spec.variables}
    time = columns["time"]
    quantities = [q for q in QUANTITIES if f"{q}_grade" in columns]
    place = ((time - time[0]) // DAY).astype(int) if time.size else np.zeros(0, int)
    return {
        "minutes": int(time.size),
        "present": {q: int(np.isfinite(columns[q]).sum()) for q in quantities},
        "grades": {q: _grades(columns[f"{q}_grade"]) for q in quantities},
        "daily_means": {
            q: _days(columns[q], columns[f"{q}_grade"], place) for q in quantities if q in PICTURED
        },
    }


def _grades(grade: np.ndarray) -> dict[str, int]:
    counts = {name: int(np.count_nonzero(grade == code)) for name, code in GRADES.items()}
    return {name: count for name, count in counts.items() if count}


def _days(values: np.ndarray, grade: np.ndarray, place: np.ndarray) -> list[float | None]:
    good = np.isfinite(values) & (grade != GRADES["bad"])
    size = int(place[-1]) + 1 if place.size else 0
    minutes = np.bincount(place, minlength=size)
    count = np.bincount(place[good], minlength=size)
    total = np.bincount(place[good], values[good].astype(np.float64), size)
    enough = count >= LEAST_SHARE_OF_A_DAY * minutes
    return [
        round(float(t / c), 1) if e and c else None
        for t, c, e in zip(total, count, enough, strict=True)
    ]
