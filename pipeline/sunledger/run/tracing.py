"""Following one archived value back to its readings, with nothing but the archive.

The month's manifest keeps the resolved configuration and the voltage files keep the readings, so
the stages are run again on a few hours around the value. What comes out is compared with what the
archive holds: a trace that does not lead to the archived value says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.archive.listing import Published, chosen
from sunledger.archive.netcdf import read_file, read_tables
from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.config.restoring import restored_period
from sunledger.errors import ArchiveError
from sunledger.run.keys import halo
from sunledger.run.minutes import flagged, load_readings
from sunledger.stages.calibrate import calibrate
from sunledger.stages.placement import place_readings
from sunledger.stages.pooling import interval_of
from sunledger.stages.true_time import with_true_times

WORDS = ("flags", "tested", "conditions", "grade", "uncertainty", "min", "max", "std")
TABLES = ("calibration", "deployment", "levelling", "clock_check", "event")


@dataclass(frozen=True)
class Trace:
    """
    One archived value with everything that led to it.

    Parameters
    ----------
    file : Published
        The file that holds it, with its manifest.
    quantity : str
        Such as ``ghi``.
    time : int
        Start of its interval. [s]
    interval : int
        [s]
    archived : dict of float
        The value under the quantity's name, and its ``_flags``, ``_grade``, ``_uncertainty`` and
        other companions, as the file holds them.
    tables : dict
        History tables of the file: name → column → values.
    period : Period
        The resolved configuration around it.
    position : str
        Whose instrument the quantity takes then; empty when there is none.
    logger : ResolvedLogger
        That reads the position.
    logged : xarray.Dataset
        Readings of that logger and the others as logged, with true times, halo included.
    readings : xarray.Dataset
        The same, calibrated.
    rows : numpy.ndarray of int64
        The readings along ``reading_<logger>`` that made the value; empty when none did.
    minutes : xarray.Dataset
        Minutes made again, halo included.
    place : int
        Of the value along ``time`` of the minutes.
    """

    file: Published
    quantity: str
    time: int
    interval: int
    archived: dict[str, float]
    tables: dict[str, dict[str, npt.NDArray[np.generic]]]
    period: Period
    position: str
    logger: ResolvedLogger
    logged: xr.Dataset
    readings: xr.Dataset
    rows: npt.NDArray[np.int64]
    minutes: xr.Dataset
    place: int

    @property
    def again(self) -> float:
        """
        The value made again from the archived readings.

        Returns
        -------
        value : float
            NaN where there is none.
        """
        return float(self.minutes[self.quantity].values[self.place])


def trace(archive: Path, station: str, quantity: str, time: int) -> Trace:
    """
    Follow one archived value back to its readings.

    Parameters
    ----------
    archive : Path
        Folder of the archive.
    station : str
        Identifier.
    quantity : str
        A radiometric quantity such as ``ghi``.
    time : int
        Any instant within the interval of the value. [s since 1970-01-01 UTC]

    Returns
    -------
    trace : Trace
        Everything that led to it.

    Raises
    ------
    ArchiveError
        If the archive holds no minute of that time, or the station does not measure the quantity.
    """
    file = _file_of(archive, station, time)
    period = restored_period(file.manifest.resolved_configuration)
    if quantity not in period.quantities():
        known = ", ".join(period.quantities())
        raise ArchiveError(
            f"{station} measures no such quantity; allowed: {known} (got {quantity})"
        )
    start, interval, archived = _archived(file, quantity, time)
    reach = halo(period.coefficients)
    window = (start - reach) // interval * interval, -(-(start + interval + reach) // interval)
    near = replace(period, start=window[0], end=window[1] * interval)
    position, logger = _holder(near, quantity, start)
    raw = load_readings(archive, near)
    logged = with_true_times(raw, near)
    readings = calibrate(logged, near)
    minutes = flagged(raw, near)
    times = minutes["time"].values
    tables = read_tables(file.path)
    return Trace(
        file,
        quantity,
        start,
        interval,
        archived,
        {name: tables[f"metadata/{name}"] for name in TABLES},
        near,
        position,
        logger,
        logged,
        readings,
        readings_of(readings, logger, times, interval, int(np.searchsorted(times, start))),
        minutes,
        int(np.searchsorted(times, start)),
    )


def _file_of(archive: Path, station: str, time: int) -> Published:
    month = str(np.datetime64(time, "s").astype("M8[M]"))
    files = chosen(archive, station, ("minute", "series"), month, month)
    return min(files, key=lambda f: f.manifest.product != "minute")


def _archived(file: Published, quantity: str, time: int) -> tuple[int, int, dict[str, float]]:
    """Start and length of the interval that holds an instant, and what the file says of it."""
    times = read_file(file.path, ["time"])["time"].data
    place = int(np.searchsorted(times, time, side="right")) - 1
    interval = int(np.diff(times[:2])[0]) if times.size > 1 else 60
    if place < 0 or time >= times[place] + interval:
        when = np.datetime64(time, "s").item()
        raise ArchiveError(f"{file.path}: holds nothing of {when:%Y-%m-%d %H:%M} UTC")
    names = {quantity, *(f"{quantity}_{word}" for word in WORDS)}
    spec = read_file(file.path, None, {"time": (place, place + 1)})
    parts = f"{quantity}_uncertainty_"
    kept = [v for v in spec.variables if v.name in names or v.name.startswith(parts)]
    said = {v.name: float(v.data[0]) for v in kept}
    return int(times[place]), interval, said


def _holder(period: Period, quantity: str, time: int) -> tuple[str, ResolvedLogger]:
    """Position that a quantity takes at a time, and the logger that reads it."""
    position = next(
        p for q, p, begin, end in period.primary if q == quantity and begin <= time < end
    )
    logger = next(x for x in period.loggers if any(c.position == position for c in x.channels))
    return position, logger


def readings_of(
    readings: xr.Dataset,
    logger: ResolvedLogger,
    times: npt.NDArray[np.int64],
    interval: int,
    place: int,
) -> npt.NDArray[np.int64]:
    """
    Which readings of a logger made one interval.

    Parameters
    ----------
    readings : xarray.Dataset
        With true start times.
    logger : ResolvedLogger
        The logger.
    times : numpy.ndarray of int64, shape (time,)
        Grid. [s]
    interval : int
        [s]
    place : int
        Of the interval on the grid.

    Returns
    -------
    rows : numpy.ndarray of int64
        In file order; several where a fast logger was pooled.
    """
    if logger.interval < interval:
        kept = np.flatnonzero(readings[f"line_status_{logger.name}"].values == 0)
        start = readings[f"start_time_{logger.name}"].values[kept]
        mine = interval_of(start, logger, interval) == times[place] // interval
        return np.asarray(kept[mine], np.int64)
    placed = place_readings(readings, logger, times, interval)
    return np.asarray(placed.rows[placed.slots == place], np.int64)
