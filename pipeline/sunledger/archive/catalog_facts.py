"""What the catalogue tells of a file: completeness, grades, flags, daily means."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

from sunledger.archive.findings_file import findings_path, read_findings
from sunledger.archive.listing import Published
from sunledger.errors import ArchiveError
from sunledger.vocabulary import GRADES, QUANTITIES


@dataclass(frozen=True)
class MonthFacts:
    """
    What the catalogue tells of a minute file.

    Parameters
    ----------
    sha256 : str
        Digest of the file these facts are of.
    completeness : dict
        Quantity → share of minutes with a value. [1]
    grades : dict
        Quantity → grade → share of minutes. [1]
    flags : dict
        Quantity → flag → share of minutes, the most frequent first, without ``missing``. [1]
    days : dict
        Quantity → mean of the minutes of each day with a value that is not graded bad; None where
        a tenth or more of the day is missing. [W m-2]
    findings : list of str or None
        What the diagnosis found, the one that costs most first; None where none was made.
    """

    sha256: str
    completeness: Mapping[str, float] = field(default_factory=dict)
    grades: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    flags: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    days: Mapping[str, list[float | None]] = field(default_factory=dict)
    findings: list[str] | None = None


MOST_FLAGS = 3


def month_facts(file: Published) -> MonthFacts:
    """
    The facts of a minute file, from its manifest and the findings of its month.

    Parameters
    ----------
    file : Published
        The file.

    Returns
    -------
    facts : MonthFacts
        Shares with four decimals, means with one.
    """
    said = file.manifest.accounting
    minutes = max(int(said.get("minutes", 0)), 1)
    present = said.get("present", {})
    grades = said.get("grades", {})
    quantities = [q for q in QUANTITIES if q in present]
    return MonthFacts(
        file.manifest.file_sha256,
        {q: round(present[q] / minutes, 4) for q in quantities},
        {q: _shares(grades[q], minutes) for q in quantities if q in grades},
        {q: _flags(file, q, minutes) for q in quantities},
        {q: days for q in QUANTITIES if (days := said.get("daily_means", {}).get(q)) is not None},
        _findings(file),
    )


def _findings(file: Published) -> list[str] | None:
    path = findings_path(file.path.parents[1], file.manifest.period)
    try:
        rows = read_findings(path).rows
    except ArchiveError:  # none was made, or `verify` says what is wrong with it
        return None
    return [
        f"{str(row['name']).replace('_', ' ')} ({row['target']}): {row['size']:.3g} {row['unit']}"
        f" ({row['lower']:.3g} to {row['upper']:.3g}); {row['action']}"
        for row in rows
    ]


def _shares(counts: Mapping[str, int], minutes: int) -> dict[str, float]:
    return {name: round(counts[name] / minutes, 4) for name in GRADES if name in counts}


def _flags(file: Published, quantity: str, minutes: int) -> dict[str, float]:
    raised = dict(file.manifest.flags_raised.get(quantity, {}))
    raised.pop("missing", None)
    most = sorted(raised.items(), key=lambda item: (-item[1], item[0]))[:MOST_FLAGS]
    return {name: round(count / minutes, 4) for name, count in most}


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
