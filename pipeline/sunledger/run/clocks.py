"""Which periods a run makes, by which clock, and of which months of minutes."""

from __future__ import annotations

from collections.abc import Collection

from sunledger.config.models.aggregation import TimeBaseName
from sunledger.config.models.station import Station
from sunledger.run.context import RunContext
from sunledger.run.grids import grid_intervals
from sunledger.run.months import month_bounds, months_touched
from sunledger.stages.aggregate import REACH
from sunledger.stages.time_bases import TimeBase

DAY, HOUR = 86400, 3600
PARTS: dict[TimeBaseName, str] = {"utc": "", "local_standard": "local", "true_solar": "solar"}
"""Clock → part of the name of its files."""
_NAMES = {part: name for name, part in PARTS.items()}


def time_base(part: str, station: Station) -> TimeBase:
    """
    The clock of some files.

    Parameters
    ----------
    part : str
        Part of their names.
    station : Station
        Local standard time is the station's own or, where it states none, that of the nearest
        meridian of full hours.

    Returns
    -------
    base : TimeBase
        To cut periods by.
    """
    offset = station.local_standard_time
    if offset is None:
        offset = round(station.longitude / 15.0) * HOUR
    return TimeBase(_NAMES[part], offset, station.longitude)


def clock_words(part: str, station: Station) -> tuple[str, str]:
    """
    How files speak of their clock.

    Parameters
    ----------
    part : str
        Part of their names.
    station : Station
        For its local standard time.

    Returns
    -------
    variable, words : str, str
        Name of the variable that holds what the clock shows, and the clock in words; both empty
        for UTC.
    """
    base = time_base(part, station)
    if base.name == "utc":
        return "", ""
    if base.name == "true_solar":
        return "true_solar_time", "true solar time at the station"
    hours, minutes = divmod(abs(base.offset) // 60, 60)
    sign = "-" if base.offset < 0 else "+"
    return "local_standard_time", f"local standard time (UTC{sign}{hours:02d}:{minutes:02d})"


def closed_until(context: RunContext) -> int:
    """
    End of the last month that is over at the run's date.

    Parameters
    ----------
    context : RunContext
        With the run's "now".

    Returns
    -------
    end : int
        [s]
    """
    today = context.as_of // DAY * DAY
    return month_bounds(months_touched(today, today + 1)[0])[0]


def window(base: TimeBase, month: str, station: Station) -> tuple[int, int]:
    """
    Both ends of a month of a clock, on whole intervals of the station's finest grid.

    Parameters
    ----------
    base : TimeBase
        The clock.
    month : str
        Such as ``2031-03``.
    station : Station
        With its grids.

    Returns
    -------
    start, end : int
        UTC. [s]
    """
    return base.bounds(month, grid_intervals(station)[0])


def months_read(base: TimeBase, month: str, station: Station) -> list[str]:
    """
    Months of minutes that a month of a clock can depend on.

    Parameters
    ----------
    base : TimeBase
        The clock.
    month : str
        Such as ``2031-03``.
    station : Station
        With its grids.

    Returns
    -------
    months : list of str
        Of UTC; those that the month touches, and those next to it as far as ``REACH``.
    """
    start, end = window(base, month, station)
    # means of a longer interval may begin up to half of it earlier or later
    reach = max(REACH, grid_intervals(station)[-1])
    return months_touched(start - reach, end + reach)


def months_held(
    base: TimeBase, year: str, available: Collection[str], station: Station, until: int
) -> tuple[str, ...]:
    """
    Months of a clock that a year file can hold.

    Parameters
    ----------
    base : TimeBase
        The clock.
    year : str
        Such as ``2031``.
    available : collection of str
        Closed months with minutes.
    station : Station
        With its grids.
    until : int
        From :func:`closed_until`. A month that goes on beyond waits for the next one, so that what
        is published once is not changed by it. [s]

    Returns
    -------
    months : tuple of str
        Those of the year whose namesake of UTC has minutes.
    """
    return tuple(
        month
        for month in sorted(available)
        if month[:4] == year and window(base, month, station)[1] <= until
    )
