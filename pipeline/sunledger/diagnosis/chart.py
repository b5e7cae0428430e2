"""Control chart of the in-situ responsivity of the global pyranometer over months."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sunledger.diagnosis.responsivity import DIRECTIONAL, InSitu
from sunledger.diagnosis.subject import WORDS

QUOTED = (40.0, 50.0)
"""Zenith angles at which the responsivity is quoted where the sun gets there. [degree]"""


@dataclass(frozen=True)
class ChartMonth:
    """
    What a month brings to the chart.

    Parameters
    ----------
    ranges : tuple of InSitu
        Of 10 degrees.
    limit : float
        How far the ratio to the certificate may be from 1. [1]
    """

    ranges: tuple[InSitu, ...]
    limit: float


@dataclass(frozen=True)
class ChartPoint:
    """
    A month on the control chart.

    Parameters
    ----------
    month : str
        ISO.
    in_situ : InSitu
        At the zenith angles quoted.
    lower, upper : float
        Limits of the ratio to the certificate. [1]
    """

    month: str
    in_situ: InSitu
    lower: float
    upper: float

    @property
    def outside(self) -> bool:
        """
        Whether even the near end of the interval is beyond the limits.

        Returns
        -------
        outside : bool
            Whichever side.
        """
        near, far = (self.in_situ.ratio + s * self.in_situ.half_width for s in (-1.0, 1.0))
        return bool(far < self.lower or near > self.upper)


def chart_limit(
    uncertainty: Mapping[str, float], share: float, non_stability: float, age: float
) -> float:
    r"""
    How far a month's ratio to the certificate may be from 1.

    Parameters
    ----------
    uncertainty : mapping
        Component → expanded relative uncertainty of its calibration. [1]
    share : float
        Of the diffuse in the component sum under a clear sky. [1]
    non_stability : float
        What the class allows in a year. [1]
    age : float
        Years since the certificate of the global in force. [a]

    Returns
    -------
    limit : float
        :math:`\sqrt{U_g^2 + f^2 U_d^2 + (1-f)^2 U_b^2 + (2 u_{dir})^2 + (s t)^2}`. [1]
    """
    parts = np.array([1.0, share, 1.0 - share]) * [uncertainty[n] for n in WORDS]
    others = (2 * DIRECTIONAL) ** 2 + (non_stability * age) ** 2
    return float(np.sqrt(parts @ parts + others))


def quoted_range(months: Sequence[ChartMonth]) -> tuple[float, float] | None:
    """
    Range of zenith angles at which a series of months is quoted.

    Parameters
    ----------
    months : sequence of ChartMonth
        The last one is to be on the chart.

    Returns
    -------
    range : tuple of float or None
        45 ± 5° where every month gets there, else the common range of 10° nearest to it; without a
        common one, the range of the last month that most months share. None where the last month
        has none. [degree]
    """
    if not months or not months[-1].ranges:
        return None
    lowers = [r.zenith_from for r in months[-1].ranges]
    held = [[r.zenith_from for r in m.ranges] for m in months if m.ranges]
    count = {low: sum(low in other for other in held) for low in lowers}
    best = min(lowers, key=lambda low: (-count[low], abs(low - QUOTED[0])))
    return best, best + 10.0


def control_chart(months: Mapping[str, ChartMonth]) -> tuple[ChartPoint, ...]:
    """
    Chart of the in-situ responsivity over months.

    Parameters
    ----------
    months : mapping
        Month → what it brings.

    Returns
    -------
    chart : tuple of ChartPoint
        In order; months that the sun does not take to the zenith angles quoted are left out.
    """
    order = sorted(months)
    angles = quoted_range([months[m] for m in order])
    if angles is None:
        return ()
    rows = [(m, r, months[m].limit) for m in order for r in months[m].ranges]
    return tuple(
        ChartPoint(m, r, 1.0 - limit, 1.0 + limit)
        for m, r, limit in rows
        if r.zenith_from == angles[0]
    )
