"""What a finding is about: station, month, and what its quantities are worth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sunledger.diagnosis.findings import Finding, Severity
from sunledger.diagnosis.selection import Components

WORDS = {"ghi": "global", "dhi": "diffuse", "dni": "direct"}


@dataclass(frozen=True)
class Subject:
    """
    Whose month it is.

    Parameters
    ----------
    station, period : str
        Such as ``osr`` and ``2031-03``.
    means : mapping
        Component → mean over the month, nights included. [W m-2]
    """

    station: str
    period: str
    means: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Size:
    """
    A size with its interval of 95 % confidence.

    Parameters
    ----------
    value, half_width : float
        In ``unit``.
    unit : str
        Such as ``%``.
    """

    value: float
    half_width: float
    unit: str


def subject_of(parts: Components, station: str, period: str) -> Subject:
    """
    Subject of a month of minutes.

    Parameters
    ----------
    parts : Components
        The month.
    station, period : str
        Names.

    Returns
    -------
    subject : Subject
        With the plain means of what was measured; 0 where nothing was.
    """
    values = {"ghi": parts.ghi, "dhi": parts.dhi, "dni": parts.dni}
    known = {name: v[np.isfinite(v)] for name, v in values.items()}
    return Subject(
        station, period, {n: float(v.mean()) if v.size else 0.0 for n, v in known.items()}
    )


def finding_about(
    subject: Subject, name: str, target: str, size: Size, action: str, **more: Any
) -> Finding:
    """
    A finding with a symmetric interval.

    Parameters
    ----------
    subject : Subject
        Whose.
    name, target : str
        What, and which position or quantity.
    size : Size
        How much.
    action : str
        What a person should do.
    **more : object
        Further fields of the finding.

    Returns
    -------
    finding : Finding
        In the shared form.
    """
    return Finding(
        subject.station,
        subject.period,
        name,
        target,
        size.value,
        size.unit,
        size.value - size.half_width,
        size.value + size.half_width,
        action,
        **more,
    )


def severity_of(effect: float) -> Severity:
    """
    How urgent an effect on the monthly mean is.

    Parameters
    ----------
    effect : float
        [W m-2]

    Returns
    -------
    severity : str
        ``act`` from 2 W m-2, ``look`` from 0.5, else ``note``. Own limits, without a source.
    """
    return "act" if abs(effect) >= 2.0 else "look" if abs(effect) >= 0.5 else "note"
