"""`fieldlog.yaml`: the append-only record of what stands where and what was done on site."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from sunledger.config.models.base import EntryError, EntryId, Model, Name, Text, UtcTime
from sunledger.config.remembering import remembered


class _Entry(Model):
    """What every entry carries. `corrects` names an earlier entry that this one replaces."""

    id: EntryId
    corrects: EntryId | None = None
    reason: Text | None = None
    role: Text
    """Who wrote it, by role; no personal names."""
    note: Text | None = None

    @model_validator(mode="after")
    def _correction_has_reason(self) -> Self:
        if self.corrects is not None and self.reason is None:
            raise EntryError("an entry that corrects another needs a reason", "reason")
        return self


class ShadeBand(Model):
    """A shade band with the correction for the sky it hides."""

    correction: Literal["isotropic"]
    """`isotropic`: from the geometry of the band under a sky of one brightness, times
    `anisotropy`."""
    width: Annotated[float, Field(gt=0)]
    """Along the polar axis. [mm]"""
    radius: Annotated[float, Field(gt=0)]
    """[mm]"""
    anisotropy: Annotated[float, Field(ge=0.9, le=1.3)] = 1.0
    """Factor for the sky near the sun being brighter than the rest. [1]"""
    expanded_uncertainty: Annotated[float, Field(gt=0, le=30)]
    """Of the corrected diffuse, k = 2. [percent]"""


class Deployment(_Entry):
    """An instrument at a position, from a time until its removal."""

    type: Literal["deployment"]
    time: UtcTime = Field(alias="from")
    instrument: Text
    position: Name
    until: UtcTime | None = None
    ventilated: bool = False
    shade: Literal["none", "disc", "ball", "band"] = "none"
    band: ShadeBand | None = None
    mark_azimuth: Annotated[float, Field(ge=0, lt=360)] = 0.0
    """Toward which the mark points from which the certificate counts azimuths. [degree]"""
    serial_read_on_site: bool = True

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> Self:
        if self.until is not None and self.until <= self.time:
            raise EntryError("must be later than from", "until")
        if self.band is not None and self.shade != "band":
            raise EntryError(f"goes with shade band only (got {self.shade})", "band")
        return self


class Removal(_Entry):
    """The end of a deployment, written when the instrument is taken down."""

    type: Literal["removal"]
    time: UtcTime
    deployment: EntryId


class Tilt(Model):
    """How far from the horizontal, and toward where. [degree]"""

    size: Annotated[float, Field(ge=0, le=45)]
    azimuth: Annotated[float, Field(ge=0, lt=360)] | None = None


class LevelCheck(_Entry):
    """A look at the spirit level: as found, as left, and once more after tightening."""

    type: Literal["level_check"]
    time: UtcTime
    position: Name
    found: Tilt
    left: Tilt | None = None
    after_tightening: Tilt | None = None
    tightened: bool = False


class ClockCheck(_Entry):
    """A logger's clock against a reference: logger minus reference, before and after setting."""

    type: Literal["clock_check"]
    time: UtcTime
    """True time of the check."""
    logger: Name
    found: float
    """Clock error as found. [s]"""
    left: float | None = None
    """Clock error as left, when the clock was set. [s]"""


class PositionEvent(_Entry):
    """Work at one position or on the whole platform."""

    type: Literal["cleaning", "desiccant", "cable", "ventilator"]
    time: UtcTime
    until: UtcTime | None = None
    positions: tuple[Name, ...]
    found: Text
    left: Text | None = None
    soiled_since: UtcTime | None = None
    """Cleaning only: from when the record says the loss began."""
    soiling_bound: Annotated[float, Field(gt=0, le=100)] | None = None
    """Largest loss since then; the setting of the uncertainty without it. [percent]"""
    off_since: UtcTime | None = None
    """Ventilator only: from when it is known to have been off."""

    @model_validator(mode="after")
    def _bound_of_something(self) -> Self:
        if self.soiling_bound is not None and self.soiled_since is None:
            raise EntryError("goes with soiled_since only", "soiling_bound")
        return self


class AlignmentEvent(_Entry):
    """Tracker homing or alignment, shade alignment."""

    type: Literal["tracker_homing", "tracker_alignment", "shade_alignment"]
    time: UtcTime
    until: UtcTime | None = None
    positions: tuple[Name, ...] = ()
    found: Text
    left: Text | None = None
    out_of_place: bool = False
    """Found out of place, which makes the time since the last good check doubtful."""


class ThermalSensorCheck(_Entry):
    """A body or dome thermistor against a reference thermometer."""

    type: Literal["thermal_sensor_check"]
    time: UtcTime
    position: Name
    found: float
    """Sensor minus reference. [K]"""
    left: float | None = None


class Visit(_Entry):
    """Somebody was on the platform or the power was off; everything may be disturbed."""

    type: Literal["visit", "power"]
    time: UtcTime = Field(alias="from")
    until: UtcTime
    positions: tuple[Name, ...] = ()
    """Empty: all."""


Entry = Annotated[
    Deployment
    | Removal
    | LevelCheck
    | ClockCheck
    | PositionEvent
    | AlignmentEvent
    | ThermalSensorCheck
    | Visit,
    Field(discriminator="type"),
]


class FieldLog(Model):
    """`fieldlog.yaml`."""

    entries: tuple[Entry, ...]

    @model_validator(mode="after")
    def _ids_permanent(self) -> Self:
        seen: set[str] = set()
        for i, entry in enumerate(self.entries):
            if entry.id in seen:
                why = f"id {entry.id} is used twice; ids are permanent"
                raise EntryError(why, "entries", i, "id")
            if entry.corrects is not None and entry.corrects not in seen:
                why = f"{entry.id} corrects {entry.corrects}, which is no earlier entry"
                raise EntryError(why, "entries", i, "corrects")
            seen.add(entry.id)
        return self

    @remembered(256)
    def in_force(self) -> tuple[Entry, ...]:
        """
        Entries that no later entry corrects.

        Returns
        -------
        entries : tuple
            In the order written.
        """
        corrected = {e.corrects for e in self.entries if e.corrects is not None}
        return tuple(e for e in self.entries if e.id not in corrected)
