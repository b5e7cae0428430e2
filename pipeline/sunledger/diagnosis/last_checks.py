"""The last clock check or level check before an instant: since when a change counts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from sunledger.config.clocks import clock_checks
from sunledger.config.loading import StationConfig
from sunledger.config.models.fieldlog import Deployment, LevelCheck
from sunledger.config.resolve import Period

DAY = 86400
REACH = 366 * DAY
"""Data farther back are not compared: within a year the sun has been everywhere. [s]"""
COMPONENTS = ("ghi", "dhi", "dni")


@dataclass(frozen=True, order=True)
class Mark:
    """
    What the record has of clock or level at an instant.

    Parameters
    ----------
    time : int
        [s since 1970-01-01]
    kind : str
        Clock check, level check, or installation of the global.
    id : str
        Of the entry of the field log.
    moved : bool
        Whether the global may lean otherwise from then on, as the record itself says.
    """

    time: int
    kind: Literal["clock check", "level check", "installation"]
    id: str
    moved: bool = False


def marks(config: StationConfig, period: Period) -> tuple[Mark, ...]:
    """
    Clock checks, level checks and installations that bear on closure.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    period : Period
        Tells which loggers and positions hold the three components.

    Returns
    -------
    marks : tuple of Mark
        By time, over the whole record.
    """
    places = {p for q, p, _, _ in period.primary if q in COMPONENTS}
    level = {p for q, p, _, _ in period.primary if q == "ghi"}
    clocks = {
        logger.name
        for logger in period.loggers
        for channel in logger.channels
        if channel.kind == "signal" and channel.position in places
    }
    found = [*_of_level(config, level)]
    for name in sorted(clocks):
        found += [Mark(c.time, "clock check", c.id) for c in clock_checks(config.fieldlog, name)]
    return tuple(sorted(found))


def _of_level(config: StationConfig, positions: set[str]) -> Iterator[Mark]:
    for entry in config.fieldlog.in_force():
        if isinstance(entry, Deployment) and entry.position in positions:
            yield Mark(entry.time, "installation", entry.id, True)
        if isinstance(entry, LevelCheck) and entry.position in positions:
            last = entry.after_tightening or entry.left
            yield Mark(entry.time, "level check", entry.id, last not in (None, entry.found))


def last_before(found: tuple[Mark, ...], time: float) -> Mark | None:
    """
    The last mark before an instant.

    Parameters
    ----------
    found : tuple of Mark
        By time.
    time : float
        [s since 1970-01-01]

    Returns
    -------
    mark : Mark or None
        At or before it.
    """
    return max((m for m in found if m.time <= time), default=None)


def since(found: tuple[Mark, ...], period: Period) -> int:
    """
    From when on earlier months are compared with a month.

    Parameters
    ----------
    found : tuple of Mark
        By time.
    period : Period
        The month.

    Returns
    -------
    start : int
        The last mark before the month, at most ``REACH`` back; without one, the month's own start.
        [s since 1970-01-01]
    """
    last = last_before(found, period.start)
    return period.start if last is None else max(last.time, period.start - REACH)


def told(mark: Mark | None) -> dict[str, Any]:
    """
    A mark as a verdict tells it.

    Parameters
    ----------
    mark : Mark or None
        The mark.

    Returns
    -------
    told : dict
        Kind, identifier and time; empty without a mark.
    """
    return {} if mark is None else {"kind": mark.kind, "id": mark.id, "time": mark.time}
