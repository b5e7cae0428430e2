"""The longest flagged stretches of a month, as entries of `review.yaml` to edit."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.errors import SunledgerError
from sunledger.vocabulary import CONDITIONS, GRADES, RADIOMETRIC, TESTS, mask_of

Mask = npt.NDArray[np.bool_]
Times = npt.NDArray[np.int64]

BRIDGED = 5
"""Unflagged intervals that do not part a stretch."""
REVIEWED = mask_of(CONDITIONS, "review_accepted", "review_rejected")


@dataclass(frozen=True)
class Stretch:
    """
    One flagged stretch of a quantity.

    Parameters
    ----------
    quantity : str
        The quantity.
    start, end : int
        Half-open. [s since 1970-01-01, UTC]
    flagged : int
        Questionable or bad intervals in it.
    reasons : tuple of (str, int)
        Flags and conditions with their numbers of intervals, most first.
    """

    quantity: str
    start: int
    end: int
    flagged: int
    reasons: tuple[tuple[str, int], ...]


def stretches_of(doubted: Mask) -> tuple[Times, Times]:
    """
    First and last-but-one indices of stretches, short gaps bridged.

    Parameters
    ----------
    doubted : numpy.ndarray of bool, shape (time,)
        Intervals in question.

    Returns
    -------
    starts, ends : numpy.ndarray of int64, shape (stretch,)
        Half-open.
    """
    at = np.flatnonzero(doubted).astype(np.int64)
    if at.size == 0:
        return at, at
    parted = np.flatnonzero(np.diff(at) > BRIDGED + 1)
    return at[np.concatenate(([0], parted + 1))], at[np.append(parted, at.size - 1)] + 1


def _reasons(flags: npt.NDArray[np.int32], conditions: npt.NDArray[np.int32]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for words, bits in ((flags, TESTS), (conditions, CONDITIONS)):
        for name, bit in bits.items():
            counts[name] = int(np.count_nonzero(words & bit.mask))
    return {name: n for name, n in counts.items() if n}


def flagged_stretches(ds: xr.Dataset, longest: int) -> tuple[Stretch, ...]:
    """
    Find the longest stretches that are questionable or bad and not yet reviewed.

    Parameters
    ----------
    ds : xarray.Dataset
        Archived minutes.
    longest : int
        How many.

    Returns
    -------
    stretches : tuple of Stretch
        Longest first; of equal length, the earlier.
    """
    time = ds["time"].values.astype("M8[s]").astype(np.int64)
    interval = int(time[1] - time[0]) if time.size > 1 else 60
    found: list[Stretch] = []
    for quantity in (q for q in RADIOMETRIC if f"{q}_grade" in ds):
        flags, conditions, grade = (
            ds[f"{quantity}_{word}"].values for word in ("flags", "conditions", "grade")
        )
        doubted = np.isin(grade, (GRADES["questionable"], GRADES["bad"]))
        doubted &= (conditions & REVIEWED) == 0
        for a, b in zip(*stretches_of(doubted), strict=True):
            inside = slice(int(a), int(b))
            counts = _reasons(flags[inside], conditions[inside])
            ranked = tuple(sorted(counts.items(), key=lambda c: (-c[1], c[0])))
            flagged = int(doubted[inside].sum())
            end = int(time[b - 1]) + interval
            found.append(Stretch(quantity, int(time[a]), end, flagged, ranked))
    found.sort(key=lambda s: (s.start - s.end, s.start, s.quantity))
    return tuple(found[:longest])


def _stamp(seconds: int) -> str:
    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%d %H:%M:%S")


def entry_lines(stretch: Stretch, role: str, decided: str) -> list[str]:
    """
    Write one stretch as an entry of `review.yaml`.

    Parameters
    ----------
    stretch : Stretch
        The stretch.
    role : str
        Who decides, by role.
    decided : str
        When, as `review.yaml` writes times.

    Returns
    -------
    lines : list of str
        YAML, to be put below ``decisions:``.
    """
    first = datetime.fromtimestamp(stretch.start, UTC).strftime("%Y%m%d-%H%M")
    why = ", ".join(f"{name} {n}" for name, n in stretch.reasons)
    return [
        f'  - id: "{stretch.quantity}-{first}"',
        f'    from: "{_stamp(stretch.start)}"',
        f'    until: "{_stamp(stretch.end)}"',
        f"    quantities: [{stretch.quantity}]",
        "    decision: reject  # or accept",
        f'    reason: "to be stated; {stretch.flagged} flagged: {why}"',
        f'    role: "{role}"',
        f'    decided: "{decided}"',
    ]


def suggestions(path: Path, longest: int, role: str, decided: str) -> list[str]:
    """
    Ready-made entries for the longest flagged stretches of a minute file.

    Parameters
    ----------
    path : Path
        Minute file.
    longest : int
        How many stretches.
    role, decided : str
        Who decides and when.

    Returns
    -------
    lines : list of str
        YAML of a list ``decisions``; it loads as it stands.

    Raises
    ------
    SunledgerError
        If there is no such file.
    """
    if not path.is_file():
        raise SunledgerError(f"{path}: no such minute file")
    with xr.open_dataset(path) as ds:
        found = flagged_stretches(ds, longest)
    if not found:
        return ["decisions: []"]
    return ["decisions:", *(line for s in found for line in entry_lines(s, role, decided))]
