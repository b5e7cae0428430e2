"""What an instrument and its certificate made of a reading, step by step, and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from sunledger.config.coefficients import Coefficients
from sunledger.config.models.instruments import sensitivity_unit
from sunledger.run.tracing import Trace
from sunledger.stages.calibrate import recorded_steps
from sunledger.stages.signals import SIGNAL_IN_MICROVOLTS, sensitivity_at, without_over_range
from sunledger.stages.uncertain_minutes import COVERAGE_FACTOR, budget_of_minute
from sunledger.vocabulary import LONGWAVE, QUANTITIES


def physics_lines(t: Trace) -> Iterator[str]:
    """
    Instrument, certificate, coefficients in force, and what each correction added.

    Parameters
    ----------
    t : Trace
        The value.

    Yields
    ------
    line : str
        One statement each.
    """
    row = coefficients_of(t)
    if row is None:
        yield f"position {t.position}: no instrument with a certificate stood there"
        return
    iso_class = f", ISO 9060 class {row.iso_class}" if row.iso_class else ""
    yield f"position {t.position}: {row.kind.replace('_', ' ')} {row.serial_number}{iso_class}"
    yield f"entry {row.deployment}: shade {row.shade}, {'' if row.ventilated else 'not '}ventilated"
    yield from _certificate(t, row)
    if t.rows.size:
        yield from _steps(t, row)


def coefficients_of(t: Trace) -> Coefficients | None:
    """
    The coefficients that were applied.

    Parameters
    ----------
    t : Trace
        The value.

    Returns
    -------
    row : Coefficients or None
        None where no deployment with a certificate covers the reading.
    """
    start = float(t.time)
    if t.rows.size:
        start = float(t.readings[f"start_time_{t.logger.name}"].values[t.rows[0]])
    rows = (r for r in t.period.coefficients if r.position == t.position)
    return next((r for r in rows if r.start <= start < r.end), None)


def _certificate(t: Trace, row: Coefficients) -> Iterator[str]:
    table = t.tables["calibration"]
    for place in np.flatnonzero(table["certificate"] == row.certificate)[:1]:
        day = np.datetime64(int(table["calibration_time"][place]), "s").astype("M8[D]")
        yield (
            f"certificate {row.certificate} of {day}, {table['laboratory'][place]},"
            f" scale {table['reference_scale'][place]}, method {table['method'][place]}"
        )
        yield (
            f"certified {table['sensitivity'][place]:g} {table['sensitivity_unit'][place]},"
            " expanded uncertainty"
            f" {table['expanded_uncertainty'][place]:g} % (k = {table['coverage_factor'][place]:g})"
        )
    if row.scale_factor != 1.0:
        yield f"expressed on {row.reference_scale}, factor {row.scale_factor:g} on irradiance"
    if len(row.sensitivity_points) > 1:
        dates = " and ".join(
            f"{value:g} on {np.datetime64(time, 's').astype('M8[D]')}"
            for time, value in row.sensitivity_points
        )
        yield f"sensitivity interpolated in time between {dates}"
    if row.equation is not None:
        said = ", ".join(f"{name} {value:g}" for name, value in row.constants)
        yield f"equation {row.equation}{', ' if said else ''}{said}"


def _signal(t: Trace) -> npt.NDArray[np.float64]:
    channel = next(
        c
        for c in t.logger.channels
        if c.position == t.position and c.kind == "signal" and c.statistic == "mean"
    )
    logged = without_over_range(t.logged[channel.name].values[t.rows])
    return np.asarray(logged * SIGNAL_IN_MICROVOLTS[channel.unit])


def _steps(t: Trace, row: Coefficients) -> Iterator[str]:
    start = t.readings[f"start_time_{t.logger.name}"].values[t.rows]
    sensitivity = float(np.mean(sensitivity_at(start, row)))
    voltage = float(np.mean(_signal(t)))
    unit, per = QUANTITIES[row.quantity].units, sensitivity_unit(row.kind)
    yield from _way(t, float(start[0]))
    yield f"signal {voltage:.3f} uV; sensitivity in force {sensitivity:.4f} {per}"
    final = float(np.mean(t.readings[t.position].values[t.rows]))
    steps = recorded_steps(t.logged, t.period, t.logger, t.position)
    mine = [s for s in steps if not np.isnan(s.before[t.rows]).any()]
    value = float(np.mean(mine[0].before[t.rows])) if mine else final
    if row.quantity in LONGWAVE:
        yield f"thermopile term {voltage / sensitivity:+.2f} W m-2"
        yield f"emission of body and dome {value - voltage / sensitivity:+.2f} W m-2"
    else:
        yield f"signal over sensitivity {value:.2f} {unit}"
    for step in mine:
        added = float(np.mean((step.after - step.before)[t.rows]))
        yield f"{step.name.replace('_', ' ')} {added:+.2f} {unit}"
    yield f"calibrated {final:.2f} {unit}{_body(t)}"


def _way(t: Trace, start: float) -> Iterator[str]:
    """Gain and zero between the instrument and the file."""
    for path in t.period.signal_paths:
        if path.position == t.position and path.start <= start < path.end:
            yield (
                f"way to the file: gain {path.gain:.6f}, zero {path.zero:+.3f} uV, by"
                f" {', '.join(path.certificates)}"
            )


def _body(t: Trace) -> str:
    name = f"{t.position}_body_temperature_kelvin"
    if name not in t.readings:
        return ""
    body = float(np.mean(t.readings[name].values[t.rows]))
    return ", body temperature unknown" if math.isnan(body) else f", body at {body:.2f} K"


def uncertainty_lines(t: Trace) -> Iterator[str]:
    """
    The budget of the value, largest part first.

    Parameters
    ----------
    t : Trace
        The value.

    Yields
    ------
    line : str
        Standard uncertainties, then the combined and the expanded one.
    """
    stated = t.archived.get(f"{t.quantity}_uncertainty", math.nan)
    found = budget_of_minute(t.minutes, t.period, t.quantity, t.place)
    if found is None or t.rows.size == 0 or math.isnan(stated):
        yield "none stated, since there is no value"
        return
    components, sizes = found
    kept = {n: t.archived.get(f"{t.quantity}_uncertainty_{n}", math.nan) for n in sizes}
    if not any(map(math.isnan, kept.values())):
        sizes = kept
        yield "components as the file holds them"
    unit = QUANTITIES[t.quantity].units
    said = {c.name: f"{c.lasts} ({c.width:g} {c.unit}, {c.law})" for c in components}
    for part, size in sorted(sizes.items(), key=lambda item: -item[1]):
        if size >= 0.005:
            yield f"{part.replace('_', ' ')} {size:.2f} {unit}, {said[part]}"
    yield f"combined {stated / COVERAGE_FACTOR:.2f} {unit}, expanded {stated:.2f} {unit} (k = 2)"
