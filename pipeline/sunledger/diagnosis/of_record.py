"""What of the record the checks of sensitivities, dirt and shadows read."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from sunledger.config.coefficients import Coefficients
from sunledger.config.loading import StationConfig
from sunledger.config.models.fieldlog import Deployment, PositionEvent
from sunledger.diagnosis.month import DiagnosedMonth, SeriesMonth

COMPONENTS = ("ghi", "dhi", "dni")
VISIT = 6 * 3600
"""Cleanings nearer than this are of one visit. [s]"""
MEASURES = {
    "thermopile_pyranometer": ("ghi", "dhi"),
    "black_and_white_pyranometer": ("ghi", "dhi"),
    "pyrheliometer": ("dni",),
}


def coefficients_at(month: SeriesMonth, time: int) -> dict[str, Coefficients]:
    """
    Coefficients with which the components are computed at a time.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.
    time : int
        [s since 1970-01-01]

    Returns
    -------
    coefficients : dict of Coefficients
        Component → the row of its primary position; components without one are left out.
    """
    resolved = month.resolved
    places = {q: p for q, p, start, end in resolved.primary if start <= time < end}
    return {
        row.quantity: row
        for row in resolved.coefficients
        if row.quantity in COMPONENTS
        and row.start <= time < row.end
        and row.position == places.get(row.quantity, row.position)
    }


def stretches(month: SeriesMonth) -> tuple[tuple[int, int], ...]:
    """
    Stretches of a month in which nobody exchanged an instrument or a certificate.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    stretches : tuple of (int, int)
        Half-open, in order; those in which a component has no coefficients are left out.
    """
    rows = [r for r in month.resolved.coefficients if r.quantity in COMPONENTS]
    inside = {t for r in rows for t in (r.start, r.end)}
    inside |= {t for q, _, *both in month.resolved.primary if q in COMPONENTS for t in both}
    start, end = month.resolved.start, month.resolved.end
    edges = sorted({start, end} | {t for t in inside if start < t < end})
    return tuple(
        (a, b) for a, b in pairwise(edges) if coefficients_at(month, a).keys() == set(COMPONENTS)
    )


def sensitivities(rows: dict[str, Coefficients]) -> dict[str, float]:
    """
    Sensitivities in use.

    Parameters
    ----------
    rows : dict of Coefficients
        From :func:`coefficients_at`.

    Returns
    -------
    sensitivities : dict of float
        Component → at the first of its points. [uV W-1 m2]
    """
    return {name: row.sensitivity_points[0][1] for name, row in rows.items()}


def expanded_uncertainties(rows: dict[str, Coefficients]) -> dict[str, float]:
    """
    Expanded uncertainties of the calibrations in force.

    Parameters
    ----------
    rows : dict of Coefficients
        From :func:`coefficients_at`.

    Returns
    -------
    uncertainties : dict of float
        Component → relative, k = 2. [1]
    """
    return {name: 2 * row.relative_uncertainty for name, row in rows.items()}


def other_sensitivities(
    month: DiagnosedMonth, rows: dict[str, Coefficients]
) -> dict[str, tuple[str, float]]:
    """
    Sensitivities in the inventory that are not in use.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.
    rows : dict of Coefficients
        In use.

    Returns
    -------
    others : dict of (str, float)
        Serial and certificate number → component, and sensitivity [uV W-1 m2]. Of instruments that
        stand at no primary position: those that do are tried as exchanged pairs.
    """
    standing = {row.serial_number for row in rows.values()}
    return {
        f"{unit.serial_number} {calibration.certificate} as {component}": (
            component,
            calibration.sensitivity.as_left,
        )
        for unit in month.config.inventory.instruments
        if unit.serial_number not in standing
        for calibration in unit.calibrations
        for component in MEASURES.get(unit.kind, ())
    }


def cleanings(month: DiagnosedMonth) -> tuple[int, ...]:
    """
    Times at which something was cleaned.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.

    Returns
    -------
    times : tuple of int
        Within the month, rising; of cleanings of one visit, within ``VISIT`` of its first, that
        first. [s since 1970-01-01]
    """
    visits: list[int] = []
    start, end = month.resolved.start, month.resolved.end
    for time in sorted({int(e.time) for e in _cleanings(month.config) if start < e.time < end}):
        if not visits or time - visits[-1] > VISIT:
            visits.append(time)
    return tuple(visits)


def was_cleaned(month: DiagnosedMonth, position: str, visit: int) -> bool:
    """
    Whether a position was among those cleaned at a visit.

    Parameters
    ----------
    month : DiagnosedMonth
        The month.
    position : str
        Which.
    visit : int
        Time of the visit's first cleaning. [s since 1970-01-01]

    Returns
    -------
    cleaned : bool
        Also where an entry names no position.
    """
    entries = _cleanings(month.config, position)
    return any(0 <= e.time - visit <= VISIT for e in entries)


def dirty_since(config: StationConfig, position: str, visit: int) -> int | None:
    """
    Since when dirt that a visit ended may have gathered.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    position : str
        Which.
    visit : int
        Time of the visit. [s since 1970-01-01]

    Returns
    -------
    since : int or None
        The cleaning before it, or the beginning of the deployment, whichever is later; None where
        the record has neither. [s since 1970-01-01]
    """
    entries = config.fieldlog.in_force()
    times = [e.time for e in entries if isinstance(e, Deployment) and e.position == position]
    times += [e.time for e in _cleanings(config, position)]
    return max((int(t) for t in times if t < visit), default=None)


def _cleanings(config: StationConfig, position: str | None = None) -> Iterator[PositionEvent]:
    """Of one position, or of any."""
    for event in config.fieldlog.in_force():
        if not isinstance(event, PositionEvent) or event.type != "cleaning":
            continue
        if position is None or not event.positions or position in event.positions:
            yield event
