"""Volts to irradiance: each reading by the coefficients in force where and when it was taken.

Which coefficients those are has been decided in `config.coefficients`; here they are used. The
order of the steps is fixed: unit of the signal, sensitivity at its reference temperature,
temperature response, the instrument's equation.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.coefficients import Coefficients
from sunledger.config.models.station import Channel
from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.physics.longwave import PYRGEOMETER_EQUATIONS, PyrgeometerCoefficients
from sunledger.physics.shortwave import irradiance_from_voltage
from sunledger.physics.temperature_response import relative_response
from sunledger.physics.thermistor import (
    SteinhartHart,
    resistance_from_bridge_ratio,
    temperature_from_resistance,
)
from sunledger.vocabulary import CONDITIONS, LONGWAVE, STATISTICS

Array = npt.NDArray[np.float64]
Words = npt.NDArray[np.int32]

VERSION = 2
"""Raised whenever the same input gives other numbers."""

REACH = 0
"""Every reading stands for itself. [s]"""

SIGNAL_IN_MICROVOLTS = {"uV": 1.0, "mV": 1e3, "V": 1e6}

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


def without_over_range(values: Array) -> Array:
    """
    Readings with over-range marks made missing.

    Parameters
    ----------
    values : numpy.ndarray
        As read; infinite where the logger reported over-range.

    Returns
    -------
    values : numpy.ndarray
        NaN in place of infinity.
    """
    return np.where(np.isinf(values), np.nan, values)


def sensor_temperature(values: Array, channel: Channel, row: Coefficients) -> Array:
    """
    Temperature of a body or dome sensor.

    Parameters
    ----------
    values : numpy.ndarray, shape (reading,)
        As logged, in the channel's unit.
    channel : Channel
        Unit and bridge.
    row : Coefficients
        Coefficients of the thermistor.

    Returns
    -------
    temperature : numpy.ndarray, shape (reading,)
        NaN where it cannot be known. [K]
    """
    if channel.unit == "degC":
        return values + 273.15
    if channel.unit == "K":
        return values
    if row.thermistor is None:
        return np.full(values.shape, np.nan)
    resistance = values
    if channel.bridge is not None:
        resistance = resistance_from_bridge_ratio(values, channel.bridge.resistor)
    return temperature_from_resistance(resistance, SteinhartHart(*row.thermistor))


def sensitivity_at(start_time: Array, row: Coefficients) -> Array:
    """
    Sensitivity in force at each reading.

    Parameters
    ----------
    start_time : numpy.ndarray, shape (reading,)
        True start of the readings. [s]
    row : Coefficients
        With one point where the sensitivity is constant, two where it is interpolated.

    Returns
    -------
    sensitivity : numpy.ndarray, shape (reading,)
        [uV W-1 m2]
    """
    times, values = zip(*row.sensitivity_points, strict=True)
    return np.asarray(np.interp(start_time, times, values))


def longwave_equation(row: Coefficients) -> Callable[[Array, Array, Array, Array], Array]:
    """
    The equation of a pyrgeometer with its constants.

    Parameters
    ----------
    row : Coefficients
        Of a pyrgeometer.

    Returns
    -------
    equation : callable
        Of voltage [uV], sensitivity [uV W-1 m2], body and dome temperature [K].
    """
    constants = dict(row.constants)
    coefficients = PyrgeometerCoefficients(
        k1=constants.get("k1", 0.0),
        k2=constants.get("k2", 1.0),
        dome_factor=constants.get("k", constants.get("k3", 0.0)),
    )
    equation = PYRGEOMETER_EQUATIONS[str(row.equation)]
    return lambda voltage, sensitivity, body, dome: equation(
        voltage, sensitivity, body, dome, coefficients
    )


class _Position:
    """The readings of one radiometer position: signal by statistic, body and dome temperature."""

    def __init__(self, ds: xr.Dataset, logger: ResolvedLogger, position: str) -> None:
        mine = [c for c in logger.channels if c.position == position]
        self.start = ds[f"start_time_{logger.name}"].values
        self.signals: dict[str, Array] = {
            str(c.statistic): ds[c.name].values * SIGNAL_IN_MICROVOLTS[c.unit]
            for c in mine
            if c.kind == "signal"
        }
        self.sensors = {
            str(c.sensor): (c, without_over_range(ds[c.name].values))
            for c in mine
            if c.kind == "temperature" and c.statistic == "mean"
        }

    def temperature(self, sensor: str, row: Coefficients, where: npt.NDArray[np.bool_]) -> Array:
        if sensor not in self.sensors:
            return np.full(int(where.sum()), np.nan)
        channel, values = self.sensors[sensor]
        return sensor_temperature(values[where], channel, row)


def _irradiances(
    station: _Position, row: Coefficients, where: npt.NDArray[np.bool_]
) -> tuple[dict[str, Array], Array, Words]:
    """Irradiance by statistic with its uncertainty, body temperature and conditions of one row."""
    body = station.temperature("body_temperature", row, where)
    sensitivity = sensitivity_at(station.start[where], row)
    words: Words = np.zeros(body.shape, np.int32)
    if row.temperature_response:
        factor, outside = relative_response(body, row.temperature_response)
        unknown = np.isnan(factor)
        sensitivity = sensitivity * np.where(unknown, 1.0, factor)
        words[outside] |= CONDITIONS["outside_certificate_range"].mask
        words[unknown] |= CONDITIONS["correction_not_applied"].mask
    voltages = {s: without_over_range(v[where]) for s, v in station.signals.items()}
    values = {s: irradiance_from_voltage(v, sensitivity) for s, v in voltages.items()}
    if row.quantity in LONGWAVE:
        # The deviation is that of the thermopile term alone: the body's emission varies little
        # within a reading. Minimum and maximum take the mean temperatures for the same reason.
        dome = station.temperature("dome_temperature", row, where)
        equation = longwave_equation(row)
        values |= {
            s: equation(v, sensitivity, body, dome) for s, v in voltages.items() if s != "std"
        }
    return values, body, words


def fingerprint(signals: dict[str, Array]) -> Array:
    """
    A number that stands still only while every logged statistic of a signal stands still.

    Parameters
    ----------
    signals : dict of numpy.ndarray, shape (reading,)
        Signal by statistic, ``mean`` among them. [uV]

    Returns
    -------
    fingerprint : numpy.ndarray, shape (reading,)
        Sum with incommensurable weights; NaN where the mean is missing. [uV]
    """
    weights = {"mean": 1.0, "min": np.sqrt(2.0), "max": np.sqrt(3.0), "std": np.sqrt(5.0)}
    total = without_over_range(signals["mean"])
    for statistic, weight in weights.items():
        if statistic in signals and statistic != "mean":
            values = without_over_range(signals[statistic])
            total = total + weight * np.where(np.isnan(values), 0.0, values)
    return total


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
        ``<position>_conditions`` and ``<position>_over_range``, all along the logger's readings.
        NaN where no deployment or no certificate covers a reading.
    """
    station = _Position(ds, logger, position)
    size = station.start.size
    logged = [str(s) for s in STATISTICS if s in station.signals]
    out = {s: np.full(size, np.nan) for s in logged}
    body, dome = np.full(size, np.nan), np.full(size, np.nan)
    words = np.zeros(size, np.int32)
    for row in period.coefficients:
        where = (station.start >= row.start) & (station.start < row.end)
        if row.position != position or not where.any():
            continue
        values, body[where], words[where] = _irradiances(station, row, where)
        dome[where] = station.temperature("dome_temperature", row, where)
        for statistic, irradiance in values.items():
            out[statistic][where] = irradiance
    dim = f"reading_{logger.name}"
    over = np.isinf(station.signals["mean"]) if "mean" in station.signals else np.zeros(size, bool)
    named = {position if s == "mean" else f"{position}_{s}": v for s, v in out.items()}
    named |= {f"{position}_conditions": words, f"{position}_over_range": over}
    if "mean" in station.signals:
        named[f"{position}_fingerprint"] = fingerprint(station.signals)
    if station.sensors:
        named[f"{position}_body_temperature_kelvin"] = body
    if "dome_temperature" in station.sensors:
        named[f"{position}_dome_temperature_kelvin"] = dome
    return {name: (dim, values) for name, values in named.items()}


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
                values = without_over_range(ds[channel.name].values) * factor + shift
                added[f"{channel.name}_si"] = (f"reading_{logger.name}", values)
    return ds.assign(added)
