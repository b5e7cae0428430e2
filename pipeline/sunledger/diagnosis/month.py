"""What the checks of a station and month read, each piece formed once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from sunledger.config.loading import StationConfig
from sunledger.config.resolve import Period
from sunledger.diagnosis.beside import NOTHING, Beside
from sunledger.diagnosis.closure_days import joined
from sunledger.diagnosis.closure_fit import Moments, moments_of
from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.last_checks import Mark, marks
from sunledger.diagnosis.ratios import Ratios, sky_ratios
from sunledger.diagnosis.selection import (
    Array,
    ClearMinutes,
    Components,
    clear_minutes,
    closure_columns,
)
from sunledger.diagnosis.subject import Subject, subject_of

Verdict = dict[str, Any]
"""What a check could say, in words and numbers, also where it found nothing."""
Verdicts = Mapping[str, Mapping[str, Any]]
"""Check → what it could say."""
NOT_ENOUGH = "not enough evidence"


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
        return moments_of(self.clear)

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
            With a break wherever the record says that the global was moved within the month.
        """
        start, end = self.resolved.start, self.resolved.end
        breaks = tuple(float(m.time) for m in self.marks if m.moved and start < m.time < end)
        return joined(self.days_before, replace(self.moments, breaks=breaks))

    @cached_property
    def columns(self) -> Array:
        """
        Regressors of closure at all times, for effects on means.

        Returns
        -------
        columns : numpy.ndarray, shape (time, 3)
            0 with the sun down, NaN where the direct is unknown. [W m-2]
        """
        parts = self.parts
        sun = parts.sun
        beam = np.where(sun.zenith < 90.0, parts.dni, 0.0)
        return closure_columns(beam, sun.zenith, sun.azimuth)


Check = Callable[[DiagnosedMonth], tuple[list[Finding], Verdict]]
