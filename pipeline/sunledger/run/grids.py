"""Grids of a station: minutes, and one series for every longer interval that its loggers have."""

from __future__ import annotations

from dataclasses import replace

from sunledger.config.loading import StationConfig
from sunledger.config.models.station import Station
from sunledger.config.remembering import remembered
from sunledger.stages.time_correct import SHORTEST_INTERVAL


def grid_intervals(station: Station) -> tuple[int, ...]:
    """
    Intervals of a station's products.

    Parameters
    ----------
    station : Station
        With its loggers.

    Returns
    -------
    intervals : tuple of int
        Rising, each once: a minute for all loggers up to it, else the logger's own. [s]
    """
    return tuple(sorted({max(SHORTEST_INTERVAL, g.interval) for g in station.loggers.values()}))


def grid_product(interval: int) -> tuple[str, str]:
    """
    Product and part under which the series of an interval stand in the archive.

    Parameters
    ----------
    interval : int
        [s]

    Returns
    -------
    product, part : str, str
        ``minute`` without a part, or ``series`` with the interval as its part.
    """
    return ("minute", "") if interval == SHORTEST_INTERVAL else ("series", str(interval))


@remembered(1024)
def on_grid(config: StationConfig, interval: int) -> StationConfig:
    """
    A station as if it had only the loggers of one grid.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    interval : int
        One of :func:`grid_intervals`. [s]

    Returns
    -------
    config : StationConfig
        Unchanged where the station has one grid only. A quantity whose primary position belongs to
        another grid takes the first position of this one.
    """
    station = config.station
    if len(grid_intervals(station)) == 1:
        return config
    loggers = {
        name: logger
        for name, logger in station.loggers.items()
        if max(SHORTEST_INTERVAL, logger.interval) == interval
    }
    part = station.model_copy(update={"loggers": loggers})
    positions = part.positions()
    primary = tuple(p for p in station.primary if p.position in positions)
    return replace(config, station=part.model_copy(update={"primary": primary}))
