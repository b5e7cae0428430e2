"""The readings of one radiometer position: signal by statistic, body and dome temperature."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.coefficients import Coefficients
from sunledger.config.models.station import Channel
from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.physics.longwave import PYRGEOMETER_EQUATIONS, PyrgeometerCoefficients
from sunledger.physics.thermistor import (
    SteinhartHart,
    resistance_from_bridge_ratio,
    temperature_from_resistance,
)

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Rows = Mask | slice
"""Some of the readings, or all of them."""

SIGNAL_IN_MICROVOLTS = {"uV": 1.0, "mV": 1e3, "V": 1e6}


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
        NaN in place of infinity; the same array where there is none.
    """
    beyond = np.isinf(values)
    return np.where(beyond, np.nan, values) if beyond.any() else values


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


class PositionReadings:
    """
    What one logger recorded of one position.

    Parameters
    ----------
    ds : xarray.Dataset
        Readings with true start times.
    period : Period
        Resolved configuration.
    logger : ResolvedLogger
        The logger.
    position : str
        Such as ``global_1``.
    """

    def __init__(
        self, ds: xr.Dataset, period: Period, logger: ResolvedLogger, position: str
    ) -> None:
        mine = [c for c in logger.channels if c.position == position]
        self.start: Array = ds.variables[f"start_time_{logger.name}"].values
        self.signals: dict[str, Array] = {
            str(c.statistic): ds.variables[c.name].values * SIGNAL_IN_MICROVOLTS[c.unit]
            for c in mine
            if c.kind == "signal"
        }
        self.sensors = {
            str(c.sensor): (c, without_over_range(ds.variables[c.name].values))
            for c in mine
            if c.kind == "temperature" and c.statistic == "mean"
        }
        self.path: tuple[Array, Array] | None = None
        if any(c.via for c in mine):
            self.path = self._gain_and_zero(period, position)

    def _gain_and_zero(self, period: Period, position: str) -> tuple[Array, Array]:
        """Gain and zero of each reading, NaN where a device on the way has no certificate."""
        gain, zero = (np.full(self.start.shape, np.nan) for _ in range(2))
        for row in (p for p in period.signal_paths if p.position == position):
            inside = (self.start >= row.start) & (self.start < row.end)
            gain[inside], zero[inside] = row.gain, row.zero
        return gain, zero

    def temperature(self, sensor: str, row: Coefficients, where: Rows) -> Array:
        """
        Temperature of a sensor.

        Parameters
        ----------
        sensor : str
            ``body_temperature`` or ``dome_temperature``.
        row : Coefficients
            Coefficients of the thermistor.
        where : numpy.ndarray of bool, shape (reading,), or slice
            Readings wanted.

        Returns
        -------
        temperature : numpy.ndarray, shape (wanted,)
            NaN where it cannot be known. [K]
        """
        if sensor not in self.sensors:
            return np.full(self.start[where].shape, np.nan)
        channel, values = self.sensors[sensor]
        return sensor_temperature(values[where], channel, row)


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
            missing = np.isnan(values)
            if missing.any():
                values = np.where(missing, 0.0, values)
            total = total + weight * values
    return total
