"""Which budget holds at a position and when, and what its coefficients depend on.

Class limits are defaults; a certificate's and then a station's widths go before them. Level checks,
recorded soiling, the age of the certificate and that of the last clock check enter by minutes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise, product
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.config.coefficients import Coefficients
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST
from sunledger.config.resolve import Period
from sunledger.config.signal_paths import SignalPath
from sunledger.physics.changing_light import largest_change
from sunledger.physics.uncertainty import Situation
from sunledger.physics.uncertainty_inputs import (
    SHADED,
    THERMAL_CORRECTION,
    Component,
    corrected,
    pyranometer_components,
    pyrgeometer_components,
    pyrheliometer_components,
    sensor_components,
)
from sunledger.stages.beside import logger_of
from sunledger.stages.on_record import (
    loss_on_record,
    tilt_on_record,
    years_of_age,
)
from sunledger.stages.signals import longwave_equation, sensitivity_at
from sunledger.stages.surroundings import Surroundings
from sunledger.stages.timing import Timing
from sunledger.vocabulary import CONDITIONS, LONGWAVE

Array = npt.NDArray[np.float64]
Values = Mapping[str, npt.NDArray[Any]]

LOWEST_CLASS = "C"
"""Taken where the inventory gives an instrument no ISO 9060 class: the careful side."""

SLOWEST_RESPONSE = 30.0
"""95 % response time of a class C pyranometer, taken where the inventory gives none. [s]"""


def lag_of(row: Coefficients) -> float:
    """
    Time constant by which an instrument lags behind the light.

    Parameters
    ----------
    row : Coefficients
        With the 95 % response time.

    Returns
    -------
    lag : float
        A third of the 95 % response time, exact for a first-order instrument. [s]
    """
    return (row.response_time or SLOWEST_RESPONSE) / 3.0


@lru_cache(maxsize=256)  # the same for all months of a certificate
def components_of(
    row: Coefficients, path: SignalPath | None = None, applied: bool = True
) -> tuple[Component, ...]:
    """
    The budget of an instrument where it stands.

    Parameters
    ----------
    row : Coefficients
        Class, certificate, shade, corrections and stated widths.
    path : SignalPath or None
        Certified gain of the way to the file, in place of the default for a logger.
    applied : bool
        Whether the corrections that are configured could be applied; which one could not, the
        record does not tell, so that none counts then.

    Returns
    -------
    components : tuple of Component
        Defaults of the class with what was corrected made smaller, then what is stated.
    """
    percent, iso_class = 200.0 * row.relative_uncertainty, row.iso_class or LOWEST_CLASS
    if row.kind == "pyrgeometer":
        found = pyrgeometer_components(percent)
    elif row.kind == "pyrheliometer":
        found = pyrheliometer_components(iso_class, percent)
    elif not row.kind.endswith("pyranometer"):
        found = sensor_components(percent)
    else:
        found = pyranometer_components(iso_class, percent)
        found += SHADED if row.shade != "none" else ()
        found += _band(row)
    found = tuple(_gain(path) if path and c.name == "logger_gain" else c for c in found)
    smaller = _applied(row) if applied else set()
    found = tuple(corrected(c) if c.name in smaller else c for c in found)
    offset = row.corrections.thermal_offset
    found += THERMAL_CORRECTION if offset is not None and offset.method == "pyrgeometer" else ()
    stated = {name: (width, law, source) for name, width, law, source in row.widths}
    return tuple(_stated(c, stated[c.name]) if c.name in stated else c for c in found)


def _band(row: Coefficients) -> tuple[Component, ...]:
    """What the correction for the sky behind a shade band leaves open, as the record states it."""
    band = row.corrections.band
    if band is None:
        return ()
    width, source = 100.0 * band.expanded_uncertainty, f"field log, entry {row.deployment}"
    return (Component("sky_obstruction", "signal", width, law="normal", source=source),)


def _gain(path: SignalPath) -> Component:
    """What the certificates of the devices on the way leave open of their gain."""
    width, source = 200.0 * path.relative_uncertainty, f"certificate {', '.join(path.certificates)}"
    return Component("logger_gain", "signal", width, law="normal", source=source)


def _paths(position: str, period: Period) -> list[tuple[int, int, SignalPath | None]]:
    """Times in which the gain of a signal is certified, and those between; none left out."""
    known = [
        (p.start, p.end, p)
        for p in period.signal_paths
        if p.position == position and p.relative_uncertainty > 0
    ]
    if not known or "logger_gain" not in period.processing.calibrate.corrections:
        return [(period.start, period.end, None)]
    edges = sorted({period.start, period.end, *(t for a, b, _ in known for t in (a, b))})
    return [
        (a, b, next((p for begin, end, p in known if begin <= a < end), None))
        for a, b in pairwise(edges)
    ]


def _applied(row: Coefficients) -> set[str]:
    """Components that a correction made smaller."""
    known = row.corrections
    steps = {
        "temperature": row.temperature_response or known.polynomial,
        "non_linearity": known.non_linearity,
        "directional": known.directional,
        "zero_offset_a": known.thermal_offset,
    }
    return {name for name, step in steps.items() if step}


def _stated(component: Component, said: tuple[float, str, str]) -> Component:
    width, law, source = said
    return replace(component, width=width, law=law, source=source)


def _thermal_sensitivity(row: Coefficients) -> float:
    """Of the sensitivity, as the correction with net longwave takes it."""
    model = row.corrections.thermal_offset
    return 0.0 if model is None else abs(model.net_longwave * model.daylight_factor)


def _longwave_parts(row: Coefficients, one: Values, sensitivity: Array | float) -> dict[str, Any]:
    if "body_temperature" not in one:
        # a file that does not keep it: the term cannot be told, so none of it averages out
        return {"proportional": np.zeros(one["mean"].shape)}
    body = np.asarray(one["body_temperature"], dtype=float)
    dome = np.asarray(one.get("dome_temperature", body), dtype=float)
    nothing = np.zeros(body.shape)
    emission = longwave_equation(row)(nothing, nothing + sensitivity, body, dome)
    constants = dict(row.constants)
    return {
        "proportional": one["mean"] - emission,
        "body": body,
        "dome": dome,
        "dome_constant": constants.get("k", constants.get("k3", 0.0)),
    }


def _situation(
    row: Coefficients, one: Values, around: Surroundings, period: Period, timing: Timing
) -> Situation:
    """Everything already cut to the minutes in which the row holds."""
    time = around.time
    points = row.sensitivity_points
    sensitivity = points[0][1] if len(points) == 1 else sensitivity_at(time.astype(float), row)
    parts: dict[str, Any] = {"proportional": np.asarray(one["mean"], dtype=float)}
    if row.quantity in LONGWAVE:
        parts = _longwave_parts(row, one, sensitivity)
    elif row.kind != "pyrheliometer":
        open_ = row.shade == "none" and row.quantity == "ghi"
        parts |= {
            "beam": around.beam if open_ else 0.0,
            "across": around.across if open_ else 0.0,
            "tilt": tilt_on_record(period, row.position, time),
            "net_longwave": around.net_longwave,
            "thermal_sensitivity": _thermal_sensitivity(row) * sensitivity,
        }
    return Situation(
        sensitivity=sensitivity,
        years=years_of_age(row, time),
        soiling=loss_on_record(period, row, time, around.interval),
        timing=timing.share * one["change"],
        **parts,
    )


@dataclass(frozen=True)
class Piece:
    """
    One certificate's minutes at one position.

    Parameters
    ----------
    where : numpy.ndarray of bool or slice
        The minutes.
    components : tuple of Component
        The budget.
    situation : Situation
        Of those minutes.
    row : Coefficients
        Certificate and instrument, of no particular time.
    path : SignalPath or None
        Certified gain of the way to the file.
    timing : Timing
        By how much those minutes may lie beside their time.
    """

    where: Any
    components: tuple[Component, ...]
    situation: Situation
    row: Coefficients
    path: SignalPath | None
    timing: Timing


def pieces(position: str, one: Values, around: Surroundings, period: Period) -> list[Piece]:
    """
    Budgets of a position with what their coefficients depend on.

    Parameters
    ----------
    position : str
        Such as ``global_1``.
    one : dict of numpy.ndarray, shape (time,)
        ``mean`` and, where known, ``min``, ``max`` [W m-2], ``body_temperature``,
        ``dome_temperature`` [K], ``residual`` [s], ``conditions``.
    around : Surroundings
        Along the same grid.
    period : Period
        Resolved configuration.

    Returns
    -------
    pieces : list of Piece
        One for each row of coefficients and way to the file that has minutes here, apart by
        whether the corrections could be applied.
    """
    change = largest_change(one["mean"], one.get("min"), one.get("max"))
    clock = around.clock(logger_of(period, position), one.get("residual"), period)
    known = {**one, "change": change}
    found = []
    rows = (r for r in period.coefficients if r.position == position)
    for row, (begin, end, path) in product(rows, _paths(position, period)):
        # rows end where the period does; a reading may have begun a little before it
        inside = clock.between(max(row.start, begin), min(row.end, end))
        lasting = _undated(row)
        for applied, where in _by_application(inside, one.get("conditions")):
            mine = {name: values[where] for name, values in known.items()}
            timing = clock.timing(lag_of(row)).cut(where)
            situation = _situation(row, mine, around.cut(where), period, timing)
            budget = components_of(lasting, path, applied)
            found.append(Piece(where, budget, situation, lasting, path, timing))
    return found


def _undated(row: Coefficients) -> Coefficients:
    """Without the ends of the period, so that all months of a certificate have the same."""
    return replace(row, start=FAR_PAST, end=FAR_FUTURE)


def _by_application(
    inside: npt.NDArray[np.bool_], conditions: npt.NDArray[Any] | None
) -> Iterator[tuple[bool, Any]]:
    """Minutes for which the configured corrections could be applied, and the others."""
    left = np.zeros(inside.shape, bool)
    if conditions is not None:
        left = (conditions & CONDITIONS["correction_not_applied"].mask) != 0
    for applied, where in ((True, inside & ~left), (False, inside & left)):
        if where.any():
            yield applied, slice(None) if where.all() else where
