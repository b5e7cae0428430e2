"""Clocks by which periods are cut: UTC, local standard time, true solar time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sunledger.config.models.aggregation import TimeBaseName
from sunledger.physics.solar_time import solar_instant, solar_label

Times = npt.NDArray[np.int64]

DAY = 86400


@dataclass(frozen=True)
class TimeBase:
    """
    A clock by which periods are cut.

    Parameters
    ----------
    name : str
        ``utc``, ``local_standard`` or ``true_solar``.
    offset : int
        Local standard time less UTC. [s]
    longitude : float
        Of the site, east positive, for true solar time. [degree]
    """

    name: TimeBaseName = "utc"
    offset: int = 0
    longitude: float = 0.0

    @property
    def _ahead(self) -> int:
        return self.offset if self.name == "local_standard" else 0

    def label(self, instant: int) -> float:
        """
        What the clock shows.

        Parameters
        ----------
        instant : int
            UTC. [s since 1970-01-01]

        Returns
        -------
        label : float
            Counted like UTC. [s]
        """
        if self.name == "true_solar":
            return float(solar_label(instant, self.longitude))
        return float(instant + self._ahead)

    def instants(self, labels: Times, interval: int) -> Times:
        """
        Starts of the first intervals that belong to a label or a later one.

        Parameters
        ----------
        labels : numpy.ndarray of int64, shape (label,)
            What the clock shows. [s]
        interval : int
            Of a series on absolute multiples of it. [s]

        Returns
        -------
        instants : numpy.ndarray of int64, shape (label,)
            UTC. An interval belongs to the period in which its middle lies. [s]
        """
        if self.name == "true_solar":
            true = solar_instant(labels, self.longitude)
        else:
            true = labels.astype(np.float64) - self._ahead
        return (np.ceil((true - interval / 2) / interval) * interval).astype(np.int64)

    def bounds(self, month: str, interval: int) -> tuple[int, int]:
        """
        Both ends of a calendar month or year of this clock.

        Parameters
        ----------
        month : str
            Such as ``2031-03`` or ``2031``.
        interval : int
            Of the series. [s]

        Returns
        -------
        start, end : int
            UTC, on whole intervals. [s]
        """
        first = np.datetime64(month)
        labels = np.array([first, first + 1]).astype("M8[s]").astype(np.int64)
        start, end = self.instants(labels, interval)
        return int(start), int(end)


@dataclass(frozen=True)
class Grid:
    """
    Consecutive periods of one clock.

    Parameters
    ----------
    edges : numpy.ndarray of int64, shape (period + 1,)
        Their ends, UTC. [s]
    labels : numpy.ndarray of int64, shape (period,)
        What the clock shows at each start. [s]
    """

    edges: Times
    labels: Times


def grid(base: TimeBase, window: tuple[int, int], step: int, interval: int) -> Grid:
    """
    Periods of a fixed length of the clock that fill a window.

    Parameters
    ----------
    base : TimeBase
        The clock.
    window : (int, int)
        Both ends, UTC, on whole intervals. [s]
    step : int
        Length of a period by the clock, a divisor of the day. [s]
    interval : int
        Of the series. [s]

    Returns
    -------
    grid : Grid
        The first and last period are cut at the window's ends.
    """
    start, end = window
    first = int(base.label(start) // step) - 1
    past = int(base.label(end) // step) + 3
    labels = step * np.arange(first, past, dtype=np.int64)
    edges = base.instants(labels, interval)
    opening = int(np.searchsorted(edges, start, side="right")) - 1
    closing = int(np.searchsorted(edges, end, side="left"))
    inner = edges[opening : closing + 1].copy()
    inner[0], inner[-1] = start, end
    return Grid(inner, labels[opening:closing])
