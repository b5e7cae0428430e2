"""The series of months that a month of a station is compared with, read from the archive."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from sunledger.archive.digest import parsed_digest
from sunledger.archive.findings_file import FindingsFile, findings_path, read_findings
from sunledger.archive.manifest import read_manifest
from sunledger.diagnosis.checks import NEXT_MONTH, OVER_MONTHS
from sunledger.diagnosis.closure_days import Row, rows_of
from sunledger.diagnosis.month import Verdicts
from sunledger.errors import ArchiveError
from sunledger.run.context import RunContext
from sunledger.run.diagnosing import Minutes, kept_numbers
from sunledger.run.months import months_touched

MONTHS_BACK = 36
"""Months that a month is compared with."""


@dataclass(frozen=True)
class Told:
    """
    What later months read of a month: few numbers, by whose digest they notice a change.

    Parameters
    ----------
    verdicts : mapping
        Check → verdict, of those that compare months.
    days : list of list of float
        Closure of its days, in order of time.
    next_month : mapping
        Check → what of its verdict the month behind alone reads.
    verdicts_digest, days_digest, next_digest : str
        Of each.
    """

    verdicts: Verdicts
    days: list[Row]
    next_month: Verdicts
    verdicts_digest: str
    days_digest: str
    next_digest: str


@dataclass(frozen=True)
class Before:
    """
    What a month reads of those before it.

    Parameters
    ----------
    verdicts : dict
        Month → what it tells, of the last ``MONTHS_BACK``, in order.
    days : list of list of float
        Closure of the days since the last check.
    key : list
        Digests of exactly these numbers.
    """

    verdicts: dict[str, Verdicts]
    days: list[Row]
    key: list[Any]


def told_by(verdicts: Verdicts, days: list[Row]) -> Told:
    """
    What later months read of a month.

    Parameters
    ----------
    verdicts : mapping
        Check → its verdict.
    days : list of list of float
        Closure of its days.

    Returns
    -------
    told : Told
        With the fields of ``OVER_MONTHS`` and ``NEXT_MONTH``, which follow from the month's own
        minutes alone.
    """
    kept, behind = _fields(verdicts, OVER_MONTHS), _fields(verdicts, NEXT_MONTH)
    return Told(kept, days, behind, *(parsed_digest(part) for part in (kept, days, behind)))


def _fields(verdicts: Verdicts, asked: Mapping[str, tuple[str, ...]]) -> Verdicts:
    found = {
        check: {f: said[f] for f in wanted if f in said}
        for check, wanted in asked.items()
        if (said := verdicts.get(check))
    }
    return {check: fields for check, fields in found.items() if fields}


class StationSeries:
    """
    Months of a station, each read once.

    Parameters
    ----------
    context : RunContext
        The run.
    station : str
        Identifier of the station.
    minutes : iterable of Minutes
        Months of the run that can be judged.
    keys : mapping
        Month → key of its numbers, of these months.
    left_out : collection of str
        Months of the run that cannot be judged, and those on which no raw file bears any more: no
        other month is compared with them, whatever was found in them before.
    """

    def __init__(
        self,
        context: RunContext,
        station: str,
        minutes: Mapping[str, Minutes],
        keys: Mapping[str, str],
        left_out: Collection[str] = (),
    ) -> None:
        self._context, self._station = context, station
        self._minutes, self._keys, self._left_out = minutes, keys, left_out
        self._told: dict[str, Told | None] = {}

    def file(self, period: str) -> FindingsFile | None:
        """
        The findings file of a month.

        Parameters
        ----------
        period : str
            Such as ``2031-03``.

        Returns
        -------
        file : FindingsFile or None
            None where there is no sound one.
        """
        try:
            return read_findings(findings_path(self._context.archive / self._station, period))
        except (ArchiveError, OSError):
            return None

    def learn(self, period: str, file: FindingsFile | None) -> FindingsFile | None:
        """
        Take notice of the findings file of a month, so that it is not read a second time.

        Parameters
        ----------
        period : str
            Such as ``2031-03``.
        file : FindingsFile or None
            From :meth:`file`.

        Returns
        -------
        file : FindingsFile or None
            The same.
        """
        self._told[period] = None if period in self._left_out else self._read(period, file)
        return file

    def told(self, period: str) -> Told | None:
        """
        What later months read of a month.

        Parameters
        ----------
        period : str
            Such as ``2031-03``.

        Returns
        -------
        told : Told or None
            None where the month was not judged, or is left out.
        """
        if period not in self._told:
            self.learn(period, self.file(period))
        return self._told[period]

    def _read(self, period: str, file: FindingsFile | None) -> Told | None:
        """From the findings file where that is of the month's numbers, else from those kept."""
        key = self._keys.get(period)
        if file is not None and key in (None, file.header.get("numbers")):
            header = file.header
            whole = (
                "verdicts" in header and "closure" in header and not self._withdrawn(period, key)
            )
            return told_by(header["verdicts"], header["closure"]) if whole else None
        if key is None:
            return None
        numbers = kept_numbers(self._context, self._minutes[period], key)
        return None if numbers is None else told_by(numbers.verdicts, rows_of(numbers.moments))

    def _withdrawn(self, period: str, key: str | None) -> bool:
        """Whether a month that is not of the run was withdrawn."""
        if key is not None:
            return False
        manifest = read_manifest(self._context.product_path(self._station, "minute", period))
        return manifest is not None and manifest.status == "withdrawn"

    def before(self, period: str, begin: int, start: int) -> Before:
        """
        What a month reads of those before it.

        Parameters
        ----------
        period : str
            The month, such as ``2031-03``.
        begin, start : int
            From when on days count, and the month's start. [s since 1970-01-01]

        Returns
        -------
        before : Before
            Months that were not judged are left out.
        """
        year, number = map(int, period.split("-"))
        count = year * 12 + number - 1
        names = [_month(m) for m in range(count - MONTHS_BACK, count)]
        told = {name: t for name in names if (t := self.told(name)) is not None}
        verdicts = {name: t.verdicts for name, t in told.items()}
        key = [[name, t.verdicts_digest] for name, t in told.items()]
        if (last := told.get(names[-1])) is not None:
            verdicts[names[-1]] = {**last.verdicts, **last.next_month}
            key.append([names[-1], last.next_digest])
        rows, digests = self._days(begin, start)
        return Before(verdicts, rows, [key, begin, digests])

    def _days(self, begin: int, start: int) -> tuple[list[Row], list[str]]:
        rows: list[Row] = []
        digests = []
        for told in map(self.told, months_touched(begin, start)):
            if told is None:
                continue
            inside = [row for row in told.days if begin <= row[1] < start]
            whole = len(inside) == len(told.days)
            digests.append(told.days_digest if whole else parsed_digest(inside))
            rows += inside
        return rows, digests


def _month(count: int) -> str:
    return f"{count // 12:04}-{count % 12 + 1:02}"
