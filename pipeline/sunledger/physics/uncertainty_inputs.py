"""Budgets as data: what makes the irradiance of each kind of instrument uncertain, by default.

Every width here is a default that a certificate or a station replaces. Where a number comes from
stands beside it: ``quoted`` (read in a text that quotes its source), ``memory``, or ``practice``
(common practice without a published source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import sqrt
from types import MappingProxyType
from typing import TypeVar

from sunledger.physics.iso9060 import (
    PYRANOMETER_CLASSES,
    PYRANOMETER_KNOWN_FROM,
    PYRHELIOMETER_CLASSES,
)

Class = TypeVar("Class")

DIVISORS: Mapping[str, float] = MappingProxyType(
    {"normal": 2.0, "rectangular": sqrt(3.0), "triangular": sqrt(6.0)}
)
"""Law → width over standard uncertainty; the width of a normal law is expanded with k = 2, of the
others the half-width (JCGM 100:2008, 4.3.7 and 4.3.9)."""

PERIODS: Mapping[str, str] = MappingProxyType(
    {
        "calibration": "common to a calibration",
        "upkeep": "common until the next cleaning",
        "day": "common to a day",
        "sample": "independent, new each sample",
    }
)
"""For how long an error stays the same, and in words; those of different periods are
independent."""

SHIFT = "lasting shift, rest each sample"
"""Of a shift in time: what it makes of the course of the light lasts, of its unrest not."""

FORM_UNITS: Mapping[str, str] = {
    "signal": "%",
    "yearly": "% a-1",
    "soiling": "x loss on record",
    "absolute": "W m-2",
    "voltage": "uV",
    "beam": "W m-2 at a beam of 1000",
    "tilt": "x tilt on record",
    "net_longwave": "W m-2 at net longwave 200",
    "thermal_sensitivity": "%",
    "net_longwave_error": "W m-2",
    "body": "K",
    "dome": "K",
    "dome_factor": "of the factor",
    "timing": "x change of light",
}
"""Form → unit of its width, in words."""

PRACTICE = "common practice, no published source"
ISO = "ISO 9060:2018"

SCALE_UNCERTAINTY = 0.3 / 2.58
"""Standard uncertainty of the World Radiometric Reference against SI: 0.3 % at a level of 99 %
(WMO-No. 8, ch. 7, quoted), shared by all instruments traced to it. [percent]"""


@dataclass(frozen=True)
class Component:
    """
    One component of a budget.

    Parameters
    ----------
    name : str
        What it is.
    form : str
        How it enters, a name in ``uncertainty.FORMS``; decides the unit of the width.
    width : float
        Expanded (k = 2) for a normal law, else the half-width. [unit of the form]
    common : str
        A name in `PERIODS`: as long as its error stays the same.
    law : str
        A name in `DIVISORS`.
    source : str
        Where the width comes from.
    reduced_by : str
        What makes it smaller; empty for nothing.
    """

    name: str
    form: str
    width: float
    common: str = "calibration"
    law: str = "rectangular"
    source: str = PRACTICE
    reduced_by: str = ""

    @property
    def standard(self) -> float:
        """
        Standard uncertainty of the input.

        Returns
        -------
        standard : float
            In the unit of the form.
        """
        return self.width / DIVISORS[self.law]

    @property
    def unit(self) -> str:
        """
        Unit of the width.

        Returns
        -------
        unit : str
            In words for a table.
        """
        return FORM_UNITS[self.form]

    @property
    def lasts(self) -> str:
        """
        For how long the error stays the same.

        Returns
        -------
        lasts : str
            In words.
        """
        return SHIFT if self.form == "timing" else PERIODS[self.common]


LOGGER = "WCRP-121, annex F, p. 151 (quoted)"
LEVEL = "WCRP-121, p. 32 (quoted): a centred bubble is level to 0.1 degree"

FIELD = (
    Component("logger_accuracy", "voltage", 1.0, source=LOGGER,
              reduced_by="a zero of the input taken on site"),
    Component("logger_gain", "signal", 0.01, source=LOGGER,
              reduced_by="a certificate of the logger's input"),
    Component("logger_resolution", "voltage", 0.05, "sample", reduced_by="a finer range"),
    Component("maintenance", "signal", 0.2, "day", reduced_by="daily cleaning"),
    Component("soiling", "soiling", 1.0, "upkeep", reduced_by="cleaning"),
    Component("clock", "timing", 1.0, "sample", reduced_by="clock checks, a quick instrument"),
)  # fmt: skip
"""What the field adds to every instrument."""


def _class_of(classes: Mapping[str, Class], iso_class: str) -> Class:
    """Look up a class, naming the allowed ones."""
    if iso_class not in classes:
        raise ValueError(f"iso_class must be one of {', '.join(classes)} (got {iso_class!r})")
    return classes[iso_class]


def _iso(iso_class: str, known: str) -> str:
    return f"{ISO}, class {iso_class} ({known})"


def _calibration(percent: float) -> tuple[Component, ...]:
    """A certificate of 0 % has no scale to part from the rest."""
    return (
        Component(
            "calibration", "signal", percent, law="normal", source="certificate",
            reduced_by="a better calibration",
        ),
    )  # fmt: skip


def pyranometer_components(iso_class: str, calibration: float) -> tuple[Component, ...]:
    """
    Return the default budget of a pyranometer of an ISO 9060 class.

    Parameters
    ----------
    iso_class : str
        A, B or C.
    calibration : float
        Expanded uncertainty of the sensitivity, k = 2. [%]

    Returns
    -------
    tuple of Component
        Thermal offset not corrected, temperature response not corrected.

    Raises
    ------
    ValueError
        If the class is unknown.
    """
    limits = _class_of(PYRANOMETER_CLASSES, iso_class)
    rest = limits.total_zero_offset - limits.zero_offset_a - limits.zero_offset_b
    said = {name: _iso(iso_class, known) for name, known in PYRANOMETER_KNOWN_FROM.items()}
    return (
        *_calibration(calibration),
        Component("non_stability", "yearly", limits.non_stability, source=said["non_stability"],
                  reduced_by="calibration, interpolation between certificates"),
        Component("non_linearity", "signal", limits.non_linearity, source=said["non_linearity"],
                  reduced_by="non-linearity of the certificate applied"),
        Component("temperature", "signal", limits.temperature, source=said["temperature"],
                  reduced_by="temperature response of the certificate applied"),
        Component("spectral", "signal", limits.spectral, source=said["spectral"],
                  reduced_by="a spectrally flat instrument"),
        Component("directional", "beam", limits.directional, source=said["directional"],
                  reduced_by="shade, directional response of the certificate applied"),
        Component("zero_offset_a", "net_longwave", limits.zero_offset_a,
                  source=said["zero_offset_a"], reduced_by="thermal offset corrected, ventilation"),
        Component("zero_offset_b", "absolute", limits.zero_offset_b, "day",
                  source=said["zero_offset_b"], reduced_by="ventilation, a heavy housing"),
        Component("zero_offset_other", "absolute", rest, source=said["total_zero_offset"],
                  reduced_by="an instrument of a better class"),
        Component("level", "tilt", 1.0, source=LEVEL, reduced_by="good level checks"),
        *FIELD,
    )  # fmt: skip


SHADED = (Component("shade_geometry", "signal", 0.5, reduced_by="a shade built to the geometry"),)
"""Added to a shaded pyranometer."""

THERMAL_OFFSET = "thermal_offset_correction"
"""Name of what the correction of the thermal offset leaves, in place of zero offset a."""

THERMAL_CORRECTION = (
    Component("thermal_sensitivity", "thermal_sensitivity", 10.0,
              reduced_by="a fit over more nights"),
    Component("net_longwave", "net_longwave_error", 5.0, reduced_by="a calibrated pyrgeometer"),
)  # fmt: skip
"""Added where the thermal offset is corrected with the net longwave that a pyrgeometer measures."""


def pyrheliometer_components(iso_class: str, calibration: float) -> tuple[Component, ...]:
    """
    Return the default budget of a pyrheliometer of an ISO 9060 class.

    Parameters
    ----------
    iso_class : str
        AA, A, B or C.
    calibration : float
        Expanded uncertainty of the sensitivity, k = 2. [%]

    Returns
    -------
    tuple of Component
        Temperature response not corrected.

    Raises
    ------
    ValueError
        If the class is unknown.
    """
    limits = _class_of(PYRHELIOMETER_CLASSES, iso_class)
    said = _iso(iso_class, "memory")
    rest = limits.total_zero_offset - limits.zero_offset_b
    return (
        *_calibration(calibration),
        Component("non_stability", "yearly", limits.non_stability, source=said,
                  reduced_by="calibration, interpolation between certificates"),
        Component("non_linearity", "signal", limits.non_linearity, source=said,
                  reduced_by="non-linearity of the certificate applied"),
        Component("temperature", "signal", limits.temperature, source=said,
                  reduced_by="temperature response of the certificate applied"),
        Component("spectral", "signal", limits.spectral, source=said,
                  reduced_by="a window without selectivity"),
        Component("zero_offset_b", "absolute", limits.zero_offset_b, "day", source=said,
                  reduced_by="a heavy housing"),
        Component("zero_offset_other", "absolute", rest, source=said,
                  reduced_by="an instrument of a better class"),
        Component("pointing", "signal", 0.1, "day", reduced_by="pointing within 0.1 degree"),
        *FIELD,
    )  # fmt: skip


def pyrgeometer_components(calibration: float) -> tuple[Component, ...]:
    """
    Return the default budget of a pyrgeometer; ISO 9060 has no classes for it.

    Parameters
    ----------
    calibration : float
        Expanded uncertainty of the sensitivity, k = 2. [%]

    Returns
    -------
    tuple of Component
        Widths after common practice.
    """
    return (
        *_calibration(calibration),
        Component("non_stability", "yearly", 1.0, reduced_by="calibration"),
        Component("body_temperature", "body", 0.1, reduced_by="checks of the thermistor"),
        Component("dome_temperature", "dome", 0.1, reduced_by="checks of the thermistor"),
        Component("dome_factor", "dome_factor", 0.3, reduced_by="calibration of the factor"),
        Component("window", "absolute", 3.0, reduced_by="shade, ventilation"),
        *FIELD,
    )


def sensor_components(calibration: float) -> tuple[Component, ...]:
    """
    Return the default budget of a sensor of light without a class, such as for ultraviolet.

    Parameters
    ----------
    calibration : float
        Expanded uncertainty of the sensitivity, k = 2. [%]

    Returns
    -------
    tuple of Component
        Widths after common practice.
    """
    return (
        *_calibration(calibration),
        Component("non_stability", "yearly", 3.0, reduced_by="calibration"),
        Component("spectral", "signal", 5.0, reduced_by="a sensor close to the wanted response"),
        Component("directional", "signal", 4.0, reduced_by="a diffuser close to the cosine"),
        Component("temperature", "signal", 1.0, reduced_by="an instrument kept at a temperature"),
        *FIELD,
    )


LEFT_OF = MappingProxyType(
    {"temperature": 0.3, "non_linearity": 0.1, "directional": 3.0, "zero_offset_a": 2.0}
)
"""Component → half-width that its correction leaves, where the class does not leave less; common
practice, no published source. A thermal offset taken from nights or net longwave is by day known
to about half of it."""


def corrected(component: Component) -> Component:
    """
    Return what a correction leaves of a component.

    Parameters
    ----------
    component : Component
        Of a name in `LEFT_OF`.

    Returns
    -------
    Component
        The width of the class where that leaves no more; what is left of zero offset a is the
        component `THERMAL_OFFSET`.
    """
    left = LEFT_OF[component.name]
    if component.name == "zero_offset_a":
        component = replace(component, name=THERMAL_OFFSET)
    if component.width <= left:
        return component
    source = f"left of the correction applied; {PRACTICE}"
    return replace(component, width=left, source=source, reduced_by="a better known response")


def changed(components: tuple[Component, ...], **widths: float) -> tuple[Component, ...]:
    """
    Return a budget with other widths.

    Parameters
    ----------
    components : tuple of Component
        The budget.
    **widths : float
        Name → width, in the unit of its form.

    Returns
    -------
    tuple of Component
        In the same order.

    Raises
    ------
    ValueError
        If the budget has no such component.
    """
    unknown = sorted(set(widths) - {c.name for c in components})
    if unknown:
        known = ", ".join(c.name for c in components)
        raise ValueError(f"no component {', '.join(unknown)}; allowed: {known}")
    return tuple(replace(c, width=widths.get(c.name, c.width)) for c in components)
