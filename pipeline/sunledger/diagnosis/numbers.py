"""The numbers of a month: all that is needed to judge it in its series, without its minutes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.archive.digest import plain_data
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import Period
from sunledger.diagnosis.checks import alone
from sunledger.diagnosis.closure_fit import Moments
from sunledger.diagnosis.findings import finding_of
from sunledger.diagnosis.last_checks import Mark, marks
from sunledger.diagnosis.lean_sums import LeanSums
from sunledger.diagnosis.month import DiagnosedMonth, Told, Verdicts, since_last_check
from sunledger.diagnosis.subject import Subject

Arrays = Mapping[str, npt.NDArray[Any]]
_MOMENTS = ("day", "middle", "first", "last", "minutes", "matrix", "vector")
_SUMS = ("plain", "rising")


@dataclass(frozen=True)
class MonthNumbers:
    """
    What the minutes of a month say by themselves.

    Parameters
    ----------
    means : mapping
        Component → mean over the month. [W m-2]
    span : (float, float)
        Middles of the first and the last minute. [s since 1970-01-01]
    moments : Moments
        Of closure.
    leans : LeanSums
        What a lean that changes with time does to the mean global.
    told : mapping
        Check → findings and verdict of its first part.
    """

    means: Mapping[str, float]
    span: tuple[float, float]
    moments: Moments
    leans: LeanSums
    told: Mapping[str, Told]

    @property
    def verdicts(self) -> Verdicts:
        """
        What each check could say.

        Returns
        -------
        verdicts : mapping
            Of the first parts.
        """
        return {name: verdict for name, (_, verdict) in self.told.items()}


@dataclass(frozen=True)
class KeptMonth:
    """
    What the checks over months read of a month whose minutes are not at hand.

    Parameters
    ----------
    period : str
        Such as ``2031-03``.
    config : StationConfig
        The station's files.
    resolved : Period
        Resolved configuration of the month.
    numbers : MonthNumbers
        Of the month.
    told_before : mapping
        Earlier month of the station → its verdicts, in order.
    days_before : Moments or None
        Closure of the days of earlier months since the last check before this one.
    """

    period: str
    config: StationConfig
    resolved: Period
    numbers: MonthNumbers
    told_before: Mapping[str, Verdicts] = field(default_factory=dict)
    days_before: Moments | None = None

    @property
    def subject(self) -> Subject:
        """
        Whose findings they are.

        Returns
        -------
        subject : Subject
            With the means of the month.
        """
        return Subject(self.resolved.station_id, self.period, self.numbers.means)

    @property
    def span(self) -> tuple[float, float]:
        """
        Middles of the first and the last minute.

        Returns
        -------
        first, last : float
            [s since 1970-01-01]
        """
        return self.numbers.span

    @property
    def moments(self) -> Moments:
        """
        Moments of closure.

        Returns
        -------
        moments : Moments
            Of the month.
        """
        return self.numbers.moments

    @property
    def leans(self) -> LeanSums:
        """
        What a lean toward east that changes with time does to the mean global.

        Returns
        -------
        leans : LeanSums
            Of the month.
        """
        return self.numbers.leans

    @cached_property
    def marks(self) -> tuple[Mark, ...]:
        """
        Checks of clock and level on record.

        Returns
        -------
        marks : tuple of Mark
            By time.
        """
        return marks(self.config, self.resolved)

    @cached_property
    def since_check(self) -> Moments:
        """
        Moments of closure since the last check before the month.

        Returns
        -------
        moments : Moments
            From :func:`sunledger.diagnosis.month.since_last_check`.
        """
        return since_last_check(self)


def numbers_of(month: DiagnosedMonth) -> tuple[dict[str, npt.NDArray[Any]], dict[str, Any]]:
    """
    Numbers of a month as they are kept.

    Parameters
    ----------
    month : DiagnosedMonth
        With its minutes.

    Returns
    -------
    arrays, plain : dict of numpy.ndarray, dict
        For :func:`restored_numbers`; the second is plain data.

    Raises
    ------
    ValueError
        If a number of a finding or a verdict is not finite.
    """
    arrays = {name: np.asarray(getattr(month.moments, name)) for name in _MOMENTS}
    arrays |= {name: getattr(month.leans, name) for name in _SUMS}
    told = {
        name: {"findings": [vars(f) for f in found], "verdict": verdict}
        for name, (found, verdict) in alone(month).items()
    }
    plain: dict[str, Any] = plain_data(
        {
            "means": month.subject.means,
            "span": month.span,
            "minutes": month.leans.minutes,
            "told": told,
        }
    )
    return arrays, plain


def restored_numbers(arrays: Arrays, plain: Mapping[str, Any]) -> MonthNumbers:
    """
    Numbers of a month from what was kept.

    Parameters
    ----------
    arrays, plain : mapping of numpy.ndarray, mapping
        From :func:`numbers_of`.

    Returns
    -------
    numbers : MonthNumbers
        To the last bit.
    """
    told = {
        name: ([finding_of(row) for row in part["findings"]], part["verdict"])
        for name, part in plain["told"].items()
    }
    first, last = plain["span"]
    return MonthNumbers(
        plain["means"],
        (first, last),
        Moments(*(arrays[name] for name in _MOMENTS)),  # type: ignore[arg-type]
        LeanSums(arrays["plain"], arrays["rising"], plain["minutes"]),
        told,
    )
