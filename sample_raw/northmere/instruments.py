"""From what a sensor receives to its voltage, with everything a certificate leaves out."""

from __future__ import annotations

from datetime import date

import numpy as np
from scipy.signal import lfilter

from faults.readings import Light
from northmere.draws import Draws
from northmere.light import SIGMA, Scene
from northmere.noise import Floats, stream
from northmere.shapes import Instrument, Placement, Scenario

STEINHART = (1.129241e-3, 2.341077e-4, 8.775468e-8)
"""Coefficients of the thermistors: 1/T = A + B ln R + C (ln R)**3. [K, ohm]"""


def true_sensitivity(unit: Instrument, draws: Draws, time: Floats) -> Floats:
    """
    Sensitivity as it truly was, at the certificate's conditions.

    Parameters
    ----------
    unit : Instrument
        With its certificates; between two the drift is linear, outside it is held.
    draws : Draws
        Gives the relative error common to all its certificates.
    time : ndarray of float, shape (time,)
        UTC seconds. [s]

    Returns
    -------
    sensitivity : ndarray of float, shape (time,)
        [uV W-1 m2]
    """
    epoch = date(1970, 1, 1)
    days = [(date.fromisoformat(c.date) - epoch).days * 86400.0 for c in unit.certificates]
    stated = np.interp(time, days, [c.sensitivity for c in unit.certificates])
    return np.asarray(stated * (1.0 + draws.of(unit.serial, "sensitivity_error")))


def responded(values: Floats, response_time: float, step: float) -> Floats:
    """
    Sample means behind a sensor of first order.

    Parameters
    ----------
    values : ndarray of float, shape (time,)
        What the sensor receives, constant within each sample.
    response_time : float
        To 95 %, three time constants. [s]
    step : float
        Spacing of the samples. [s]

    Returns
    -------
    means : ndarray of float, shape (time,)
        Exact mean of the response within each sample; the delay is the time constant whatever
        the spacing.
    """
    constant = response_time / 3.0
    keep = np.exp(-step / constant)
    ends = lfilter([1.0 - keep], [1.0, -keep], values, zi=[keep * values[0]])[0]
    before = np.concatenate([values[:1], ends[:-1]])
    return np.asarray(values + (before - values) * constant / step * (1.0 - keep))


def voltages(
    scenario: Scenario, scene: Scene, light: Light, draws: Draws, step: float, seed: int
) -> dict[str, Floats]:
    """
    Sample voltages of every position.

    Parameters
    ----------
    scenario : Scenario
        Instruments and placements.
    scene : Scene
        Gives temperatures and the net longwave.
    light : Light
        What the sensors receive, injected faults included.
    draws : Draws
        Drawn imperfections.
    step : float
        Spacing of the samples. [s]
    seed : int
        For the noise.

    Returns
    -------
    volts : dict of ndarray
        Position → voltage; without an instrument the open input. [uV]
    """
    volts: dict[str, Floats] = {}
    for placement in scenario.placements:
        unit = scenario.instrument(placement.serial)
        rng = stream(scenario.id, seed, "noise", placement.serial)
        noise = unit.noise * rng.standard_normal(light.time.size, dtype=np.float32)
        signal = volts.setdefault(placement.position, np.asarray(noise, dtype=float))
        part = slice(*np.searchsorted(light.time, (placement.start, placement.end)))
        if part.start < part.stop:
            signal[part] = _signal(unit, placement, scene, light, draws, step)[part] + noise[part]
    return volts


def _signal(
    unit: Instrument, placement: Placement, scene: Scene, light: Light, draws: Draws, step: float
) -> Floats:
    received = np.asarray(getattr(light, placement.component))
    if unit.kind == "pyrgeometer":
        effective = _thermopile_flux(unit, received, scene, light, draws)
    else:
        effective = received
    seen = responded(effective, unit.response_time, step)
    if unit.kind != "pyrgeometer":
        seen = _offset_and_bent(unit, seen, scene, draws, step)
    response = 1.0 + _temperature_response(unit, scene.body - 273.15, draws)
    sensitivity = true_sensitivity(unit, draws, np.asarray(light.time, dtype=float))
    return np.asarray(sensitivity * response * seen + draws.of(unit.serial, "zero"))


def _temperature_response(unit: Instrument, celsius: Floats, draws: Draws) -> Floats:
    slope = draws.of(unit.serial, "temperature_slope") * (celsius - 20.0)
    if not unit.temperature_response:
        return np.asarray(slope)
    table = np.array(unit.temperature_response)
    return np.asarray(np.interp(celsius, table[:, 0], table[:, 1]) / 100.0 + slope)


def _offset_and_bent(
    unit: Instrument, seen: Floats, scene: Scene, draws: Draws, step: float
) -> Floats:
    truth_net = scene.truth["lwd"] - SIGMA * scene.body**4
    # The dome is colder against the body by day than a night fit would say (see Dutton 2001).
    by_day = 1.0 + 0.3 * np.clip(scene.truth["ghi"] / 500.0, 0.0, 1.0)
    rate = np.gradient(scene.body, step) * 3600.0
    offset = draws.of(unit.serial, "thermal_offset") * by_day * truth_net
    offset += draws.of(unit.serial, "transient_offset") * rate
    bend = draws.of(unit.serial, "nonlinearity") * (seen - 500.0) / 500.0
    return np.asarray(seen * (1.0 + bend) + offset)


def dome_temperature(scene: Scene) -> Floats:
    """
    Temperature of a pyrgeometer's dome.

    Parameters
    ----------
    scene : Scene
        Gives body temperature, global and net longwave.

    Returns
    -------
    temperature : ndarray of float, shape (time,)
        Colder than the body under a clear night sky, warmer in the sun. [K]
    """
    net = scene.truth["lwd"] - SIGMA * scene.body**4
    return np.asarray(scene.body + 2.5e-3 * net + 1.1e-3 * scene.truth["ghi"])


def _thermopile_flux(
    unit: Instrument, received: Floats, scene: Scene, light: Light, draws: Draws
) -> Floats:
    body = scene.body
    flux = received + draws.of(unit.serial, "solar_leak") * scene.truth["ghi"] - SIGMA * body**4
    if unit.dome_factor is not None:
        flux = flux + unit.dome_factor * SIGMA * (dome_temperature(scene) ** 4 - body**4)
    return np.asarray(flux)


def thermistor_resistance(temperature: Floats) -> Floats:
    """
    Resistance of a thermistor, the Steinhart-Hart equation solved for it.

    Parameters
    ----------
    temperature : ndarray of float, shape (time,)
        [K]

    Returns
    -------
    resistance : ndarray of float, shape (time,)
        Real root of the cubic in the logarithm. [ohm]
    """
    a, b, c = STEINHART
    half = (a - 1.0 / temperature) / (2.0 * c)
    root = np.sqrt((b / (3.0 * c)) ** 3 + half**2)
    return np.asarray(np.exp(np.cbrt(root - half) - np.cbrt(root + half)))
