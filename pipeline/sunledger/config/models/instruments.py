"""`instruments.yaml`: the inventory by serial number, with every certificate and break."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from sunledger.config.models.base import Day, EntryError, Model, Name, Text
from sunledger.config.models.budget import Widths, check_names
from sunledger.vocabulary import QUANTITIES, RADIOMETRIC

Kind = Literal[
    "thermopile_pyranometer",
    "black_and_white_pyranometer",
    "pyrheliometer",
    "pyrgeometer",
    "ultraviolet_sensor",
    "photosynthetic_sensor",
    "air_sensor",
    "logger",
    "multiplexer",
    "shunt",
    "tracker",
    "ventilator",
]
RADIOMETER_KINDS: dict[str, tuple[str, ...]] = {q: QUANTITIES[q].kinds for q in RADIOMETRIC}
SIGNAL_PATH_KINDS = ("logger", "multiplexer", "shunt")
LARGEST_NON_LINEARITY = 5.0
"""[percent]"""


def sensitivity_unit(kind: str) -> str:
    """
    Unit in which the sensitivity of a kind of instrument is stated.

    Parameters
    ----------
    kind : str
        Such as ``pyrheliometer``.

    Returns
    -------
    unit : str
        Microvolts a unit of what it measures.
    """
    return "uV umol-1 m2 s" if kind == "photosynthetic_sensor" else "uV W-1 m2"


class Sensitivity(Model):
    """Sensitivity before and after anything was adjusted."""

    as_found: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None
    as_left: Annotated[float, Field(gt=0, allow_inf_nan=False)]
    unit: Literal["uV W-1 m2", "uV umol-1 m2 s"]


class LongwaveEquation(Model):
    """Which pyrgeometer equation a certificate belongs to, with its constants."""

    equation: Literal["simple", "albrecht_cox", "philipona"] = "simple"
    k: float | None = None
    k1: float | None = None
    k2: float | None = None
    k3: float | None = None

    @model_validator(mode="after")
    def _constants_given(self) -> Self:
        needed = {"simple": (), "albrecht_cox": ("k",), "philipona": ("k1", "k2", "k3")}
        given = {n for n in ("k", "k1", "k2", "k3") if getattr(self, n) is not None}
        if given != set(needed[self.equation]):
            words = ", ".join(needed[self.equation]) or "no constants"
            raise ValueError(f"{self.equation} takes {words} (got {', '.join(sorted(given))})")
        return self


class TemperaturePolynomial(Model):
    """Sensitivity against temperature as a polynomial about the reference temperature."""

    coefficients: Annotated[tuple[float, ...], Field(min_length=1, max_length=4)]
    """Relative change of the sensitivity: first order [K-1], second order [K-2], and so on."""
    lowest: float
    """Lowest temperature that the certificate covers. [degC]"""
    highest: float
    """[degC]"""

    @model_validator(mode="after")
    def _range_opens(self) -> Self:
        if self.lowest >= self.highest:
            raise EntryError("must be above lowest", "highest")
        return self


class DirectionalTable(Model):
    """Deviation of the response to the beam from the cosine, on a grid of directions."""

    zeniths: Annotated[tuple[float, ...], Field(min_length=2)]
    """In rising order. [degree]"""
    azimuths: Annotated[tuple[float, ...], Field(min_length=1)]
    """In rising order, clockwise from the instrument's mark, within [0, 360). [degree]"""
    percent: tuple[tuple[float, ...], ...]
    """A row a zenith, a column an azimuth. [percent]"""

    @model_validator(mode="after")
    def _grid_is_whole(self) -> Self:
        for name, highest in (("zeniths", 90.0), ("azimuths", 359.999)):
            values = getattr(self, name)
            if list(values) != sorted(set(values)) or values[0] < 0 or values[-1] > highest:
                raise EntryError(f"must rise within 0 and {highest:g} degrees", name)
        shape = (len(self.zeniths), len(self.azimuths))
        if len(self.percent) != shape[0] or any(len(r) != shape[1] for r in self.percent):
            raise EntryError(f"needs {shape[0]} rows of {shape[1]} values", "percent")
        return self


class ThermalOffset(Model):
    """How the thermal offset of a pyranometer with one black detector is known."""

    method: Literal["pyrgeometer", "night", "none"]
    """From the net longwave of a pyrgeometer beside it; from the nights before and after; or not
    at all."""
    beside: Name | None = None
    """Position of the pyrgeometer."""
    constant: float = 0.0
    """[W m-2]"""
    net_longwave: Annotated[float, Field(ge=0, le=0.5)] = 0.0
    """Offset a W m-2 of the pyrgeometer's thermopile term. [1]"""
    dome_excess: float = 0.0
    """Offset a W m-2 by which the pyrgeometer's dome emits more than its body. [1]"""
    daylight_factor: Annotated[float, Field(ge=1, le=2)] = 1.0
    """By day the offset is larger than night fits tell: 1.4 with the net longwave alone and 2.0
    with the dome term were used by DOE/SC-ARM/TR-009, quoted at second hand. [1]"""

    @model_validator(mode="after")
    def _names_its_pyrgeometer(self) -> Self:
        if (self.method == "pyrgeometer") != (self.beside is not None):
            raise EntryError("is given with method pyrgeometer and with no other", "beside")
        return self


class InputCalibration(Model):
    """One certificate of an input of a logger, multiplexer or shunt."""

    input: Text
    """Name or number of the input, as channels name it."""
    certificate: Text
    date: Day
    laboratory: Text
    traceability: Text
    gain: Annotated[float, Field(gt=0.5, lt=2)] = 1.0
    """True signal over indicated signal, once the zero is taken off. [1]"""
    zero: Annotated[float, Field(allow_inf_nan=False)] = 0.0
    """Indicated with a short circuit at the input. [uV]"""
    expanded_uncertainty: Annotated[float, Field(ge=0, le=5)] = 0.0
    """Of the gain, k = 2. [percent]"""


DRAFT = "DRAFT"
"""First word of the number of a certificate that nobody has checked yet."""


class Calibration(Model):
    """One calibration certificate."""

    certificate: Text
    date: Day
    sensitivity: Sensitivity
    expanded_uncertainty: Annotated[float, Field(gt=0, le=20)]
    """Relative expanded uncertainty of the sensitivity. [percent]"""
    coverage_factor: Annotated[float, Field(ge=1, le=4)] = 2.0
    method: Text
    reference_scale: Text
    traceability: Text
    laboratory: Text
    scan_sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")] | None = None
    reference_temperature: Annotated[float, Field(ge=-40, le=60)] = 20.0
    """[degC]"""
    reference_zenith: Annotated[float, Field(ge=0, le=90)] | None = None
    temperature_response: tuple[tuple[float, float], ...] = ()
    """Pairs of body temperature [degC] and deviation of the sensitivity [percent]."""
    temperature_polynomial: TemperaturePolynomial | None = None
    non_linearity: tuple[tuple[float, float], ...] = ()
    """Pairs of irradiance [W m-2] and deviation of the sensitivity [percent]."""
    directional_response: DirectionalTable | None = None
    offset_in_responsivity: Literal["removed", "absorbed"] | None = None
    """Whether the thermal offset was removed when the responsivity was found (alternating sun and
    shade, indoor, corrected component sum) or has been absorbed into it (plain component sum)."""
    longwave: LongwaveEquation | None = None
    budget: Widths = Field(default={})
    """Uncertainty components as the certificate states them, in place of the class's."""

    @model_validator(mode="after")
    def _checked_by_somebody(self) -> Self:
        if self.certificate.startswith(DRAFT):
            raise EntryError(
                "is a draft; check it, then give it the number under which the certificate is kept",
                "certificate",
            )
        return self

    @model_validator(mode="after")
    def _one_temperature_response(self) -> Self:
        if self.temperature_response and self.temperature_polynomial:
            raise EntryError("a table is given already; keep one of both", "temperature_polynomial")
        for name in ("temperature_response", "non_linearity"):
            first = [pair[0] for pair in getattr(self, name)]
            if first != sorted(set(first)):
                raise EntryError("the first value of each pair must rise", name)
        return self

    @model_validator(mode="after")
    def _non_linearity_is_gentle(self) -> Self:
        """A response that falls with the light could not be turned back into irradiance."""
        if any(abs(percent) > LARGEST_NON_LINEARITY for _, percent in self.non_linearity):
            why = f"must stay within {LARGEST_NON_LINEARITY:g} %, the widest class allows 3 %"
            raise EntryError(why, "non_linearity")
        return self


class Break(Model):
    """A repair or adjustment that no interpolation of the sensitivity crosses."""

    date: Day
    reason: Text


class SteinhartHart(Model):
    """Coefficients of 1/T = a + b ln R + c (ln R)**3. [K, ohm]"""

    a: float
    b: float
    c: float


class Instrument(Model):
    """One instrument of the inventory."""

    serial_number: Text
    kind: Kind
    iso_class: Literal["AA", "A", "B", "C"] | None = None
    response_time: Annotated[float, Field(gt=0)] | None = None
    """95 % response time. [s]"""
    calibrations: tuple[Calibration, ...] = ()
    inputs: tuple[InputCalibration, ...] = ()
    """Certificates of the inputs, for loggers, multiplexers and shunts only."""
    breaks: tuple[Break, ...] = ()
    thermistor: SteinhartHart | None = None
    thermal_offset: ThermalOffset | None = None
    note: Text | None = None

    @model_validator(mode="after")
    def _certificates_in_order(self) -> Self:
        for i, (first, second) in enumerate(pairwise(self.calibrations), start=1):
            if second.date <= first.date:
                raise EntryError(
                    f"must be later than {first.date}, the date of {first.certificate} before it;"
                    f" calibrations stand in rising order of date, one a date (got {second.date})",
                    *("calibrations", i, "date"),
                )
        return self

    @model_validator(mode="after")
    def _components_known(self) -> Self:
        for i, calibration in enumerate(self.calibrations):
            check_names(calibration.budget, (self.kind,), "calibrations", i, "budget")
        return self

    @model_validator(mode="after")
    def _unit_of_its_kind(self) -> Self:
        needed = sensitivity_unit(self.kind)
        for i, calibration in enumerate(self.calibrations):
            got = calibration.sensitivity.unit
            if got != needed:
                why = f"must be {needed!r} for a {self.kind} (got {got!r})"
                raise EntryError(why, "calibrations", i, "sensitivity", "unit")
        return self

    @model_validator(mode="after")
    def _inputs_of_what_has_inputs(self) -> Self:
        if self.inputs and self.kind not in SIGNAL_PATH_KINDS:
            raise EntryError(f"belongs to {', '.join(SIGNAL_PATH_KINDS)} only", "inputs")
        keys = [(c.input, c.date) for c in self.inputs]
        twice = next((i for i, k in enumerate(keys) if k in keys[:i]), None)
        if twice is not None:
            raise EntryError("this input has two certificates of one date", "inputs", twice, "date")
        return self

    @model_validator(mode="after")
    def _offset_of_single_black_detectors(self) -> Self:
        known = self.thermal_offset is not None and self.thermal_offset.method != "none"
        if known and self.kind != "thermopile_pyranometer":
            why = "only a thermopile_pyranometer has one to correct; allowed: none"
            raise EntryError(why, "thermal_offset", "method")
        return self

    @model_validator(mode="after")
    def _longwave_only_for_pyrgeometers(self) -> Self:
        for calibration in self.calibrations:
            if (self.kind == "pyrgeometer") != (calibration.longwave is not None):
                raise ValueError(
                    "'longwave' belongs to every certificate of a pyrgeometer and to no other"
                    f" (certificate {calibration.certificate})"
                )
        return self


class Inventory(Model):
    """`instruments.yaml`."""

    instruments: Annotated[tuple[Instrument, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _serial_numbers_once(self) -> Self:
        serials = [i.serial_number for i in self.instruments]
        twice = sorted({s for s in serials if serials.count(s) > 1})
        if twice:
            again = len(serials) - 1 - serials[::-1].index(twice[0])
            why = f"serial numbers given twice: {', '.join(twice)}"
            raise EntryError(why, "instruments", again, "serial_number")
        return self

    def by_serial(self) -> dict[str, Instrument]:
        """
        Instruments by serial number.

        Returns
        -------
        instruments : dict
            Serial number → instrument.
        """
        return {i.serial_number: i for i in self.instruments}
