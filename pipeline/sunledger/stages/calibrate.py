"""Volts to irradiance: each reading by the coefficients in force where and when it was taken.

Which coefficients those are has been decided in `config.coefficients`; here they are used. The
order of the corrections is fixed (`vocabulary.CORRECTIONS`); each is a step of
`stages.correction_steps` that can be told.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.coefficients import Coefficients
from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.datasets import as_variables
from sunledger.physics.longwave import emitted_irradiance
from sunledger.physics.shortwave import irradiance_from_voltage
from sunledger.physics.thermal_offset import NIGHT_HALF_WIDTH
from sunledger.stages.beside import at_same_time, logger_of, sun_at, thermal_offset
from sunledger.stages.correction_steps import (
    Circumstances,
    Readings,
    Step,
    applied_steps,
    corrected,
)
from sunledger.stages.signals import (
    PositionReadings,
    Rows,
    fingerprint,
    sensitivity_at,
    without_over_range,
)
from sunledger.vocabulary import CORRECTIONS, STATISTICS

Array = npt.NDArray[np.float64]
Words = npt.NDArray[np.int32]

VERSION = 3
"""Raised whenever the same input gives other numbers."""

REACH = 0
"""Every reading stands for itself, unless a thermal offset is taken from nights. [s]"""

NIGHTS_REACH = 86400 + int(NIGHT_HALF_WIDTH)
"""With a thermal offset from the nights before and after. [s]"""

AIR_CONVERSIONS: dict[tuple[str, str], tuple[float, float]] = {
    ("air_temperature", "degC"): (1.0, 273.15),
    ("air_temperature", "K"): (1.0, 0.0),
    ("relative_humidity", "%"): (0.01, 0.0),
    ("relative_humidity", "1"): (1.0, 0.0),
    ("air_pressure", "hPa"): (100.0, 0.0),
    ("air_pressure", "kPa"): (1000.0, 0.0),
    ("air_pressure", "Pa"): (1.0, 0.0),
    ("wind_speed", "m s-1"): (1.0, 0.0),
    ("wind_from_direction", "degree"): (1.0, 0.0),
}
"""Factor and offset from the logged unit to the archive's."""


def reach_of(rows: tuple[Coefficients, ...]) -> int:
    """
    How far a calibrated reading can depend on others.

    Parameters
    ----------
    rows : tuple of Coefficients
        In force somewhere near.

    Returns
    -------
    reach : int
        [s]
    """
    models = (row.corrections.thermal_offset for row in rows)
    return NIGHTS_REACH if any(m is not None and m.method == "night" for m in models) else REACH


def _beam(ds: xr.Dataset, period: Period, start: Array) -> Array:
    """Calibrated direct at the times of readings."""
    beam = np.full(start.shape, np.nan)
    for quantity, position, begin, end in period.primary:
        inside = (start >= begin) & (start < end)
        if quantity == "dni" and inside.any():
            logger = logger_of(period, position)
            direct = calibrate_position(ds, period, logger, position)[position][1]
            times = ds.variables[f"start_time_{logger.name}"].values
            beam[inside] = at_same_time(direct, times, start[inside], logger.interval / 2.0)
    return beam


def _net_longwave(ds: xr.Dataset, period: Period, position: str, wanted: Array) -> Array:
    """Thermopile term of a pyrgeometer and its dome's excess emission, as two rows. [W m-2]"""
    logger = logger_of(period, position)
    mine = PositionReadings(ds, period, logger, position)
    times = mine.start
    out = np.full((2, times.size), np.nan)
    for row, where in _rows_of(mine.start, period, position):
        readings, near = _circumstances(ds, period, logger, mine, (row, where))
        done = corrected(readings, near, applied_steps(row, period))
        out[0, where] = irradiance_from_voltage(done.voltages["mean"], done.sensitivity)
        out[1, where] = emitted_irradiance(near.dome) - emitted_irradiance(near.body)
    half = logger.interval / 2.0
    return np.stack([at_same_time(values, times, wanted, half) for values in out])


def _circumstances(
    ds: xr.Dataset,
    period: Period,
    logger: ResolvedLogger,
    mine: PositionReadings,
    some: tuple[Coefficients, Rows],
) -> tuple[Readings, Circumstances]:
    """Readings of one row as logged, and what their corrections can ask for."""
    row, where = some
    start = mine.start[where]
    near = Circumstances(
        row=row,
        latitude=period.latitude,
        body=mine.temperature("body_temperature", row, where),
        dome=mine.temperature("dome_temperature", row, where),
        path=None if mine.path is None else (mine.path[0][where], mine.path[1][where]),
        sun=lambda: sun_at(period, start + logger.interval / 2.0),
        beam=lambda: _beam(ds, period, start),
        offset=lambda: thermal_offset(
            mine, period, row, where, lambda beside: _net_longwave(ds, period, beside, start)
        ),
    )
    voltages = {s: without_over_range(v[where]) for s, v in mine.signals.items()}
    words: Words = np.zeros(start.shape, np.int32)
    return Readings(voltages, sensitivity_at(start, row), words), near


def _rows_of(start: Array, period: Period, position: str) -> Iterator[tuple[Coefficients, Rows]]:
    """Rows of coefficients of a position that apply to any of its readings."""
    for row in (r for r in period.coefficients if r.position == position):
        where = (start >= row.start) & (start < row.end)
        if where.any():
            yield row, slice(None) if where.all() else where


def recorded_steps(
    ds: xr.Dataset, period: Period, logger: ResolvedLogger, position: str
) -> tuple[Step, ...]:
    """
    What each correction did to the readings of a position.

    Parameters
    ----------
    ds : xarray.Dataset
        Readings with their true start times.
    period : Period
        Resolved configuration.
    logger : ResolvedLogger
        The logger that reads the position.
    position : str
        Such as ``global_1``.

    Returns
    -------
    steps : tuple of Step
        In the order of application, those that any reading underwent; mean irradiance before and
        after along all readings, NaN where a step does not apply. The first ``before`` is the
        uncorrected value; each ``before`` is the ``after`` of the step before it. [W m-2]
    """
    mine = PositionReadings(ds, period, logger, position)
    size = mine.start.size
    told: dict[str, Step] = {}
    for row, where in _rows_of(mine.start, period, position):
        readings, near = _circumstances(ds, period, logger, mine, (row, where))
        for step in corrected(readings, near, applied_steps(row, period), recording=True).steps:
            empty = Step(step.name, np.full(size, np.nan), np.full(size, np.nan))
            whole = told.setdefault(step.name, empty)
            whole.before[where], whole.after[where] = step.before, step.after
    return tuple(told[name] for name in CORRECTIONS if name in told)


def calibrate_position(
    ds: xr.Dataset, period: Period, logger: ResolvedLogger, position: str
) -> dict[str, Any]:
    """
    Calibrate one radiometer position.

    Parameters
    ----------
    ds : xarray.Dataset
        Readings with their true start times.
    period : Period
        Resolved configuration.
    logger : ResolvedLogger
        The logger that reads the position.
    position : str
        Such as ``global_1``.

    Returns
    -------
    variables : dict
        ``<position>`` and ``<position>_min``, ``_max``, ``_std`` where logged,
        ``<position>_fingerprint``, ``<position>_body_temperature_kelvin`` and
        ``<position>_dome_temperature_kelvin`` [K],
        ``<position>_conditions`` and ``<position>_over_range``, and
        ``<position>_<correction>_correction`` [W m-2] where one is to be kept, all along the
        logger's readings. NaN where no deployment or no certificate covers a reading.
    """
    mine = PositionReadings(ds, period, logger, position)
    size = mine.start.size
    out = {str(s): np.full(size, np.nan) for s in STATISTICS if s in mine.signals}
    body, dome = np.full(size, np.nan), np.full(size, np.nan)
    words = np.zeros(size, np.int32)
    for row, where in _rows_of(mine.start, period, position):
        readings, near = _circumstances(ds, period, logger, mine, (row, where))
        done = corrected(readings, near, applied_steps(row, period))
        body[where], dome[where], words[where] = near.body, near.dome, done.words
        for statistic, irradiance in done.irradiances.items():
            out[statistic][where] = irradiance
    over = np.isinf(mine.signals["mean"]) if "mean" in mine.signals else np.zeros(size, bool)
    named = {position if s == "mean" else f"{position}_{s}": v for s, v in out.items()}
    named |= {f"{position}_conditions": words, f"{position}_over_range": over}
    if "mean" in mine.signals:
        named[f"{position}_fingerprint"] = fingerprint(mine.signals)
    if mine.sensors:
        named[f"{position}_body_temperature_kelvin"] = body
    if "dome_temperature" in mine.sensors:
        named[f"{position}_dome_temperature_kelvin"] = dome
    named |= _kept_corrections(ds, period, logger, position)
    return {name: (f"reading_{logger.name}", values) for name, values in named.items()}


def _kept_corrections(
    ds: xr.Dataset, period: Period, logger: ResolvedLogger, position: str
) -> dict[str, Array]:
    kept = period.processing.calibrate.keep_corrections
    if not kept:
        return {}
    steps = {s.name: s for s in recorded_steps(ds, period, logger, position)}
    return {
        f"{position}_{name}_correction": steps[name].after - steps[name].before
        for name in kept
        if name in steps
    }


def calibrate(ds: xr.Dataset, period: Period) -> xr.Dataset:
    """
    Turn the readings of a station into irradiances and air data.

    Parameters
    ----------
    ds : xarray.Dataset
        Readings, one dimension ``reading_<logger>`` a logger, with ``start_time_<logger>``.
    period : Period
        Resolved configuration.

    Returns
    -------
    calibrated : xarray.Dataset
        The input and, along the same dimensions, what :func:`calibrate_position` gives for each
        position and air data in the archive's units. Air channels keep their name and get the
        suffix ``_si``.
    """
    added: dict[str, Any] = {}
    for logger in period.loggers:
        for position in dict.fromkeys(
            str(c.position) for c in logger.channels if c.kind == "signal"
        ):
            added |= calibrate_position(ds, period, logger, position)
        for channel in logger.channels:
            if channel.kind == "air":
                factor, offset = AIR_CONVERSIONS[str(channel.quantity), channel.unit]
                shift = 0.0 if channel.statistic == "std" else offset
                logged = without_over_range(ds.variables[channel.name].values)
                values = logged * factor + shift
                added[f"{channel.name}_si"] = (f"reading_{logger.name}", values)
    return ds.assign(as_variables(added))
