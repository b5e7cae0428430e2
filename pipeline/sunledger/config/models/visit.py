"""A filled visit form: what one visit found and left, to be turned into entries of the field log.

One row an action, with plain fields, so that the same names serve in YAML and as columns of CSV.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from sunledger.config.models.base import EntryError, Model, Name, StationId, Text, UtcTime

TiltSize = Annotated[float, Field(ge=0, le=45)]
Azimuth = Annotated[float, Field(ge=0, lt=360)]
Seconds = Annotated[float, Field(ge=-31622400, le=31622400, allow_inf_nan=False)]
"""A clock a year out is the most that a wrong date setting makes."""
Kelvins = Annotated[float, Field(ge=-60, le=60)]


class VisitHead(Model):
    """When who was where."""

    station: StationId
    time: UtcTime = Field(alias="from")
    until: UtcTime
    role: Text
    """Who, by role; no personal names."""
    note: Text | None = None

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> Self:
        if self.until <= self.time:
            raise EntryError("must be later than from", "until")
        return self


class _Row(Model):
    """What every row may carry."""

    time: UtcTime
    note: Text | None = None
    role: Text | None = None
    """Where somebody else than the visit's role did it."""


class LevelRow(_Row):
    """A spirit level as found, as left, and once more after tightening. [degree]"""

    type: Literal["level_check"]
    position: Name
    serial_number: Text | None = None
    """As read on site."""
    found: TiltSize
    found_azimuth: Azimuth | None = None
    left: TiltSize | None = None
    left_azimuth: Azimuth | None = None
    after_tightening: TiltSize | None = None
    after_tightening_azimuth: Azimuth | None = None
    tightened: bool = False

    @model_validator(mode="after")
    def _azimuth_of_a_tilt(self) -> Self:
        for name in ("left", "after_tightening"):
            if getattr(self, f"{name}_azimuth") is not None and getattr(self, name) is None:
                raise EntryError(f"needs {name}, the size of the tilt", f"{name}_azimuth")
        return self


class ClockRow(_Row):
    """A logger's clock: logger minus reference, before and after it was set. [s]"""

    type: Literal["clock_check"]
    logger: Name
    serial_number: Text | None = None
    found: Seconds
    left: Seconds | None = None


class WorkRow(_Row):
    """Work at one or several positions."""

    type: Literal["cleaning", "desiccant", "cable", "ventilator"]
    positions: Annotated[tuple[Name, ...], Field(min_length=1)]
    until: UtcTime | None = None
    found: Text
    left: Text | None = None
    soiled_since: UtcTime | None = None
    soiling_bound: Annotated[float, Field(gt=0, le=100)] | None = None
    """Largest loss since then. [percent]"""
    off_since: UtcTime | None = None

    @model_validator(mode="after")
    def _since_of_its_kind(self) -> Self:
        for name, kind in (("soiled_since", "cleaning"), ("off_since", "ventilator")):
            since = getattr(self, name)
            if since is not None and self.type != kind:
                raise EntryError(f"belongs to {kind} only", name)
            if since is not None and since > self.time:
                raise EntryError("must not be later than time", name)
        if self.soiling_bound is not None and self.soiled_since is None:
            raise EntryError("goes with soiled_since only", "soiling_bound")
        return self


class AlignmentRow(_Row):
    """Homing or alignment of the tracker, alignment of the shade."""

    type: Literal["tracker_homing", "tracker_alignment", "shade_alignment"]
    positions: Annotated[tuple[Name, ...], Field(min_length=1)]
    until: UtcTime | None = None
    found: Text
    left: Text | None = None
    out_of_place: bool = False


class SensorRow(_Row):
    """A body or dome thermistor: sensor minus reference thermometer. [K]"""

    type: Literal["thermal_sensor_check"]
    position: Name
    serial_number: Text | None = None
    found: Kelvins
    left: Kelvins | None = None


class SerialRow(Model):
    """A serial number as read on site; it is compared with the record."""

    type: Literal["serial_number"]
    position: Name
    serial_number: Text
    time: UtcTime | None = None


class ExchangeRow(Model):
    """An instrument taken down, another put up, or only one of both."""

    type: Literal["exchange"]
    position: Name
    removed: Text | None = None
    """Serial number of what was taken down, as read on site."""
    time: UtcTime | None = None
    """When it was taken down."""
    installed: Text | None = None
    """Serial number of what was put up, as read on site."""
    installed_at: UtcTime | None = None
    ventilated: bool = False
    shade: Literal["none", "disc", "ball", "band"] = "none"
    note: Text | None = None
    role: Text | None = None

    @model_validator(mode="after")
    def _both_go_together(self) -> Self:
        for serial, at in (("removed", "time"), ("installed", "installed_at")):
            if (getattr(self, serial) is None) != (getattr(self, at) is None):
                missing = serial if getattr(self, serial) is None else at
                raise EntryError(f"is missing; {serial} and {at} go together", missing)
        if self.removed is None and self.installed is None:
            raise EntryError("is missing, and removed as well; one of both is needed", "installed")
        if None not in (self.time, self.installed_at) and self.installed_at < self.time:  # type: ignore[operator]
            raise EntryError("must not be earlier than time, the removal", "installed_at")
        if self.shade == "band":
            why = "a band needs its measures; write this deployment into fieldlog.yaml by hand"
            raise EntryError(why, "shade")
        return self


class PowerRow(_Row):
    """A time without power, which may lie before the visit."""

    type: Literal["power"]
    until: UtcTime
    positions: tuple[Name, ...] = ()

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> Self:
        if self.until <= self.time:
            raise EntryError("must be later than time", "until")
        return self


Row = Annotated[
    LevelRow | ClockRow | WorkRow | AlignmentRow | SensorRow | SerialRow | ExchangeRow | PowerRow,
    Field(discriminator="type"),
]


class VisitForm(Model):
    """A filled visit form."""

    visit: VisitHead
    entries: tuple[Row, ...]
