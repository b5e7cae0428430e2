"""What the catalogue tells of a file: completeness, grades, flags, daily means."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

import numpy as np

from sunledger.archive.listing import Published
from sunledger.archive.netcdf import read_file
from sunledger.vocabulary import GRADES, QUANTITIES

DAY = 86400
PICTURED = ("ghi", "dni", "dhi", "lwd", "swu", "lwu")


@dataclass(frozen=True)
class MonthFacts:
    """
    What the catalogue tells of a minute file.

    Parameters
    ----------
    sha256 : str
        Digest of the file these facts were read from.
    completeness : dict
        Quantity → share of minutes with a value. [1]
    grades : dict
        Quantity → grade → share of minutes. [1]
    flags : dict
        Quantity → flag → share of minutes, the most frequent first, without ``missing``. [1]
    days : dict
        Quantity → mean of the minutes of each day with a value that is not graded bad; None where
        a tenth or more of the day is missing. [W m-2]
    """

    sha256: str
    completeness: Mapping[str, float] = field(default_factory=dict)
    grades: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    flags: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    days: Mapping[str, list[float | None]] = field(default_factory=dict)


LEAST_SHARE_OF_A_DAY = 0.9
MOST_FLAGS = 3


def month_facts(file: Published) -> MonthFacts:
    """
    Read the facts of a minute file.

    Parameters
    ----------
    file : Published
        The file.

    Returns
    -------
    facts : MonthFacts
        Shares with four decimals, means with one.

    Raises
    ------
    ArchiveError
        If the file cannot be read.
    """
    said = file.manifest.accounting
    minutes = max(int(said.get("minutes", 0)), 1)
    quantities = [q for q in QUANTITIES if q in said.get("present", {})]
    names = [n for q in quantities for n in (q, f"{q}_grade")]
    spec = read_file(file.path, ["time", *names])
    place = ((spec["time"].data - spec["time"].data[0]) // DAY).astype(int)
    grades = {q: spec[f"{q}_grade"].data for q in quantities}
    return MonthFacts(
        file.manifest.file_sha256,
        {q: round(said["present"][q] / minutes, 4) for q in quantities},
        {q: _shares(grades[q]) for q in quantities},
        {q: _flags(file, q, minutes) for q in quantities},
        {q: _days(spec[q].data, grades[q], place) for q in quantities if q in PICTURED},
    )


def _shares(grade: np.ndarray) -> dict[str, float]:
    shares = {name: float(np.mean(grade == code)) for name, code in GRADES.items()}
    return {name: round(share, 4) for name, share in shares.items() if share}


def _flags(file: Published, quantity: str, minutes: int) -> dict[str, float]:
    raised = dict(file.manifest.flags_raised.get(quantity, {}))
    raised.pop("missing", None)
    most = sorted(raised.items(), key=lambda item: (-item[1], item[0]))[:MOST_FLAGS]
    return {name: round(count / minutes, 4) for name, count in most}


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


def page_link(page: Path, target: Path) -> str:
    """
    Link from a page to a file, as it stands in an address.

    Parameters
    ----------
    page : Path
        The page.
    target : Path
        The file.

    Returns
    -------
    link : str
        Relative, with everything quoted that an address cannot hold.
    """
    relative = os.path.relpath(target, page.parent)
    return quote(Path(relative).as_posix())
