"""What the archive holds on all stations in a month, in the order in which they need a visit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sunledger.archive.findings_file import FindingsFile
from sunledger.archive.listing import Published, published, station_folders
from sunledger.report.facts_tables import events_of, finding_words
from sunledger.report.means import Means, monthly_means
from sunledger.report.month import check_month, findings_of, tables_of, title_of, written
from sunledger.vocabulary import RADIOMETRIC

LOST = ("missing", "bad")
"""Grades of minutes that nobody can use."""
HALF = 0.5
"""Share of lost minutes from which on a station comes first, whatever was found. [1]"""
FILES_LOOKED_AT = 12
"""Months back in which the last entry of the field log is looked for."""
RULE = (
    "First come stations of which half of the minutes or more are missing or bad, the one that"
    " lacks most in front. Then the more findings that ask to act; then the larger what a single"
    " finding costs a monthly mean; then the larger the share of minutes missing or bad; then the"
    " longer nobody cleaned. The first difference decides."
)
"""How stations are ordered, in words."""


@dataclass(frozen=True)
class StationState:
    """
    How a station did in a month.

    Parameters
    ----------
    station, title : str
        Identifier and name.
    minute : Published or None
        Its minute file, or a series of a slower logger.
    findings : FindingsFile or None
        None where no diagnosis was made.
    means : dict
        Quantity → month → mean and expanded uncertainty.
    cleaned, noted : float
        Times of the last cleaning and of the last entry of the field log up to the end of the
        month; NaN where none is known. [s]
    """

    station: str
    title: str
    minute: Published | None
    findings: FindingsFile | None
    means: Means
    cleaned: float = float("nan")
    noted: float = float("nan")

    @property
    def counts(self) -> Mapping[str, Any]:
        """
        Numbers of minutes, values and grades.

        Returns
        -------
        counts : dict
            As the manifest of the minute file holds them; empty without one.
        """
        return {} if self.minute is None else self.minute.manifest.accounting

    @property
    def shares(self) -> dict[str, dict[str, float]]:
        """
        Share of each grade of each radiometric quantity.

        Returns
        -------
        shares : dict
            Quantity → grade → share of the file's minutes. [1]
        """
        minutes = max(int(self.counts.get("minutes", 0)), 1)
        grades = self.counts.get("grades", {})
        return {
            q: {name: count / minutes for name, count in grades[q].items()}
            for q in RADIOMETRIC
            if q in grades
        }

    @property
    def lost(self) -> float:
        """
        Share of minutes without a usable value.

        Returns
        -------
        lost : float
            Missing or bad, mean over the radiometric quantities; 1 where nothing arrived. [1]
        """
        shares = self.shares.values()
        lost = [sum(s.get(grade, 0.0) for grade in LOST) for s in shares]
        return float(np.mean(lost)) if lost else 1.0

    @property
    def arrived(self) -> bool:
        """
        Whether any value of a radiometric quantity arrived.

        Returns
        -------
        arrived : bool
            False also where there is no file.
        """
        present = self.counts.get("present", {})
        return any(present.get(q, 0) for q in RADIOMETRIC)

    @property
    def rows(self) -> tuple[Mapping[str, Any], ...]:
        """
        Findings.

        Returns
        -------
        rows : tuple of dict
            The costliest first.
        """
        return () if self.findings is None else self.findings.rows

    @property
    def acts(self) -> int:
        """
        Findings that ask to act.

        Returns
        -------
        count : int
            Of severity ``act``.
        """
        return sum(row["severity"] == "act" for row in self.rows)

    @property
    def cost(self) -> float:
        """
        What the costliest finding costs a monthly mean.

        Returns
        -------
        cost : float
            Size of the effect. [W m-2]
        """
        return max((abs(float(row["effect"])) for row in self.rows), default=0.0)


def network_month(archive: Path, month: str) -> tuple[StationState, ...]:
    """
    All stations of an archive in a month.

    Parameters
    ----------
    archive : Path
        The archive.
    month : str
        Such as ``2031-04``.

    Returns
    -------
    states : tuple of StationState
        The one that needs a visit first in front, by ``RULE``.

    Raises
    ------
    ArchiveError
        If the month is not written so.
    """
    check_month(month)
    return in_order(_state(folder, month) for folder in station_folders(archive))


def in_order(states: Iterator[StationState]) -> tuple[StationState, ...]:
    """
    Stations in the order in which they need a visit.

    Parameters
    ----------
    states : iterator of StationState
        In any order.

    Returns
    -------
    states : tuple of StationState
        By ``RULE``; never cleaned counts as longest ago.
    """
    return tuple(
        sorted(
            states,
            key=lambda s: (
                -s.lost if s.lost >= HALF else 0.0,
                *(-s.acts, -s.cost, -s.lost),
                *(np.nan_to_num(s.cleaned, nan=-np.inf), s.station),
            ),
        )
    )


def reasons(state: StationState) -> str:
    """
    Why a station stands where it does.

    Parameters
    ----------
    state : StationState
        The station.

    Returns
    -------
    words : str
        What the rule looks at, in its order.
    """
    if not state.arrived:
        return "nothing arrived"
    parts = (
        [f"{state.acts} finding{'' if state.acts == 1 else 's'} to act on"] if state.acts else []
    )
    if state.rows:
        row = max(state.rows, key=lambda r: abs(float(r["effect"])))
        parts.append(f"costliest: {finding_words(row)} ({row['target']}), {state.cost:.2g} W m-2")
    elif state.findings is None:
        parts.append("no diagnosis was made")
    else:
        parts.append("no finding")
    parts.append(f"{100 * state.lost:.1f} % of the minutes missing or bad")
    return "; ".join(parts)


def _state(folder: Path, month: str) -> StationState:
    files = list(published(folder))
    minutes = sorted(
        (f for f in files if f.manifest.product in ("minute", "series")),
        key=lambda f: f.manifest.period,
        reverse=True,
    )
    minute = next((f for f in minutes if f.manifest.period == month), None)
    monthly = tuple(f.path for f in files if f.manifest.product == "monthly" and not f.part)
    cleaned, noted = _last_entries([f for f in minutes if f.manifest.period <= month])
    return StationState(
        folder.name,
        title_of(files, folder.name),
        minute,
        None if minute is None else findings_of(folder, minute),
        monthly_means(monthly),
        cleaned,
        noted,
    )


def _last_entries(newest_first: list[Published]) -> tuple[float, float]:
    """Times of the last cleaning and of the last entry, in the newest files that have any."""
    cleaned = noted = float("nan")
    for file in newest_first[:FILES_LOOKED_AT]:
        last = file.manifest.period
        events = events_of(tables_of(file.path))
        rows = [(t, kind) for t, kind, *_ in events if written(t)[:7] <= last]
        noted = max([noted, *(t for t, _ in rows)], key=lambda t: np.nan_to_num(t, nan=-np.inf))
        cleanings = [t for t, kind in rows if kind == "cleaning"]
        if cleanings:
            return max(cleanings), noted
    return cleaned, noted
