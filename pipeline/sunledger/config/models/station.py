"""`station.yaml`: where the station is, its loggers, and what each column of their tables means."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, field_validator, model_validator

from sunledger.config.models.base import (
    Contact,
    EntryError,
    Model,
    Name,
    StationId,
    Text,
    UtcOffset,
    UtcTime,
)
from sunledger.config.models.budget import Widths, check_names
from sunledger.config.models.instruments import RADIOMETER_KINDS
from sunledger.vocabulary import AIR, RADIOMETRIC

Statistic = Literal["mean", "min", "max", "std"]
HeaderLine = Literal["file", "names", "units", "statistics"]
TIME_WORDS = ("iso8601", "epoch_seconds", "year_day_hhmm")
UNITS: dict[str, tuple[str, ...]] = {
    "signal": ("uV", "mV", "V"),
    "temperature": ("degC", "K", "ohm"),
    "air_temperature": ("degC", "K"),
    "relative_humidity": ("%", "1"),
    "air_pressure": ("hPa", "Pa", "kPa"),
    "wind_speed": ("m s-1",),
    "wind_from_direction": ("degree",),
}
TRACKER_WORDS = ("tracking", "clock_tracking", "homing", "off", "fault")


class TimeStamp(Model):
    """How the date and time of a row are written."""

    columns: Annotated[tuple[Text, ...], Field(min_length=1)]
    format: Text
    """`strptime` directives for the columns joined by one blank, or one of `TIME_WORDS`."""

    @field_validator("format")
    @classmethod
    def _format_is_known(cls, value: str) -> str:
        if value not in TIME_WORDS and not ("%Y" in value or "%y" in value):
            words = ", ".join(TIME_WORDS)
            raise ValueError(f"must be one of {words}, or strptime directives with a year")
        return value


class Layout(Model):
    """One layout of a logger's text table, and from when it applies (logger's own labels)."""

    valid_from: UtcTime | None = Field(default=None, alias="from")
    header: tuple[HeaderLine, ...] = ("names",)
    names: tuple[Text, ...] | None = None
    """Column names in order, where the file has no `names` header line."""
    separator: Literal["comma", "semicolon", "tab", "blanks"] = "comma"
    decimal: Literal["point", "comma"] = "point"
    quote: Literal['"', "'"] | None = None
    comment: Text | None = None
    encoding: Literal["utf-8", "latin-1"] = "utf-8"
    record_code: Text | None = None
    """First field of the rows to read, where a table mixes record types."""
    time: TimeStamp
    missing: tuple[str, ...] = ("",)
    over_range: tuple[Text, ...] = ()

    @model_validator(mode="after")
    def _names_known_once(self) -> Self:
        if ("names" in self.header) == (self.names is not None):
            raise ValueError("names must be given exactly when header has no 'names' line")
        if self.separator == "comma" and self.decimal == "comma":
            raise ValueError("decimal comma cannot go with separator comma")
        return self


class Clock(Model):
    """How a logger's clock is kept right."""

    discipline: Literal["free", "time_signal"] = "free"
    bound: Annotated[float, Field(ge=0, le=60)] = 1.0
    """Largest error of a clock disciplined by a time signal. [s]"""


class Bridge(Model):
    """Half bridge in which a thermistor is read as a ratio of voltages."""

    resistor: Annotated[float, Field(gt=0)]
    """Resistance of the fixed resistor. [ohm]"""


class Passage(Model):
    """A device that a signal passes on its way into the file."""

    place: Name
    """Where the device is deployed; a logger without a deployment stands at its own name."""
    input: Text


class Channel(Model):
    """
    What one column of a logger's table means.

    Exactly one of these is meant: the signal of a radiometer (`position` and a radiometric
    `quantity`), a thermal sensor of a radiometer (`position` and `sensor`), air data (`quantity`),
    or a status (`status`).
    """

    column: Text
    unit: Text
    statistic: Statistic = "mean"
    position: Name | None = None
    quantity: Name | None = None
    sensor: Literal["body_temperature", "dome_temperature"] | None = None
    bridge: Bridge | None = None
    via: tuple[Passage, ...] = ()
    """Devices that the signal passes, from the instrument outwards: shunt, multiplexer, logger."""
    status: Name | None = None
    meanings: dict[int, Name] | None = None
    serves: tuple[Name, ...] = ()
    """Positions that a ventilator or heater status bears on."""
    least: float | None = None
    """Value of a status below which what it watches counts as off; of `supply_voltage` and
    `battery_voltage`, below which what its logger measures is doubtful."""

    @property
    def kind(self) -> Literal["signal", "temperature", "air", "status"]:
        """
        Which of the four uses this channel has.

        Returns
        -------
        kind : str
            ``signal``, ``temperature``, ``air`` or ``status``.
        """
        if self.status is not None:
            return "status"
        if self.sensor is not None:
            return "temperature"
        return "air" if self.quantity in AIR else "signal"

    @property
    def name(self) -> str:
        """
        Name of the channel's variable in the readings and in the voltage product.

        Returns
        -------
        name : str
            Such as ``global_1_mean``, ``lwd_1_body_temperature``, ``air_temperature``.
        """
        stem = {
            "status": self.status,
            "temperature": f"{self.position}_{self.sensor}",
            "air": self.quantity,
            "signal": self.position,
        }[self.kind]
        if self.kind != "signal" and self.statistic == "mean":
            return str(stem)
        return f"{stem}_{self.statistic}"

    @model_validator(mode="after")
    def _one_use(self) -> Self:
        if sum(v is not None for v in (self.quantity, self.sensor, self.status)) != 1:
            raise ValueError("needs exactly one of quantity, sensor, status")
        known = (*RADIOMETRIC, *AIR)
        if self.quantity is not None and self.quantity not in known:
            raise ValueError(
                f"unknown quantity; allowed: {', '.join(known)} (got {self.quantity!r})"
            )
        if self.kind in ("signal", "temperature") and self.position is None:
            raise ValueError("needs the position of the instrument, such as global_1")
        return self

    @model_validator(mode="after")
    def _unit_fits(self) -> Self:
        if self.kind == "status":
            return self
        allowed = UNITS[str(self.quantity) if self.kind == "air" else self.kind]
        if self.unit not in allowed:
            raise ValueError(f"unit must be one of {', '.join(allowed)} (got {self.unit!r})")
        return self

    @model_validator(mode="after")
    def _tracker_words(self) -> Self:
        if self.status == "tracker_mode":
            wrong = [w for w in (self.meanings or {}).values() if w not in TRACKER_WORDS]
            if wrong or not self.meanings:
                words = ", ".join(TRACKER_WORDS)
                raise ValueError(f"tracker_mode needs meanings among {words} (got {self.meanings})")
        return self


class Logger(Model):
    """A logger: its files, its clock, and its columns."""

    serial_number: Text
    files: Annotated[tuple[Text, ...], Field(min_length=1)]
    """Patterns below the raw folder; `*` and `**` as in shells."""
    layouts: Annotated[tuple[Layout, ...], Field(min_length=1)]
    utc_offset: UtcOffset
    interval: Annotated[int, Field(ge=1, le=3600)]
    """Averaging interval. [s]"""
    label: Literal["start", "end"]
    clock: Clock = Clock()
    channels: Annotated[tuple[Channel, ...], Field(min_length=1)]

    @field_validator("interval")
    @classmethod
    def _interval_fits_the_minute(cls, value: int) -> int:
        if 60 % value and (value % 60 or 3600 % value):
            raise ValueError("must divide a minute, or be whole minutes that divide an hour")
        return value

    @model_validator(mode="after")
    def _channels_once(self) -> Self:
        for what in ("name", "column"):
            names = [getattr(channel, what) for channel in self.channels]
            twice = sorted({n for n in names if names.count(n) > 1})
            if twice:
                raise ValueError(f"channels with the same {what}: {', '.join(twice)}")
        return self

    @model_validator(mode="after")
    def _layouts_in_order(self) -> Self:
        starts = [layout.valid_from for layout in self.layouts]
        if starts[0] is not None:
            raise ValueError("the first layout has no 'from': it applies from the beginning")
        later = starts[1:]
        if None in later or sorted(set(later)) != later:  # type: ignore[type-var]
            raise ValueError("every later layout needs a 'from', in rising order")
        return self


class SitePeriod(Model):
    """Facts about the site that change in time."""

    valid_from: UtcTime = Field(alias="from")
    surface: Text
    horizon: tuple[tuple[float, float], ...] = ()
    """Pairs of azimuth (clockwise from north) and elevation of the skyline. [degree]"""


class Primary(Model):
    """Which of several positions the plain quantity name holds, and from when."""

    valid_from: UtcTime = Field(alias="from")
    quantity: Name
    position: Name


class Station(Model):
    """`station.yaml`."""

    id: StationId
    name: Text
    description: Text
    latitude: Annotated[float, Field(ge=-90, le=90)]
    longitude: Annotated[float, Field(ge=-180, le=180)]
    altitude: Annotated[float, Field(ge=-430, le=9000)]
    licence: Text
    contact: Contact
    local_standard_time: UtcOffset | None = None
    """Local standard time less UTC, for periods of aggregation; without it that of the nearest
    meridian of full hours."""
    tracker_home_azimuth: Annotated[float, Field(ge=0, lt=360)] | None = None
    site: Annotated[tuple[SitePeriod, ...], Field(min_length=1)]
    loggers: Annotated[dict[Name, Logger], Field(min_length=1)]
    primary: tuple[Primary, ...] = ()
    budget: dict[Name, Widths] = Field(default={})
    """Quantity → uncertainty components as the station knows them, in place of all others."""

    @model_validator(mode="after")
    def _channel_names_unique(self) -> Self:
        names = [c.name for logger in self.loggers.values() for c in logger.channels]
        twice = sorted({n for n in names if names.count(n) > 1})
        if twice:
            raise ValueError(f"channels given by two loggers: {', '.join(twice)}")
        return self

    @model_validator(mode="after")
    def _components_known(self) -> Self:
        for quantity, widths in self.budget.items():
            if quantity not in RADIOMETER_KINDS:
                known = ", ".join(RADIOMETER_KINDS)
                raise EntryError(f"unknown quantity; allowed: {known}", "budget", quantity)
            check_names(widths, RADIOMETER_KINDS[quantity], "budget", quantity)
        return self

    def positions(self) -> dict[str, str]:
        """
        Radiometer positions and the quantity measured at each.

        Returns
        -------
        positions : dict
            Position → quantity, in the order written.
        """
        return {
            str(c.position): str(c.quantity)
            for logger in self.loggers.values()
            for c in logger.channels
            if c.kind == "signal"
        }
