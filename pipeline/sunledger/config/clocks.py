"""The record's view of each logger's clock: its error in the course of true time."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from sunledger.config.models.base import FAR_FUTURE, FAR_PAST
from sunledger.config.models.fieldlog import ClockCheck, FieldLog
from sunledger.config.models.station import Clock
from sunledger.config.remembering import remembered


@dataclass(frozen=True)
class ClockSegment:
    """
    Clock error (logger minus reference) between two instants of true time, linear in between.

    Parameters
    ----------
    start, end : int
        Half-open interval of true time. [s]
    error_start, error_end : float
        Clock error at its ends. [s]
    verified : bool
        Whether checks stand on both sides.
    """

    start: int
    end: int
    error_start: float
    error_end: float
    verified: bool


@remembered(1024)
def clock_checks(fieldlog: FieldLog, logger: str) -> tuple[ClockCheck, ...]:
    """
    Clock checks of a logger that are in force.

    Parameters
    ----------
    fieldlog : FieldLog
        The station's field log.
    logger : str
        Name of the logger.

    Returns
    -------
    checks : tuple of ClockCheck
        By time.
    """
    checks = [e for e in fieldlog.in_force() if isinstance(e, ClockCheck) and e.logger == logger]
    return tuple(sorted(checks, key=lambda c: c.time))


def _left(check: ClockCheck) -> float:
    return check.found if check.left is None else check.left


@remembered(1024)
def clock_segments(
    fieldlog: FieldLog, logger: str, clock: Clock, policy: str
) -> tuple[ClockSegment, ...]:
    """
    Clock error of a logger over all time.

    Parameters
    ----------
    fieldlog : FieldLog
        With the clock checks.
    logger : str
        Name of the logger.
    clock : Clock
        How the clock is kept right.
    policy : str
        ``interpolate`` or ``hold`` between two checks.

    Returns
    -------
    segments : tuple of ClockSegment
        Seamless from ``FAR_PAST`` to ``FAR_FUTURE``. Before the first check its as-found error is
        held, after the last one its as-left error; both are unverified. A clock disciplined by a
        time signal has no error beyond its stated bound and needs no checks.
    """
    if clock.discipline == "time_signal":
        return (ClockSegment(FAR_PAST, FAR_FUTURE, 0.0, 0.0, True),)
    checks = clock_checks(fieldlog, logger)
    if not checks:
        return (ClockSegment(FAR_PAST, FAR_FUTURE, 0.0, 0.0, False),)
    first, last = checks[0], checks[-1]
    inner = tuple(
        ClockSegment(
            a.time, b.time, _left(a), b.found if policy == "interpolate" else _left(a), True
        )
        for a, b in pairwise(checks)
    )
    return (
        ClockSegment(FAR_PAST, first.time, first.found, first.found, False),
        *inner,
        ClockSegment(last.time, FAR_FUTURE, _left(last), _left(last), False),
    )
