"""Readings onto the regular grid of true time: labels move by whole intervals, values never."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.station import Channel
from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.datasets import as_variables
from sunledger.physics.kept_sun import kept_solar_position
from sunledger.physics.sun import SolarPosition, extraterrestrial_normal, zenith_angle
from sunledger.stages.placement import (
    Placement,
    condition_words,
    place_readings,
    rejected_line_words,
    unverified_words,
)
from sunledger.stages.pooling import pool_readings
from sunledger.stages.uncertain_minutes import position_uncertainties
from sunledger.vocabulary import AIR_TESTED, CORRECTIONS, LONGEST_BY_MIDDLE, SHORTWAVE, STATISTICS

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.int64]
Words = npt.NDArray[np.int32]
Mask = npt.NDArray[np.bool_]

VERSION = 10

SHORTEST_INTERVAL = 60
"""Readings faster than this are pooled to it after calibration. [s]"""


def grid_of(period: Period, interval: int) -> Times:
    """
    Regular grid of a period.

    Parameters
    ----------
    period : Period
        Whose start and end lie on whole intervals.
    interval : int
        [s]

    Returns
    -------
    time : numpy.ndarray of int64, shape (time,)
        Starts of the intervals. [s since 1970-01-01, UTC]
    """
    return np.arange(period.start, period.end, interval, dtype=np.int64)


class SunGrid(NamedTuple):
    """
    Regular grid of a period with the sun at its nominal middles.

    Parameters
    ----------
    time : numpy.ndarray of int64, shape (time,)
        Starts of the intervals. [s since 1970-01-01, UTC]
    interval : int
        [s]
    sun : SolarPosition
        At the middles, by the grid.
    """

    time: Times
    interval: int
    sun: SolarPosition


def sun_grid(period: Period) -> SunGrid:
    """
    Grid that the readings of all loggers of a period are put on.

    Parameters
    ----------
    period : Period
        Whose start and end lie on whole intervals.

    Returns
    -------
    grid : SunGrid
        Of the longest interval of its loggers, at least `SHORTEST_INTERVAL`.
    """
    interval = max(SHORTEST_INTERVAL, *(logger.interval for logger in period.loggers))
    time = grid_of(period, interval)
    site = (period.latitude, period.longitude, period.altitude)
    sun = kept_solar_position(time + interval / 2, *site)
    return SunGrid(time, interval, sun)


def _cosine_zenith(period: Period, grid: SunGrid, residual: Array) -> Array:
    """Cosine of the sun's zenith angle for a logger's intervals: see `LONGEST_BY_MIDDLE`."""
    time, interval, sun = grid
    offset = np.where(np.isnan(residual), 0.0, residual)
    if interval <= LONGEST_BY_MIDDLE:
        if not offset.any():
            return np.cos(np.radians(sun.zenith))
        return _cosine_at(period, time + interval / 2 + offset)
    parts = -(-interval // 60)
    shares = (np.arange(parts) + 0.5) / parts
    inside = [_cosine_at(period, time + share * interval + offset) for share in shares]
    return np.asarray(np.maximum(inside, 0.0).mean(axis=0))


def _cosine_at(period: Period, instants: npt.NDArray[np.floating[Any]]) -> Array:
    zenith = zenith_angle(instants, period.latitude, period.longitude, period.altitude)
    return np.cos(np.radians(zenith))


def _position_variables(
    ds: xr.Dataset, channels: list[Channel], position: str, placed: Placement
) -> dict[str, npt.NDArray[Any]]:
    logged = [c.statistic for c in channels if c.position == position and c.kind == "signal"]
    names = [position if s == "mean" else f"{position}_{s}" for s in STATISTICS if s in logged]
    more = (f"{position}_fingerprint", *(f"{position}_{c}_correction" for c in CORRECTIONS))
    names += [n for n in more if n in ds]
    out = {name: placed.put(ds.variables[name].values) for name in names}
    for sensor in ("body_temperature", "dome_temperature"):
        if f"{position}_{sensor}_kelvin" in ds:
            kelvin = ds.variables[f"{position}_{sensor}_kelvin"].values
            out[f"{position}_{sensor}"] = placed.put(kelvin)
    out[f"{position}_over_range"] = placed.put(ds.variables[f"{position}_over_range"].values, False)
    out[f"{position}_conditions"] = placed.put(ds.variables[f"{position}_conditions"].values, 0)
    return out


def logger_on_grid(
    ds: xr.Dataset, period: Period, logger: ResolvedLogger, grid: SunGrid
) -> dict[str, npt.NDArray[Any]]:
    """
    Put everything one logger measured on the grid.

    Parameters
    ----------
    ds : xarray.Dataset
        Calibrated readings.
    period : Period
        Resolved configuration.
    logger : ResolvedLogger
        The logger.
    grid : SunGrid
        From :func:`sun_grid`.

    Returns
    -------
    variables : dict of numpy.ndarray, shape (time,)
        By position, and ``clock_residual_<logger>`` [s].
    """
    time, interval, _ = grid
    common = unverified_words(logger, time) | rejected_line_words(ds, logger, time, interval)
    if logger.interval < interval:
        ds, logger = pool_readings(ds, logger, interval)
    placed = place_readings(ds, logger, time, interval)
    common |= placed.words
    out: dict[str, npt.NDArray[Any]] = {f"clock_residual_{logger.name}": placed.residual}
    cosine = _cosine_zenith(period, grid, placed.residual)
    positions = dict(period.positions)
    for position in dict.fromkeys(str(c.position) for c in logger.channels if c.kind == "signal"):
        out |= _position_variables(ds, list(logger.channels), position, placed)
        targets = {position, positions[position], logger.name, "*"}
        recorded = condition_words(period.conditions, targets, time, interval)
        out[f"{position}_conditions"] = out[f"{position}_conditions"] | common | recorded
        if positions[position] in SHORTWAVE:
            out[f"{position}_cosine_zenith"] = cosine
    for channel in logger.channels:
        if channel.kind == "air":
            out[channel.name] = placed.put(ds.variables[f"{channel.name}_si"].values)
            if channel.name in AIR_TESTED:
                targets = {channel.name, logger.name, "*"}
                recorded = condition_words(period.conditions, targets, time, interval)
                out[f"{channel.name}_conditions"] = common | recorded
        if channel.kind == "status":
            out[channel.name] = placed.put(ds.variables[channel.name].values)
    return out


def by_quantity(
    variables: dict[str, npt.NDArray[Any]], period: Period, time: Times
) -> dict[str, npt.NDArray[Any]]:
    """
    Rename positions to quantities: the primary takes the plain name, the others a longer one.

    Parameters
    ----------
    variables : dict of numpy.ndarray, shape (time,)
        Named by position.
    period : Period
        Which position each quantity takes, and when.
    time : numpy.ndarray of int64, shape (time,)
        Grid. [s]

    Returns
    -------
    renamed : dict of numpy.ndarray, shape (time,)
        ``ghi``, ``ghi_min`` and so on from the primary; where a quantity has several positions,
        each also as ``ghi_at_<position>``.
    """
    positions = dict(period.positions)
    held, whole = _held_when(period, time), slice(0, time.size)
    out = {n: v for n, v in variables.items() if not any(_belongs(n, p) for p in positions)}
    for position, quantity in positions.items():
        mine = {n: v for n, v in variables.items() if _belongs(n, position)}
        several = sum(q == quantity for q in positions.values()) > 1
        for name, values in mine.items():
            suffix = name[len(position) :]
            if several:
                # under two names where it is the primary throughout: who writes to one is told
                values = values.view()
                values.flags.writeable = False
                out[f"{quantity}_at_{position}{suffix}"] = values
            for place in held.get((quantity, position), ()):
                if place == whole:
                    out[quantity + suffix] = values
                    continue
                target = out.setdefault(quantity + suffix, _empty_like(values))
                if place.start < place.stop:  # none, where it is exchanged in the last interval
                    target[place] = values[place]
    return out


def _held_when(period: Period, time: Times) -> dict[tuple[str, str], list[slice]]:
    """Where on the grid each position is the primary one of its quantity."""
    held: dict[tuple[str, str], list[slice]] = {}
    for quantity, position, start, end in period.primary:
        first, past = np.searchsorted(time, (start, end)).tolist()
        held.setdefault((quantity, position), []).append(slice(first, past))
    return held


_SUFFIXES = (
    "",
    *(f"_{s}" for s in STATISTICS if s != "mean"),
    "_body_temperature",
    "_dome_temperature",
    "_conditions",
    "_cosine_zenith",
    "_over_range",
    "_fingerprint",
    "_uncertainty",
    *(f"_{name}_correction" for name in CORRECTIONS),
)


def _belongs(name: str, position: str) -> bool:
    suffix = name[len(position) :]
    known = suffix in _SUFFIXES or suffix.startswith("_uncertainty_")
    return name.startswith(position) and known


def _empty_like(values: npt.NDArray[Any]) -> npt.NDArray[Any]:
    return np.full(values.shape, np.nan if values.dtype.kind == "f" else 0, values.dtype)


def time_correct(ds: xr.Dataset, period: Period) -> xr.Dataset:
    """
    Put the calibrated readings of all loggers on one regular grid of true time.

    Parameters
    ----------
    ds : xarray.Dataset
        Calibrated readings, one dimension ``reading_<logger>`` a logger.
    period : Period
        Resolved configuration; its start and end bound the grid.

    Returns
    -------
    minutes : xarray.Dataset
        Along ``time`` (start of the interval, UTC): quantities with their statistics, body
        temperatures and conditions, air data, status, ``clock_residual_<logger>``,
        ``solar_zenith_angle`` and ``solar_azimuth_angle`` at the nominal middle [degree],
        ``extraterrestrial_irradiance`` normal to the beam [W m-2].
    """
    grid = sun_grid(period)
    time, interval, sun = grid
    on_grid: dict[str, npt.NDArray[Any]] = {}
    for logger in period.loggers:
        on_grid |= logger_on_grid(ds, period, logger, grid)
    solar_constant = period.processing.time_correct.solar_constant
    on_grid |= position_uncertainties(on_grid, period, time, sun.zenith, interval)
    on_grid = by_quantity(on_grid, period, time) | {
        "solar_zenith_angle": sun.zenith,
        "solar_azimuth_angle": sun.azimuth,
        "extraterrestrial_irradiance": extraterrestrial_normal(sun.distance, solar_constant),
    }
    series = {name: ("time", values) for name, values in on_grid.items()}
    return xr.Dataset(
        as_variables(series), as_variables({"time": ("time", time)}), {"interval": interval}
    )
