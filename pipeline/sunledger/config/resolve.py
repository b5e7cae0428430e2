"""The resolved configuration of a period: only what bears on it, as plain data.

Stages get nothing else from the configuration. The digest of a resolved period is therefore what
decides whether a product is stale: a note that does not change it cannot change the product.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from sunledger.config.clocks import ClockSegment, clock_segments
from sunledger.config.coefficients import Coefficients, coefficient_rows
from sunledger.config.conditions import ConditionInterval, condition_intervals
from sunledger.config.loading import StationConfig
from sunledger.config.models.processing import Processing
from sunledger.config.models.station import Channel, Station
from sunledger.config.signal_paths import SignalPath, signal_paths
from sunledger.config.soilings import soilings
from sunledger.config.tilts import tilts


@dataclass(frozen=True)
class ResolvedLogger:
    """
    What the stages need to know of a logger.

    Parameters
    ----------
    name : str
        Name in `station.yaml`.
    utc_offset : int
        Zone of the logger's clock, positive east. [s]
    interval : int
        Averaging interval. [s]
    label : str
        ``start`` or ``end``.
    segments : tuple of ClockSegment
        Clock error in the course of true time.
    channels : tuple of Channel
        Meaning of the columns.
    """

    name: str
    utc_offset: int
    interval: int
    label: str
    segments: tuple[ClockSegment, ...]
    channels: tuple[Channel, ...]


@dataclass(frozen=True)
class Period:
    """
    The resolved configuration of ``[start, end)``.

    Parameters
    ----------
    station_id : str
        Identifier of the station.
    latitude, longitude : float
        Coordinates, positive north and east. [degree]
    altitude : float
        Above the geoid. [m]
    start, end : int
        The period in seconds since 1970-01-01 UTC.
    loggers : tuple of ResolvedLogger
        Loggers in the order written.
    positions : tuple of (str, str)
        Position and its quantity.
    primary : tuple of (str, str, int, int)
        Quantity, position whose values it takes, from, until.
    coefficients : tuple of Coefficients
        What turns voltages into irradiance, by position and time.
    conditions : tuple of ConditionInterval
        What the record says about intervals.
    processing : Processing
        Settings of the stages.
    skylines : tuple of (int, int, tuple of (float, float))
        From, until, and the skyline as pairs of azimuth and elevation [degree].
    tilts : tuple of (str, int, int, float)
        Position, from, until, and the largest tilt that the level checks allow, where it is more
        than a good check leaves open. [degree]
    signal_paths : tuple of SignalPath
        Gain and zero between instruments and files, where they are known.
    soilings : tuple of (str, int, int, float)
        Position or ``*``, from, until, and the largest loss that is recorded or accepted. [percent]
    """

    station_id: str
    latitude: float
    longitude: float
    altitude: float
    start: int
    end: int
    loggers: tuple[ResolvedLogger, ...]
    positions: tuple[tuple[str, str], ...]
    primary: tuple[tuple[str, str, int, int], ...]
    coefficients: tuple[Coefficients, ...]
    conditions: tuple[ConditionInterval, ...]
    processing: Processing
    skylines: tuple[tuple[int, int, tuple[tuple[float, float], ...]], ...] = ()
    tilts: tuple[tuple[str, int, int, float], ...] = ()
    signal_paths: tuple[SignalPath, ...] = ()
    soilings: tuple[tuple[str, int, int, float], ...] = ()

    def quantities(self) -> tuple[str, ...]:
        """
        Radiometric quantities that the station measures, each once.

        Returns
        -------
        quantities : tuple of str
            In the order of their positions.
        """
        return tuple(dict.fromkeys(quantity for _, quantity in self.positions))


def primary_periods(
    station: Station, start: int, end: int
) -> tuple[tuple[str, str, int, int], ...]:
    """
    Which position the plain name of each quantity holds, and when.

    Parameters
    ----------
    station : Station
        The station's file.
    start, end : int
        Period. [s]

    Returns
    -------
    rows : tuple of (quantity, position, from, until)
        Clipped to the period. Without an entry, the first position written.
    """
    rows: list[tuple[str, str, int, int]] = []
    positions = station.positions()
    for quantity in dict.fromkeys(positions.values()):
        first = next(p for p, q in positions.items() if q == quantity)
        dated = sorted(
            (p.valid_from, p.position) for p in station.primary if p.quantity == quantity
        )
        starts = [start, *(t for t, _ in dated), end]
        holders = [first, *(p for _, p in dated)]
        for holder, begin, until in zip(holders, starts, starts[1:], strict=False):
            begin, until = max(begin, start), min(until, end)
            if begin < until:
                rows.append((quantity, holder, begin, until))
    return tuple(rows)


def skylines(
    station: Station, start: int, end: int
) -> tuple[tuple[int, int, tuple[tuple[float, float], ...]], ...]:
    """
    Recorded skylines that hold in a period.

    Parameters
    ----------
    station : Station
        The station's file.
    start, end : int
        Period. [s]

    Returns
    -------
    rows : tuple of (from, until, pairs)
        Clipped to the period; pairs of azimuth and elevation [degree]. Times without a skyline
        have no row.
    """
    sites = sorted(station.site, key=lambda s: s.valid_from)
    limits = [s.valid_from for s in sites[1:]] + [end]
    rows = [
        (max(s.valid_from, start), min(until, end), s.horizon)
        for s, until in zip(sites, limits, strict=True)
        if s.horizon
    ]
    return tuple(row for row in rows if row[0] < row[1])


def segments_bearing(
    segments: tuple[ClockSegment, ...], start: int, end: int
) -> tuple[ClockSegment, ...]:
    """
    Clock segments that decide which readings belong to a period.

    Parameters
    ----------
    segments : tuple of ClockSegment
        All of the clock.
    start, end : int
        Period. [s]

    Returns
    -------
    bearing : tuple of ClockSegment
        Every segment that touches the period, and every one that shows a label which a segment
        already among them would take into the period: the clock was set back over it.
    """
    near = [s for s in segments if s.end > start and s.start < end]
    while True:
        windows = [
            (start + min(s.error_start, s.error_end), end + max(s.error_start, s.error_end))
            for s in near
        ]
        more = [
            s
            for s in segments
            if s in near
            or any(s.start + s.error_start < b and s.end + s.error_end > a for a, b in windows)
        ]
        if more == near:
            return tuple(near)
        near = more


def since_there(segments: tuple[ClockSegment, ...], first_site: int) -> tuple[ClockSegment, ...]:
    """
    Clock segments in which labels from before the station are a clock's that lost its date.

    Parameters
    ----------
    segments : tuple of ClockSegment
        All of the clock.
    first_site : int
        When the first site period begins. [s]

    Returns
    -------
    segments : tuple of ClockSegment
        The first one begins with the station, if a later one shows such labels; else as given.
    """
    first, *later = segments
    restarted = any(s.start + s.error_start < first_site for s in later)
    if not restarted or not first.start < first_site < first.end:
        return segments
    return (replace(first, start=first_site), *later)


def resolve_logger(
    config: StationConfig, name: str, processing: Processing, start: int, end: int
) -> ResolvedLogger:
    """
    Resolve one logger for a period.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    name : str
        The logger.
    processing : Processing
        Settings.
    start, end : int
        Period. [s]

    Returns
    -------
    logger : ResolvedLogger
        With the clock segments that bear on the period.
    """
    logger = config.station.loggers[name]
    segments = clock_segments(config.fieldlog, name, logger.clock, processing.time_correct.policy)
    first_site = min(site.valid_from for site in config.station.site)
    near = segments_bearing(since_there(segments, first_site), start, end)
    return ResolvedLogger(
        name, logger.utc_offset, logger.interval, logger.label, near, logger.channels
    )


def resolve_period(config: StationConfig, processing: Processing, start: int, end: int) -> Period:
    """
    Resolve everything that bears on a period, before any data is read.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    processing : Processing
        Settings.
    start, end : int
        Period, halo included. [s]

    Returns
    -------
    period : Period
        Input of the stages.
    """
    station = config.station
    conditions = condition_intervals(config, processing, start, end)
    return Period(
        station_id=station.id,
        latitude=station.latitude,
        longitude=station.longitude,
        altitude=station.altitude,
        start=start,
        end=end,
        loggers=tuple(
            resolve_logger(config, name, processing, start, end) for name in station.loggers
        ),
        positions=tuple(station.positions().items()),
        primary=primary_periods(station, start, end),
        coefficients=coefficient_rows(config, processing.calibrate, start, end),
        conditions=conditions,
        processing=processing,
        skylines=skylines(station, start, end),
        tilts=tilts(config, processing.uncertainty.level, start, end),
        signal_paths=signal_paths(config, processing.calibrate, start, end),
        soilings=soilings(config, conditions, processing.uncertainty.soiling_bound),
    )
