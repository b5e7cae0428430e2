"""What the checks of a station and month read, each piece formed once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Protocol

import numpy as np

from sunledger.config.loading import StationConfig
from sunledger.config.resolve import Period
from sunledger.diagnosis.beside import NOTHING, Beside
from sunledger.diagnosis.closure_days import joined
from sunledger.diagnosis.closure_fit import EAST, Moments
from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.last_checks import Mark, marks
from sunledger.diagnosis.lean_sums import LeanSums, lean_sums
from sunledger.diagnosis.ratios import Ratios, day_values, sky_ratios
from sunledger.diagnosis.selection import (
    Array,
    ClearMinutes,
    Components,
    clear_minutes,
    closure_columns,
)
from sunledger.diagnosis.step_evidence import StepData, StepEvidence, step_data, strongest
from sunledger.diagnosis.subject import Subject, subject_of

Verdict = dict[str, Any]
"""What a check could say, in words and numbers, also where it found nothing."""
Verdicts = Mapping[str, Mapping[str, Any]]
"""Check → what it could say."""
NOT_ENOUGH = "not enough evidence"


class SeriesMonth(Protocol):
    """What the checks over months read of a month: numbers, no minutes."""

    @property
    def period(self) -> str:
        """Such as ``2031-03``."""

    @property
    def config(self) -> StationConfig:
        """The station's files."""

    @property
    def resolved(self) -> Period:
        """Resolved configuration of the month."""

    @property
    def subject(self) -> Subject:
        """Whose findings they are."""

    @property
    def span(self) -> tuple[float, float]:
        """Middles of the first and the last minute. [s since 1970-01-01]"""

    @property
    def moments(self) -> Moments:
        """Moments of closure."""

    @property
    def leans(self) -> LeanSums:
        """What a lean that changes with time does to the mean global."""

    @property
    def marks(self) -> tuple[Mark, ...]:
        """Checks of clock and level on record, by time."""

    @property
    def since_check(self) -> Moments:
        """Moments of closure since the last check before the month."""

    @property
    def told_before(self) -> Mapping[str, Verdicts]:
        """Earlier month of the station → its verdicts, in order."""

    @property
    def days_before(self) -> Moments | None:
        """Closure of the days of earlier months since the last check before this one."""


def since_last_check(month: SeriesMonth) -> Moments:
    """
    Moments of closure since the last check before a month.

    Parameters
    ----------
    month : SeriesMonth
        The month.

    Returns
    -------
    moments : Moments
        With a break wherever the record says that the global was moved within the month.
    """
    start, end = month.resolved.start, month.resolved.end
    breaks = tuple(float(m.time) for m in month.marks if m.moved and start < m.time < end)
    return joined(month.days_before, replace(month.moments, breaks=breaks))


@dataclass(frozen=True)
class DiagnosedMonth:
    """
    What the checks of a month read.

    Parameters
    ----------
    period : str
        Such as ``2031-03``.
    config : StationConfig
        The station's files.
    resolved : Period
        Resolved configuration of the month.
    parts : Components
        The three components.
    beside : Beside
        Flags and net longwave.
    told_before : mapping
        Earlier month of the station → its verdicts, in order.
    days_before : Moments or None
        Closure of the days of earlier months since the last check before this one.
    """

    period: str
    config: StationConfig
    resolved: Period
    parts: Components
    beside: Beside = NOTHING
    told_before: Mapping[str, Verdicts] = field(default_factory=dict)
    days_before: Moments | None = None

    @cached_property
    def subject(self) -> Subject:
        """
        Whose findings they are.

        Returns
        -------
        subject : Subject
            With the means of the month.
        """
        return subject_of(self.parts, self.resolved.station_id, self.period)

    @cached_property
    def clear(self) -> ClearMinutes:
        """
        Clear steady minutes.

        Returns
        -------
        clear : ClearMinutes
            Selected once.
        """
        return clear_minutes(self.parts)

    @cached_property
    def skies(self) -> tuple[Ratios, Ratios]:
        """
        Global over component sum under clear and under dull skies.

        Returns
        -------
        clear, dull : Ratios
            Formed once.
        """
        return sky_ratios(self.parts)

    @cached_property
    def moments(self) -> Moments:
        """
        Moments of closure.

        Returns
        -------
        moments : Moments
            Formed once.
        """
        wide = self.step_data.moments
        return replace(wide, matrix=wide.matrix[:, :3, :3], vector=wide.vector[:, :3])

    @cached_property
    def step_data(self) -> StepData:
        """
        What the evidence of a step is made of.

        Returns
        -------
        data : StepData
            Formed once.
        """
        return step_data(self.clear, day_values(self.skies[1], None, 1))

    @cached_property
    def strongest(self) -> StepEvidence | None:
        """
        Evidence at the morning before which most changed.

        Returns
        -------
        evidence : StepEvidence or None
            Found once.
        """
        return strongest(self.step_data)

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
            From :func:`since_last_check`.
        """
        return since_last_check(self)

    @cached_property
    def span(self) -> tuple[float, float]:
        """
        Middles of the first and the last minute.

        Returns
        -------
        first, last : float
            [s since 1970-01-01]
        """
        return float(self.parts.middle[0]), float(self.parts.middle[-1])

    @cached_property
    def leans(self) -> LeanSums:
        """
        What a lean toward east that changes with time does to the mean global.

        Returns
        -------
        leans : LeanSums
            Formed once.
        """
        return lean_sums(self.columns[:, EAST], self.parts.middle, self.moments.middle)

    @cached_property
    def columns(self) -> Array:
        """
        Regressors of closure at all times, for effects on means.

        Returns
        -------
        columns : numpy.ndarray, shape (time, 3)
            0 with the sun down, and where the direct is unknown. [W m-2]
        """
        parts = self.parts
        sun = parts.sun
        beam = np.where((sun.zenith < 90.0) & ~np.isnan(parts.dni), parts.dni, 0.0)
        return closure_columns(beam, sun.zenith, sun.azimuth)


Told = tuple[list[Finding], Verdict]
"""What was found, and what could be said."""


def _nothing_alone(_: DiagnosedMonth) -> Told:
    return [], {}


def _nothing_more(_: SeriesMonth, alone: Verdict) -> Told:
    return [], alone


@dataclass(frozen=True)
class Check:
    """
    A check of a month in two parts, so that the second can be made again without the minutes.

    Parameters
    ----------
    alone : callable
        What the month's own minutes say.
    compared : callable
        What its series says: from the numbers of the month, the verdict of the first part, and
        what earlier months told. Its verdict is the whole one.
    """

    alone: Callable[[DiagnosedMonth], Told] = _nothing_alone
    compared: Callable[[SeriesMonth, Verdict], Told] = _nothing_more

    def __call__(self, month: DiagnosedMonth) -> Told:
        """
        Make both parts.

        Parameters
        ----------
        month : DiagnosedMonth
            The month.

        Returns
        -------
        findings, verdict : list of Finding, dict
            Of both.
        """
        return self.whole(month, self.alone(month))

    def whole(self, month: SeriesMonth, told: Told) -> Told:
        """
        Make the second part.

        Parameters
        ----------
        month : SeriesMonth
            Numbers of the month and of its series.
        told : list of Finding, dict
            Of the first part.

        Returns
        -------
        findings, verdict : list of Finding, dict
            Of both.
        """
        found, verdict = told
        more, verdict = self.compared(month, verdict)
        return [*found, *more], verdict
