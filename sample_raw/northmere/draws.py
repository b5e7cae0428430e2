"""What is drawn once a seed: the true sensitivity of every unit, its offsets, its lean."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from northmere.noise import stream
from northmere.shapes import Instrument, Scenario

BUBBLE = 0.045
"""Standard deviation of each component of the lean left after levelling. [degree]"""
THERMISTOR = 0.05
"""Standard deviation of a thermistor's error. [K]"""


@dataclass(frozen=True)
class Draws:
    """
    Drawn imperfections by serial number.

    Parameters
    ----------
    units : mapping
        Serial number → name → value.
    """

    units: Mapping[str, Mapping[str, float]]

    def of(self, serial: str, what: str) -> float:
        """
        One drawn value.

        Parameters
        ----------
        serial : str
            Serial number.
        what : str
            Name, such as ``sensitivity_error``.

        Returns
        -------
        value : float
            As drawn.
        """
        return self.units[serial][what]


def draw(scenario: Scenario, seed: int) -> Draws:
    """
    Draw the imperfections of every instrument.

    Parameters
    ----------
    scenario : Scenario
        Inventory.
    seed : int
        Same seed, same units.

    Returns
    -------
    draws : Draws
        By serial number.
    """
    return Draws(
        {
            unit.serial: _imperfections(unit, stream(scenario.id, seed, "unit", unit.serial))
            for unit in scenario.instruments
        }
    )


def _within(rng: np.random.Generator, spread: float) -> float:
    # A normal cut at two standard deviations: never outside what is stated.
    return float(spread * ndtri(rng.uniform(0.02275, 0.97725)))


def _imperfections(unit: Instrument, rng: np.random.Generator) -> dict[str, float]:
    certainty = unit.certificates[0].uncertainty / 200.0
    mean, spread = unit.thermal_offset
    return {
        "sensitivity_error": _within(rng, certainty),
        "temperature_slope": _within(rng, unit.temperature_spread / 100.0),
        "thermal_offset": mean + _within(rng, spread),
        "transient_offset": _within(rng, unit.transient_offset),
        "directional": _within(rng, unit.directional),
        "directional_side": float(rng.uniform(0.0, 360.0)),
        "nonlinearity": _within(rng, unit.nonlinearity),
        "opening": _within(rng, unit.opening),
        "zero": _within(rng, unit.zero),
        "tilt_east": _within(rng, BUBBLE),
        "tilt_north": _within(rng, BUBBLE),
        "body_error": _within(rng, THERMISTOR),
        "dome_error": _within(rng, THERMISTOR),
        "solar_leak": unit.solar_leak * float(rng.uniform(0.5, 1.5)),
    }
