"""Types of the scenario: what a station, an instrument and a logger are to the generator."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime

Pairs = tuple[tuple[float, float], ...]
ALWAYS = float("-inf")
"""Start of what stands there in any period asked for; the field log tells since when."""


def utc(text: str) -> float:
    """
    Seconds since 1970-01-01 of a UTC time.

    Parameters
    ----------
    text : str
        ISO 8601, such as ``2031-04-14 10:20``.

    Returns
    -------
    unix_time : float
        Seconds since 1970-01-01 UTC.
    """
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


@dataclass(frozen=True)
class Certificate:
    """
    One certificate: what the laboratory says.

    Parameters
    ----------
    number, date : str
        Certificate number and ISO date.
    sensitivity : float
        [uV W-1 m2]
    uncertainty : float
        Expanded, coverage factor 2. [percent]
    """

    number: str
    date: str
    sensitivity: float
    uncertainty: float


@dataclass(frozen=True)
class Instrument:
    """
    A radiometer and the spread of what its certificate does not say.

    Parameters
    ----------
    serial, kind, iso_class : str
        As in the inventory.
    response_time : float
        To 95 %. [s]
    certificates : tuple of Certificate
        In order of date.
    temperature_response : pairs
        Body temperature [degC] and deviation of the sensitivity [percent].
    temperature_spread : float
        Standard deviation of the true response's slope about it. [percent K-1]
    thermal_offset : (float, float)
        Mean and standard deviation over the units of a kind, per net longwave. [W m-2 per W m-2]
    transient_offset : float
        Standard deviation, per rate of body temperature. [W m-2 per K h-1]
    directional : float
        Standard deviation of the relative directional error at 80 degrees zenith.
    nonlinearity : float
        Standard deviation between 500 and 1000 W m-2, relative.
    opening : float
        Standard deviation of the share of circumsolar light seen too much (pyrheliometer) or
        shaded too much (pyranometer under a shade).
    zero : float
        Standard deviation of the zero of cable and input. [uV]
    noise : float
        Standard deviation of one sample. [uV]
    dome_factor : float or None
        Pyrgeometer with a dome thermistor: factor of the dome term.
    solar_leak : float
        Pyrgeometer: mean share of the global that heats the dome like longwave.
    """

    serial: str
    kind: str
    iso_class: str | None
    response_time: float
    certificates: tuple[Certificate, ...]
    temperature_response: Pairs = ()
    temperature_spread: float = 0.004
    thermal_offset: tuple[float, float] = (0.0, 0.0)
    transient_offset: float = 0.0
    directional: float = 0.0
    nonlinearity: float = 0.001
    opening: float = 0.0
    zero: float = 0.5
    noise: float = 0.4
    dome_factor: float | None = None
    solar_leak: float = 0.0


@dataclass(frozen=True)
class Placement:
    """
    Who stands at a position, and from when.

    Parameters
    ----------
    position, component, serial : str
        Position, ``ghi``/``dhi``/``dni``/``lwd``, and instrument.
    start, end : float
        UTC seconds, half open.
    """

    position: str
    component: str
    serial: str
    start: float
    end: float = float("inf")


@dataclass(frozen=True)
class Injection:
    """
    One fault to be injected.

    Parameters
    ----------
    kind : str
        Name of the function in `faults`, or a word of `northmere.accidents`.
    start, end : float
        UTC seconds, half open.
    position : str
        Position, logger or status it acts on; empty where the function says so itself.
    settings : mapping
        Size and shape, passed to the function.
    """

    kind: str
    start: float
    end: float
    position: str = ""
    settings: Mapping[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True)
class Column:
    """
    One column of a logger's table.

    Parameters
    ----------
    name, unit : str
        As written in the header.
    source : str
        ``<position>``, ``<position>.body``, ``<position>.dome``, ``air.<what>`` or
        ``status.<what>``.
    statistic : str
        ``mean``, ``minimum``, ``maximum`` or ``deviation``.
    form : str
        Format with the decimals the logger writes.
    """

    name: str
    unit: str
    source: str
    statistic: str
    form: str


@dataclass(frozen=True)
class Layout:
    """
    How a logger writes its table.

    Parameters
    ----------
    stamp : str
        ``iso`` (one column) or ``year_day_hhmm`` (three, in which 2400 ends a day).
    stamp_names : tuple of str
        Names of the time columns.
    separator, missing, over_range, quote : str
        Characters and words.
    header : tuple of str
        ``file``, ``names``, ``units``, ``statistics`` in order.
    title : str
        Text of the ``file`` line.
    """

    stamp: str
    stamp_names: tuple[str, ...]
    separator: str
    missing: str
    over_range: str
    quote: str
    header: tuple[str, ...]
    title: str = ""


@dataclass(frozen=True)
class Logger:
    """
    A logger: clock, labels, table.

    Parameters
    ----------
    name, serial : str
        Name and serial number.
    utc_offset : int
        Zone of its clock. [s]
    label : str
        ``start`` or ``end`` of the interval.
    layout : Layout
        How its table is written.
    columns : tuple of Column
        What it writes.
    clock : tuple of tuple of (float, float)
        Runs of the clock as in `faults.clocks.clock_error`.
    """

    name: str
    serial: str
    utc_offset: int
    label: str
    layout: Layout
    columns: tuple[Column, ...]
    clock: tuple[Pairs, ...]


@dataclass(frozen=True)
class Climate:
    """
    Weather of a site.

    Parameters
    ----------
    regimes : (float, float, float, float)
        Long-term shares of clear, scattered, broken and overcast days.
    persistence : float
        Probability that a day's regime simply goes on.
    cirrus : float
        Probability of a day with thin high cloud.
    temperature : float
        Mean, and half its daily range on clear days, and its change per day. [degC]
    daily_range : float
        Amplitude of the daily wave on clear days. [K]
    trend : float
        Seasonal change. [K d-1]
    dew_point : float
        Mean dew point. [degC]
    aerosol : float
        Median aerosol optical depth at 700 nm.
    wind : float
        Median speed of the clouds. [m s-1]
    """

    regimes: tuple[float, float, float, float]
    persistence: float
    cirrus: float
    temperature: float
    daily_range: float
    trend: float
    dew_point: float
    aerosol: float
    wind: float


@dataclass(frozen=True)
class Scenario:
    """
    Everything about one invented station.

    Parameters
    ----------
    id, folder, name : str
        Identifier, folder name, display name.
    latitude, longitude, altitude : float
        [degree, degree, m]
    climate : Climate
        Weather.
    horizon : pairs
        Azimuth and elevation of the skyline. [degree]
    instruments : tuple of Instrument
        Inventory.
    placements : tuple of Placement
        Who stands where.
    places : mapping
        Position → east and north of the mast. [m]
    loggers : tuple of Logger
        Loggers.
    injections : tuple of Injection
        Faults of the committed sample.
    start, days : str, int
        Period of the committed sample, in the loggers' own dates.
    tracker_words : mapping
        ``tracking``, ``homing``, ``off`` → number in the tracker's status column.
    """

    id: str
    folder: str
    name: str
    latitude: float
    longitude: float
    altitude: float
    climate: Climate
    horizon: Pairs
    instruments: tuple[Instrument, ...]
    placements: tuple[Placement, ...]
    places: Mapping[str, tuple[float, float]]
    loggers: tuple[Logger, ...]
    injections: tuple[Injection, ...]
    start: str
    days: int
    tracker_words: Mapping[str, int]

    def instrument(self, serial: str) -> Instrument:
        """
        One instrument of the inventory.

        Parameters
        ----------
        serial : str
            Serial number.

        Returns
        -------
        instrument : Instrument
            The one with that number.
        """
        return {i.serial: i for i in self.instruments}[serial]
