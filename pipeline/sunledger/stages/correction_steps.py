"""The corrections of the calibrate stage, in their fixed order, each a named step that can be told.

What a step needs from elsewhere (the beam, the sun, the thermal offset) is asked for only when the
step is configured: a correction that nobody wants costs nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from sunledger.config.coefficients import Coefficients
from sunledger.config.resolve import Period
from sunledger.physics.directional_response import beam_excess, directional_deviation
from sunledger.physics.logger_gain import true_signal
from sunledger.physics.nonlinearity import linearised
from sunledger.physics.shade_band import hidden_share, obstruction_factor, solar_declination
from sunledger.physics.shortwave import irradiance_from_voltage, sensitivity_at_temperature
from sunledger.physics.sun import SolarPosition
from sunledger.physics.temperature_response import relative_response
from sunledger.physics.thermal_offset import LARGEST_OFFSET
from sunledger.stages.signals import longwave_equation
from sunledger.vocabulary import CONDITIONS, CORRECTIONS, LONGWAVE

Array = npt.NDArray[np.float64]
Words = npt.NDArray[np.int32]

OUTSIDE = CONDITIONS["outside_certificate_range"].mask
NOT_APPLIED = CONDITIONS["correction_not_applied"].mask


@dataclass(frozen=True)
class Step:
    """
    What one correction did to each reading.

    Parameters
    ----------
    name : str
        One of ``CORRECTIONS``.
    before, after : numpy.ndarray, shape (reading,)
        Mean irradiance without and with it, all earlier ones applied. [W m-2]
    """

    name: str
    before: Array
    after: Array


@dataclass(frozen=True)
class Circumstances:
    """
    What the corrections of some readings with one row of coefficients can ask for.

    Parameters
    ----------
    row : Coefficients
        In force.
    latitude : float
        Of the station. [degree]
    body, dome : numpy.ndarray, shape (reading,)
        Temperatures, NaN where unknown. [K]
    path : tuple of numpy.ndarray or None
        Gain [1] and zero [uV] of the way to the file, NaN where unknown.
    sun : callable
        Gives the sun at the true middle of each reading.
    beam : callable
        Gives the calibrated direct of the same time, NaN where there is none. [W m-2]
    offset : callable
        Gives the thermal offset, NaN where unknown. [W m-2]
    """

    row: Coefficients
    latitude: float
    body: Array
    dome: Array
    path: tuple[Array, Array] | None
    sun: Callable[[], SolarPosition]
    beam: Callable[[], Array]
    offset: Callable[[], Array]


@dataclass
class Readings:
    """
    Readings on their way from volts to irradiance.

    Parameters
    ----------
    voltages : dict of numpy.ndarray, shape (reading,)
        Signal by statistic. [uV]
    sensitivity : numpy.ndarray, shape (reading,)
        [uV W-1 m2]
    words : numpy.ndarray of int32, shape (reading,)
        Conditions.
    irradiances : dict of numpy.ndarray, shape (reading,)
        By statistic, once converted. [W m-2]
    steps : list of Step
        What was recorded.
    """

    voltages: dict[str, Array]
    sensitivity: Array
    words: Words
    irradiances: dict[str, Array] = field(default_factory=dict)
    steps: list[Step] = field(default_factory=list)


def _mark(r: Readings, mask: int, where: npt.NDArray[np.bool_]) -> None:
    r.words = r.words | np.where(where, mask, 0).astype(np.int32)


def _shifted(values: dict[str, Array], shift: Array) -> dict[str, Array]:
    """All statistics less an amount; a deviation does not feel it."""
    return {s: v if s == "std" else v - shift for s, v in values.items()}


def _scaled(values: dict[str, Array], factor: Array) -> dict[str, Array]:
    return {s: v * factor for s, v in values.items()}


def _logger_zero(r: Readings, near: Circumstances) -> None:
    zero = near.path[1] if near.path else np.zeros_like(r.sensitivity)
    _mark(r, NOT_APPLIED, np.isnan(zero))
    known = np.where(np.isnan(zero), 0.0, zero)
    r.voltages = {s: v if s == "std" else true_signal(v, 1.0, known) for s, v in r.voltages.items()}


def _logger_gain(r: Readings, near: Circumstances) -> None:
    gain = near.path[0] if near.path else np.ones_like(r.sensitivity)
    _mark(r, NOT_APPLIED, np.isnan(gain))
    known = np.where(np.isnan(gain), 1.0, gain)
    r.voltages = {s: true_signal(v, known, 0.0) for s, v in r.voltages.items()}


def _thermal_offset(r: Readings, near: Circumstances) -> None:
    """The offset is stated at the sensitivity of the certificate's reference temperature."""
    offset = near.offset()
    unknown = ~(np.abs(offset) <= LARGEST_OFFSET)
    _mark(r, NOT_APPLIED, unknown)
    r.voltages = _shifted(r.voltages, np.where(unknown, 0.0, offset) * r.sensitivity)


def _temperature_response(r: Readings, near: Circumstances) -> None:
    fixes = near.row.corrections
    if fixes.polynomial:
        celsius = near.body - 273.15
        low, high = fixes.polynomial_range
        factor = sensitivity_at_temperature(
            1.0, np.clip(celsius, low, high), near.row.reference_temperature, fixes.polynomial
        )
        outside = (celsius < low) | (celsius > high)
    else:
        factor, outside = relative_response(near.body, near.row.temperature_response)
    unknown = np.isnan(factor)
    r.sensitivity = r.sensitivity * np.where(unknown, 1.0, factor)
    _mark(r, OUTSIDE, outside)
    _mark(r, NOT_APPLIED, unknown)


def _non_linearity(r: Readings, near: Circumstances) -> None:
    table = near.row.corrections.non_linearity
    mean = r.irradiances["mean"]
    straight, outside = linearised(mean, table)
    dark = mean == 0
    factor = np.where(dark, 1.0, straight / np.where(dark, 1.0, mean))
    r.irradiances = {
        s: v * factor if s == "std" else linearised(v, table)[0] for s, v in r.irradiances.items()
    }
    _mark(r, OUTSIDE, outside)


def _directional_response(r: Readings, near: Circumstances) -> None:
    table = near.row.corrections.directional
    assert table is not None
    sun = near.sun()
    deviation, outside = directional_deviation(
        sun.zenith, sun.azimuth - table.mark_azimuth, (table.zeniths, table.azimuths), table.percent
    )
    excess = beam_excess(near.beam(), sun.zenith, deviation)
    unknown = np.isnan(excess)
    _mark(r, NOT_APPLIED, unknown)
    _mark(r, OUTSIDE, outside & ~unknown & (excess != 0))
    r.irradiances = _shifted(r.irradiances, np.where(unknown, 0.0, excess))


def _sky_obstruction(r: Readings, near: Circumstances) -> None:
    band = near.row.corrections.band
    assert band is not None
    sun = near.sun()
    declination = solar_declination(sun.zenith, sun.azimuth, near.latitude)
    share = hidden_share(declination, near.latitude, band.width_over_radius)
    r.irradiances = _scaled(r.irradiances, obstruction_factor(share, band.anisotropy))


_ON_SIGNAL: dict[str, Callable[[Readings, Circumstances], None]] = {
    "logger_zero": _logger_zero,
    "logger_gain": _logger_gain,
    "thermal_offset": _thermal_offset,
    "temperature_response": _temperature_response,
}
_ON_IRRADIANCE: dict[str, Callable[[Readings, Circumstances], None]] = {
    "non_linearity": _non_linearity,
    "directional_response": _directional_response,
    "sky_obstruction": _sky_obstruction,
}


def applied_steps(row: Coefficients, period: Period) -> tuple[str, ...]:
    """
    Corrections that are applied to the readings of a position under one row of coefficients.

    Parameters
    ----------
    row : Coefficients
        The row.
    period : Period
        Resolved configuration, for the ways of the signals.

    Returns
    -------
    names : tuple of str
        Of ``CORRECTIONS``, in the order in which they are applied. Single readings for which
        one could not be applied carry the condition ``correction_not_applied``.
    """
    channels = (c for x in period.loggers for c in x.channels if c.position == row.position)
    wanted = period.processing.calibrate.corrections
    passes = any(c.via for c in channels)
    fixes, longwave = row.corrections, row.quantity in LONGWAVE
    configured = {
        "logger_zero": passes and "logger_zero" in wanted,
        "logger_gain": passes and "logger_gain" in wanted,
        "thermal_offset": fixes.thermal_offset is not None and not longwave,
        "temperature_response": bool(row.temperature_response or fixes.polynomial),
        "non_linearity": bool(fixes.non_linearity) and not longwave,
        "directional_response": fixes.directional is not None and row.quantity == "ghi",
        "sky_obstruction": fixes.band is not None and row.quantity == "dhi",
    }
    return tuple(name for name in CORRECTIONS if configured[name])


def converted(r: Readings, near: Circumstances) -> dict[str, Array]:
    """
    Irradiance of a signal by the instrument's equation.

    Parameters
    ----------
    r : Readings
        Signal and sensitivity.
    near : Circumstances
        Coefficients and temperatures.

    Returns
    -------
    irradiances : dict of numpy.ndarray, shape (reading,)
        By statistic. A longwave deviation is that of the thermopile term alone: the body's
        emission varies little within a reading; minimum and maximum take the mean temperatures
        for the same reason. [W m-2]
    """
    longwave = near.row.quantity in LONGWAVE
    whole = [s for s in r.voltages if longwave and s != "std"]
    values = {
        s: irradiance_from_voltage(v, r.sensitivity)
        for s, v in r.voltages.items()
        if s not in whole
    }
    if whole:
        # together, so that the emission of body and dome is taken once
        signals = np.stack([r.voltages[s] for s in whole])
        equation = longwave_equation(near.row)
        found = equation(signals, r.sensitivity, near.body, near.dome)
        values |= dict(zip(whole, found, strict=True))
    return values


def corrected(
    r: Readings, near: Circumstances, names: tuple[str, ...], recording: bool = False
) -> Readings:
    """
    Turn signals into irradiance, one configured correction after another.

    Parameters
    ----------
    r : Readings
        Signals as logged and the sensitivity at its reference temperature.
    near : Circumstances
        What the corrections can ask for.
    names : tuple of str
        From :func:`applied_steps`.
    recording : bool
        Whether each step is kept with the mean irradiance before and after it.

    Returns
    -------
    readings : Readings
        With irradiances; the input is not written into.
    """
    r = replace(r, steps=[])
    if "mean" not in r.voltages:  # what acts through the mean cannot act
        names = tuple(n for n in names if n not in ("thermal_offset", "non_linearity"))
        recording = False
    for name in (n for n in names if n in _ON_SIGNAL):
        before = _mean_of(r, near) if recording else None
        _ON_SIGNAL[name](r, near)
        if before is not None:
            r.steps.append(Step(name, before, _mean_of(r, near)))
    r.irradiances = converted(r, near)
    for name in (n for n in names if n in _ON_IRRADIANCE):
        start = r.irradiances.get("mean")
        _ON_IRRADIANCE[name](r, near)
        if recording and start is not None:
            r.steps.append(Step(name, start, r.irradiances["mean"]))
    return r


def _mean_of(r: Readings, near: Circumstances) -> Array:
    return converted(replace(r, voltages={"mean": r.voltages["mean"]}), near)["mean"]
