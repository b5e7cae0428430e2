"""Widths of uncertainty components that a certificate or a station states in place of defaults."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Annotated, Literal

from pydantic import Field

from sunledger.config.models.base import EntryError, Model, Name, Text
from sunledger.physics.uncertainty_inputs import (
    SHADED,
    THERMAL_CORRECTION,
    THERMAL_OFFSET,
    pyranometer_components,
    pyrgeometer_components,
    pyrheliometer_components,
    sensor_components,
)

_PYRANOMETER = (
    *(c.name for c in (*pyranometer_components("A", 1.0), *SHADED, *THERMAL_CORRECTION)),
    THERMAL_OFFSET,
)
COMPONENTS: dict[str, tuple[str, ...]] = {
    "thermopile_pyranometer": _PYRANOMETER,
    "black_and_white_pyranometer": _PYRANOMETER,
    "pyrheliometer": tuple(c.name for c in pyrheliometer_components("A", 1.0)),
    "pyrgeometer": tuple(c.name for c in pyrgeometer_components(1.0)),
    "ultraviolet_sensor": tuple(c.name for c in sensor_components(1.0)),
    "photosynthetic_sensor": tuple(c.name for c in sensor_components(1.0)),
}
"""Kind of instrument → names of the components of its budget."""


class Width(Model):
    """One component as somebody knows it better than the class."""

    width: Annotated[float, Field(ge=0, allow_inf_nan=False)]
    """Expanded (k = 2) for a normal law, else the half-width; the unit is that of the component
    (`sunledger budget` prints it)."""
    law: Literal["normal", "rectangular", "triangular"] = "rectangular"
    source: Text
    """Where the number comes from."""


Widths = dict[Name, Width]


class UncertaintySettings(Model):
    """What the uncertainty assumes where the record says nothing."""

    level: Annotated[float, Field(ge=0, le=45)] = 0.1
    """Tilt that a good level check leaves open (WCRP-121, p. 32). [degree]"""
    soiling_bound: Annotated[float, Field(ge=0, le=100)] = 2.0
    """Largest loss in time that the record calls soiled. Common practice, no source. [percent]"""
    clock_growth: Annotated[float, Field(ge=0)] = 0.5
    """Growth of the error of a clock after its last check and before its first. Common practice,
    no source. [s d-1]"""
    net_longwave: float = -100.0
    """At the instruments where no pyrgeometer tells, for the thermal offset. [W m-2]"""
    laboratory_correlation: Annotated[float, Field(ge=0, le=1)] = 0.0
    """Of what certificates of one laboratory leave open beyond the scale, how far instruments err
    together in sums, differences and means of several. No certificate states it; ask the
    laboratory. [1]"""
    components_in_minutes: bool = False
    """Whether minute files keep every component of each uncertainty beside it."""


def check_names(widths: Mapping[str, Width], kinds: Iterable[str], *place: str | int) -> None:
    """
    Refuse a component that no instrument of these kinds has.

    Parameters
    ----------
    widths : dict
        Component → width.
    kinds : iterable of str
        Kinds of instrument.
    *place : str or int
        Where the mapping stands, for the message.

    Raises
    ------
    EntryError
        Naming the allowed components.
    """
    allowed = dict.fromkeys(name for kind in kinds for name in COMPONENTS.get(kind, ()))
    for name in widths:
        if name not in allowed:
            words = ", ".join(allowed) or "none, since it is no radiometer"
            raise EntryError(f"no such component; allowed: {words}", *place, name)
