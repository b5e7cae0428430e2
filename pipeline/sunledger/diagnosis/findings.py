"""Findings: what a month of data says is wrong, with its size, its interval and what to do."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from typing import Any, Literal

from sunledger.archive.digest import json_digest

Severity = Literal["note", "look", "act"]

NAMES = {
    "clock_or_east_lean_step": "the east-west closure term stepped: clock set, or instrument moved",
    "clock_or_east_lean_drift": "the east-west closure term drifts: clock, or slow settling",
    "clock_check_contradicted": "the sun does not follow the recorded change of the clock",
    "level_step": "the global pyranometer leans differently than before",
    "north_lean_or_responsivity_step": "the north term stepped; responsivity may have as well",
    "time_zone_error": "times are off by whole hours",
    "half_day_error": "times are off by twelve hours",
    "longitude_reversed": "the longitude of the station has the wrong sign",
    "latitude_reversed": "the latitude of the station has the wrong sign",
    "sensitivity_changed": "one radiometer reads differently than before",
    "sensitivity_off_certificate": "one radiometer disagrees with its certificate",
    "closure_changed_cause_open": "closure changed; which radiometer did cannot be told",
    "closure_off_cause_open": "closure is off; which radiometer is wrong cannot be told",
    "certificates_swapped": "the sensitivities of two positions were exchanged",
    "certificate_of_another": "a position uses the sensitivity of another instrument",
    "factor_of_ten": "a quantity is wrong by a power of ten",
    "polarity_reversed": "the two wires of a radiometer are reversed",
    "channels_exchanged": "two positions are wired to each other's channel",
    "cleaning_step": "one radiometer read more after it was cleaned",
    "soiling_drift": "one radiometer reads less and less since its last cleaning",
    "frost_mornings": "domes were frosted or dewed on some mornings",
    "direct_lost": "the direct is missing or zero while global and diffuse show a beam",
    "tracker_off_sun": "the tracker was off the sun",
    "fails_at_one_sun_azimuth": "closure fails locally at one azimuth of the sun",
    "shade_or_pointing_drift": "closure at one azimuth of the sun changed over the months",
    "responsivity_beyond_limits": "global over component sum left the limits of its control chart",
    "night_offset_beyond_class": "the night offset is larger than the class allows",
    "night_offset_changed": "the night offset changes over the months",
    "returning_shadow": "a shadow returns at the same position of the sun",
}
"""The closed list of names; a check adds its own."""

SEVERITIES: tuple[Severity, ...] = ("note", "look", "act")
_DIGITS = 8


@dataclass(frozen=True)
class Finding:
    """
    One result above its limit.

    Parameters
    ----------
    station, period : str
        Of which month it is, such as ``osr`` and ``2031-03``.
    name : str
        One of ``NAMES``.
    target : str
        Position, quantity or logger that it bears on.
    size : float
        In ``unit``.
    unit : str
        Such as ``degree``, ``s``, ``%``; ``1`` for a share.
    lower, upper : float
        Interval of 95 % confidence of the size.
    onset : int or None
        When it began, if it did within the data. [s since 1970-01-01]
    evidence : dict
        Numbers on which it rests: minutes, days, equivalents, correlations.
    action : str
        What a person should do.
    severity : str
        ``note``, ``look`` or ``act``.
    effect : float
        Effect on the monthly mean of the quantity. [W m-2]
    cannot_tell : tuple of str
        Causes that the data cannot tell apart.
    """

    station: str
    period: str
    name: str
    target: str
    size: float
    unit: str
    lower: float
    upper: float
    action: str
    onset: int | None = None
    evidence: Mapping[str, Any] = field(default_factory=dict)
    severity: Severity = "look"
    effect: float = 0.0
    cannot_tell: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.name not in NAMES:
            raise ValueError(f"name: unknown; allowed: {', '.join(NAMES)} (got {self.name!r})")
        if not self.lower <= self.size <= self.upper:
            raise ValueError(
                f"interval: must hold the size {self.size} (got {self.lower} to {self.upper})"
            )

    @property
    def id(self) -> str:
        """
        Name by which a person accepts the finding.

        Returns
        -------
        id : str
            The same for the same name, target, month and day of onset, whatever its size.
        """
        day = None if self.onset is None else self.onset // 86400
        digest = json_digest([self.station, self.period, self.name, self.target, day])
        return f"{self.station}-{self.period}-{self.name}-{digest[:8]}"


def ordered(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """
    Findings, the one that costs most first.

    Parameters
    ----------
    findings : iterable of Finding
        In any order.

    Returns
    -------
    findings : tuple of Finding
        By effect on the monthly mean, then severity, then identifier.
    """
    return tuple(
        sorted(findings, key=lambda f: (-abs(f.effect), -SEVERITIES.index(f.severity), f.id))
    )


def plain_row(finding: Finding) -> dict[str, Any]:
    """
    A finding as one line of JSON holds it.

    Parameters
    ----------
    finding : Finding
        The finding.

    Returns
    -------
    row : dict
        With its identifier; numbers to eight significant digits, so that the last bits of another
        machine's libraries do not matter.
    """
    row = {f.name: getattr(finding, f.name) for f in fields(finding)}
    return {"id": finding.id, **{name: _rounded(value) for name, value in row.items()}}


def finding_of(row: Mapping[str, Any]) -> Finding:
    """
    The finding of a line of JSON.

    Parameters
    ----------
    row : dict
        From :func:`plain_row`.

    Returns
    -------
    finding : Finding
        Its numbers as rounded there.

    Raises
    ------
    ValueError
        If its name is not known.
    """
    known = {name: value for name, value in row.items() if name != "id"}
    return Finding(**(known | {"cannot_tell": tuple(row["cannot_tell"])}))


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return float(f"{value:.{_DIGITS}g}")
    if isinstance(value, Mapping):
        return {str(k): _rounded(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(v) for v in value]
    return value
