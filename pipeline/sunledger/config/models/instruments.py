"""`instruments.yaml`: the inventory by serial number, with every certificate and break."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from sunledger.config.models.base import Day, EntryError, Model, Text
from sunledger.config.models.budget import Widths, check_names

Kind = Literal[
    "thermopile_pyranometer",
    "black_and_white_pyranometer",
    "pyrheliometer",
    "pyrgeometer",
    "air_sensor",
    "logger",
    "multiplexer",
    "tracker",
    "ventilator",
]
RADIOMETER_KINDS: dict[str, tuple[str, ...]] = {
    "ghi": ("thermopile_pyranometer", "black_and_white_pyranometer"),
    "dhi": ("thermopile_pyranometer", "black_and_white_pyranometer"),
    "swu": ("thermopile_pyranometer", "black_and_white_pyranometer"),
    "dni": ("pyrheliometer",),
    "lwd": ("pyrgeometer",),
    "lwu": ("pyrgeometer",),
}
SENSITIVITY_UNIT = "uV W-1 m2"


class Sensitivity(Model):
    """Sensitivity before and after anything was adjusted. [uV W-1 m2]"""

    as_found: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None
    as_left: Annotated[float, Field(gt=0, allow_inf_nan=False)]
    unit: Literal["uV W-1 m2"]


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
    longwave: LongwaveEquation | None = None
    budget: Widths = Field(default={})
    """Uncertainty components as the certificate states them, in place of the class's."""


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
    breaks: tuple[Break, ...] = ()
    thermistor: SteinhartHart | None = None
    note: Text | None = None

    @model_validator(mode="after")
    def _certificates_in_order(self) -> Self:
        dates = [c.date for c in self.calibrations]
        if dates != sorted(set(dates)):
            raise ValueError("calibrations must stand in rising order of date, one a date")
        return self

    @model_validator(mode="after")
    def _components_known(self) -> Self:
        for i, calibration in enumerate(self.calibrations):
            check_names(calibration.budget, (self.kind,), "calibrations", i, "budget")
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
