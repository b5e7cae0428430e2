"""Class limits of radiometers after ISO 9060:2018, and sensitivities to expect.

The standard was not at hand. Each number carries how it is known: ``quoted`` (read in a text that
quotes the standard or the identical older table) or ``memory``. Use them as settable defaults and
compare with the standard before a published uncertainty rests on them. A class is not the
uncertainty of a measurement in the field; the standard says so itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType

QUOTED = "quoted"
MEMORY = "memory"


@dataclass(frozen=True)
class PyranometerClass:
    """
    Limits of a pyranometer class; all but the response time are half-widths.

    Parameters
    ----------
    response_time : float
        To 95 %. [s]
    zero_offset_a : float
        At 200 W m-2 net thermal radiation, ventilated. [W m-2]
    zero_offset_b : float
        At 5 K h-1. [W m-2]
    total_zero_offset : float
        a, b and all others. [W m-2]
    non_stability : float
        Change per year. [%]
    non_linearity : float
        100 to 1000 W m-2, relative to 500 W m-2. [%]
    directional : float
        For a beam of 1000 W m-2 from any direction. [W m-2]
    spectral : float
        For clear-sky global irradiance. [%]
    temperature : float
        -10 to 40 degree Celsius, relative to 20. [%]
    tilt : float
        0 to 180 degree. [%]
    signal_processing : float
        Added by electronics in the instrument. [W m-2]
    """

    response_time: float
    zero_offset_a: float
    zero_offset_b: float
    total_zero_offset: float
    non_stability: float
    non_linearity: float
    directional: float
    spectral: float
    temperature: float
    tilt: float
    signal_processing: float


@dataclass(frozen=True)
class PyrheliometerClass:
    """
    Limits of a pyrheliometer class; all but the response time are half-widths.

    Parameters
    ----------
    response_time : float
        To 95 %; NaN where the class sets none. [s]
    zero_offset_b : float
        At 5 K h-1. [W m-2]
    total_zero_offset : float
        All zero offsets. [W m-2]
    non_stability : float
        Change per year. [%]
    non_linearity, spectral, temperature, tilt : float
        Relative errors. [%]
    signal_processing : float
        Added by electronics in the instrument. [W m-2]
    """

    response_time: float
    zero_offset_b: float
    total_zero_offset: float
    non_stability: float
    non_linearity: float
    spectral: float
    temperature: float
    tilt: float
    signal_processing: float


PYRANOMETER_CLASSES: Mapping[str, PyranometerClass] = MappingProxyType(
    {
        "A": PyranometerClass(10, 7, 2, 10, 0.8, 0.5, 10, 0.5, 1, 0.5, 2),
        "B": PyranometerClass(20, 15, 4, 21, 1.5, 1, 20, 1, 2, 2, 5),
        "C": PyranometerClass(30, 30, 8, 41, 3, 3, 30, 5, 4, 5, 10),
    }
)

PYRANOMETER_KNOWN_FROM: Mapping[str, str] = MappingProxyType(
    {
        "response_time": MEMORY,
        "zero_offset_a": QUOTED,
        "zero_offset_b": QUOTED,
        "total_zero_offset": MEMORY,
        "non_stability": QUOTED,
        "non_linearity": QUOTED,
        "directional": QUOTED,
        "spectral": MEMORY,
        "temperature": MEMORY,
        "tilt": QUOTED,
        "signal_processing": MEMORY,
    }
)

PYRHELIOMETER_CLASSES: Mapping[str, PyrheliometerClass] = MappingProxyType(
    {
        "AA": PyrheliometerClass(float("nan"), 0.1, 0.2, 0.01, 0.01, 0.01, 0.01, 0.01, 0.1),
        "A": PyrheliometerClass(10, 1, 2, 0.5, 0.2, 0.2, 0.5, 0.2, 1),
        "B": PyrheliometerClass(15, 3, 4, 1, 0.5, 1, 1, 0.5, 5),
        "C": PyrheliometerClass(20, 6, 7, 2, 2, 2, 5, 2, 10),
    }
)

PYRHELIOMETER_KNOWN_FROM: Mapping[str, str] = MappingProxyType(
    {field.name: MEMORY for field in fields(PyrheliometerClass)}
)

SENSITIVITY_RANGES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "thermopile_pyranometer": (5.0, 20.0),
        "black_and_white_pyranometer": (5.0, 20.0),
        "pyrheliometer": (5.0, 20.0),
        "pyrgeometer": (2.0, 20.0),
        "ultraviolet_sensor": (10.0, 100000.0),
        "photosynthetic_sensor": (1.0, 100.0),
    }
)
"""Lowest and highest sensitivity to expect by kind, common practice without a published source.

A value outside is more likely a slip of the pen or of a unit than an instrument [µV W-1 m2].
"""


def sensitivity_is_typical(kind: str, sensitivity: float) -> bool:
    """
    Return whether a sensitivity is one to expect of an instrument of this kind.

    Parameters
    ----------
    kind : str
        A name in ``SENSITIVITY_RANGES``.
    sensitivity : float
        From the certificate. [µV W-1 m2]

    Returns
    -------
    bool
        False also for NaN.

    Raises
    ------
    ValueError
        If the kind is unknown.
    """
    if kind not in SENSITIVITY_RANGES:
        raise ValueError(f"kind must be one of {', '.join(SENSITIVITY_RANGES)} (got {kind!r})")
    lowest, highest = SENSITIVITY_RANGES[kind]
    return lowest <= sensitivity <= highest
