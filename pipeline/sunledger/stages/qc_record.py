"""What the record says that tests need: skyline, class of the instruments, ventilators."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.resolve import Period
from sunledger.physics.iso9060 import PYRANOMETER_CLASSES, PYRHELIOMETER_CLASSES
from sunledger.vocabulary import SHORTWAVE

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]


SUPPLIES = ("supply_voltage", "battery_voltage")
"""Statuses that tell of the logger's own supply."""


def skyline_at_sun(ds: xr.Dataset, period: Period) -> Array | None:
    """
    Elevation of the recorded skyline where the sun stands.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes with ``solar_azimuth_angle``.
    period : Period
        With its skylines.

    Returns
    -------
    elevation : numpy.ndarray or None, shape (time,)
        Linear between the recorded azimuths, all the way round; NaN at times without a record.
        [degree]
    """
    if not period.skylines:
        return None
    time, azimuth = ds["time"].values, ds["solar_azimuth_angle"].values
    out = np.full(time.shape, np.nan)
    for start, end, pairs in period.skylines:
        inside = (time >= start) & (time < end)
        along, height = np.array(sorted(pairs), float).T
        out[inside] = np.interp(azimuth[inside], along, height, period=360.0)
    return out


def _allowed(quantity: str, iso_class: str | None) -> float:
    classes = PYRHELIOMETER_CLASSES if quantity == "dni" else PYRANOMETER_CLASSES
    row = classes.get(iso_class or "")
    return row.total_zero_offset if row is not None else np.nan


def class_zero_offsets(ds: xr.Dataset, period: Period) -> dict[str, Array]:
    """
    Total zero offset that the class of each primary instrument allows.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes.
    period : Period
        Coefficients with the ISO 9060 classes.

    Returns
    -------
    offsets : dict of numpy.ndarray, shape (time,)
        By shortwave quantity; NaN where no class is recorded. Quantities without any class are
        left out. [W m-2]
    """
    time = ds["time"].values
    out: dict[str, Array] = {}
    for quantity, position, start, end in period.primary:
        rows = [c for c in period.coefficients if c.position == position and c.iso_class]
        if quantity not in SHORTWAVE or not rows:
            continue
        allowed = out.setdefault(quantity, np.full(time.shape, np.nan))
        for row in rows:
            inside = (time >= max(start, row.start)) & (time < min(end, row.end))
            allowed[inside] = _allowed(quantity, row.iso_class)
    return out


def unventilated(ds: xr.Dataset, period: Period) -> dict[str, Mask]:
    """
    Where the status says that the ventilator of a quantity stands.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes with the status channels.
    period : Period
        Channels with what they serve and when it counts as off.

    Returns
    -------
    still : dict of numpy.ndarray of bool, shape (time,)
        Only quantities that a ventilator or heater status serves.
    """
    channels = [c for logger in period.loggers for c in logger.channels if c.kind == "status"]
    out: dict[str, Mask] = {}
    for position, quantity in period.positions:
        for channel in channels:
            watches = channel.least is not None and channel.name not in SUPPLIES
            if watches and position in channel.serves:
                off = ds[channel.name].values < channel.least
                out[quantity] = out.get(quantity, np.zeros(off.shape, bool)) | off
    return out


def supply_low(ds: xr.Dataset, period: Period) -> dict[str, Mask]:
    """
    Where the supply of a quantity's logger lies below its least voltage.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes with the status channels.
    period : Period
        Loggers with their channels, and which position the quantity takes when.

    Returns
    -------
    low : dict of numpy.ndarray of bool, shape (time,)
        Only quantities of a logger that logs a supply voltage with a least value.
    """
    time = ds["time"].values
    out: dict[str, Mask] = {}
    for logger in period.loggers:
        watched = [c for c in logger.channels if c.name in SUPPLIES and c.least is not None]
        mine = {str(c.position) for c in logger.channels if c.kind == "signal"}
        for channel in watched:
            low = ds[channel.name].values < channel.least
            for quantity, position, start, end in period.primary:
                if position in mine:
                    known = out.setdefault(quantity, np.zeros(time.shape, bool))
                    known |= low & (time >= start) & (time < end)
    return out
