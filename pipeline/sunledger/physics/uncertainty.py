"""Propagation of a budget to samples by the sensitivity coefficients of the equation applied."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.physics.gum import combined_standard_uncertainty
from sunledger.physics.level import level_half_width
from sunledger.physics.longwave import STEFAN_BOLTZMANN
from sunledger.physics.uncertainty_inputs import PERIODS, Component

Array = npt.NDArray[np.float64]
Values = float | Array

DIRECTIONAL_REFERENCE = 1000.0
"""Beam for which ISO 9060 states the directional error. [W m-2]"""

NET_LONGWAVE_REFERENCE = 200.0
"""Net longwave irradiance for which ISO 9060 states zero offset a. [W m-2]"""


@dataclass(frozen=True)
class Situation:
    """
    What sensitivity coefficients depend on; floats, or arrays of shape (time,).

    Parameters
    ----------
    proportional : float or array
        The part of the irradiance that goes with the signal: all of a shortwave irradiance, the
        thermopile term of a longwave one. [W m-2]
    sensitivity : float or array
        In force. [µV W-1 m2]
    years : float or array
        Since the calibration, at least 1. [a]
    beam : float or array
        Direct normal irradiance that meets the instrument, 0 when shaded. [W m-2]
    zenith : float or array
        Of the sun. [degree]
    across : float, array or None
        Part of the beam across the vertical, where it is known; else it follows from beam and
        zenith angle. [W m-2]
    tilt : float or array
        Largest angle out of level that the record allows. [degree]
    net_longwave : float or array
        At the instrument. [W m-2]
    thermal_sensitivity : float or array
        Response to it, where the offset is corrected. [µV W-1 m2]
    body, dome : float or array
        Temperatures of a pyrgeometer. [K]
    dome_constant : float
        Factor k of its equation; 0 without. [-]
    soiling : float or array
        Largest loss that the record knows. [%]
    timing : float or array
        Half-width from clock error and lag in changing light. [W m-2]
    """

    proportional: Values
    sensitivity: Values
    years: Values = 1.0
    beam: Values = 0.0
    zenith: Values = 90.0
    across: Values | None = None
    tilt: Values = 0.1
    net_longwave: Values = 0.0
    thermal_sensitivity: Values = 0.0
    body: Values = 0.0
    dome: Values = 0.0
    dome_constant: float = 0.0
    soiling: Values = 0.0
    timing: Values = 0.0


def _signal(s: Situation) -> Values:
    return np.asarray(np.abs(s.proportional) / 100.0)


def across(s: Situation) -> Values:
    """
    Return the part of the beam across the vertical, which an instrument out of level mistakes.

    Parameters
    ----------
    s : Situation
        With beam and zenith angle.

    Returns
    -------
    float or numpy.ndarray
        What a lean is worth over the sine of its angle. [W m-2]
    """
    return level_half_width(s.beam, s.zenith, 90.0) if s.across is None else s.across


def _dome_factor(s: Situation) -> Values:
    if s.dome_constant == 0.0:
        return 0.0
    excess = np.abs(np.asarray(s.dome) ** 4 - np.asarray(s.body) ** 4)
    return np.asarray(STEFAN_BOLTZMANN * excess)


FORMS: Mapping[str, Callable[[Situation], Values]] = {
    "signal": _signal,
    "yearly": lambda s: _signal(s) * s.years,
    "soiling": lambda s: _signal(s) * s.soiling,
    "absolute": lambda s: 1.0,
    "voltage": lambda s: 1.0 / np.asarray(s.sensitivity),
    "beam": lambda s: np.maximum(s.beam, 0.0) / DIRECTIONAL_REFERENCE,
    "tilt": lambda s: across(s) * np.sin(np.radians(np.asarray(s.tilt, dtype=float))),
    "net_longwave": lambda s: np.abs(s.net_longwave) / NET_LONGWAVE_REFERENCE,
    "thermal_sensitivity": lambda s: (
        np.abs(s.net_longwave) * s.thermal_sensitivity / 100.0 / np.asarray(s.sensitivity)
    ),
    "net_longwave_error": lambda s: np.asarray(s.thermal_sensitivity) / s.sensitivity,
    "body": lambda s: 4 * STEFAN_BOLTZMANN * np.asarray(s.body) ** 3,
    "dome": lambda s: 4 * s.dome_constant * STEFAN_BOLTZMANN * np.asarray(s.dome) ** 3,
    "dome_factor": _dome_factor,
    "timing": lambda s: s.timing,
}
"""Form → absolute sensitivity coefficient: what one unit of the width is worth in W m-2.

``E = (V - R_net W_net) / S`` for a pyranometer, ``E = V / S`` for a pyrheliometer (written from
memory of I. Reda, NREL/TP-3B10-52194, 2011), and ``L = V / S + sigma T_b^4 - k sigma (T_d^4 -
T_b^4)`` for a pyrgeometer, whose dome is known by its difference from the body.
"""


def contribution(component: Component, situation: Situation) -> Array:
    """
    Return what one component contributes.

    Parameters
    ----------
    component : Component
        Its standard uncertainty and form.
    situation : Situation
        What the sensitivity coefficient depends on.

    Returns
    -------
    numpy.ndarray
        Absolute sensitivity coefficient times standard uncertainty. [W m-2]
    """
    return np.asarray(FORMS[component.form](situation) * component.standard, dtype=float)


def contributions(components: Sequence[Component], situation: Situation) -> dict[str, Array]:
    """
    Return what every component contributes.

    Parameters
    ----------
    components : sequence of Component
        The budget.
    situation : Situation
        What the sensitivity coefficients depend on.

    Returns
    -------
    dict of numpy.ndarray
        Name → |c| u. [W m-2]
    """
    return {c.name: contribution(c, situation) for c in components}


def parts_by_period(
    components: Sequence[Component], situation: Situation, periods: Iterable[str] = PERIODS
) -> dict[str, Array]:
    """
    Return the standard uncertainty of samples, apart by how long errors stay the same.

    Parameters
    ----------
    components : sequence of Component
        The budget.
    situation : Situation
        What the sensitivity coefficients depend on.
    periods : iterable of str
        Of ``PERIODS``: which parts are wanted.

    Returns
    -------
    dict of numpy.ndarray
        Period → combined standard uncertainty of its components. [W m-2]
    """
    out: dict[str, Array] = {}
    known: dict[str, Values] = {}
    for period in periods:
        mine = [c for c in components if c.common == period and c.width]
        # components of one form have one coefficient: far fewer arrays than components
        forms = {c.form: [d.standard for d in mine if d.form == c.form] for c in mine}
        known |= {form: FORMS[form](situation) for form in forms if form not in known}
        parts = [
            known[form] * float(combined_standard_uncertainty(standards))
            for form, standards in forms.items()
        ]
        out[period] = combined_standard_uncertainty(parts) if parts else np.zeros(())
    return out
