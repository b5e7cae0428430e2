"""The uncertainty of each value on the grid, its parts, and its budget."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.resolve import Period
from sunledger.physics.gum import combined_standard_uncertainty
from sunledger.physics.uncertainty import contributions, parts_by_period
from sunledger.physics.uncertainty_inputs import Component
from sunledger.stages.beside import logger_of
from sunledger.stages.budgets import Piece, pieces
from sunledger.stages.surroundings import Surroundings, surroundings

Array = npt.NDArray[np.float64]
Times = npt.NDArray[np.int64]
Values = Mapping[str, npt.NDArray[Any]]

Budget = tuple[tuple[Component, ...], dict[str, float]]
"""Components, and name → standard uncertainty. [W m-2]"""

COVERAGE_FACTOR = 2.0
"""About 95 % for a normal distribution."""

AROUND = ("ghi", "dhi", "dni", "lwd", "lwd_body_temperature")
COMPANIONS = ("min", "max", "body_temperature", "dome_temperature", "conditions")


def expanded_on_grid(position: str, one: Values, around: Surroundings, period: Period) -> Array:
    """
    Expanded uncertainty of a position, k = 2.

    Parameters
    ----------
    position : str
        Such as ``global_1``.
    one : dict of numpy.ndarray, shape (time,)
        As for :func:`pieces`.
    around : Surroundings
        Along the same grid.
    period : Period
        Resolved configuration.

    Returns
    -------
    uncertainty : numpy.ndarray, shape (time,)
        NaN where the irradiance is. [W m-2]
    """
    return _expanded(pieces(position, one, around, period), one["mean"])


def _expanded(found: Iterable[Piece], mean: Array) -> Array:
    out = np.full(mean.shape, np.nan)
    for piece in found:
        parts = parts_by_period(piece.components, piece.situation)
        out[piece.where] = COVERAGE_FACTOR * combined_standard_uncertainty(list(parts.values()))
    return np.where(np.isnan(mean), np.nan, out)


def _components(found: Iterable[Piece], mean: Array) -> dict[str, Array]:
    """Standard uncertainty by component; NaN where there is no value or no such component."""
    out: dict[str, Array] = {}
    for piece in found:
        for name, part in contributions(piece.components, piece.situation).items():
            out.setdefault(name, np.full(mean.shape, np.nan))[piece.where] = part
    return {name: np.where(np.isnan(mean), np.nan, part) for name, part in out.items()}


def budget_at(
    position: str, one: Values, around: Surroundings, period: Period, place: int
) -> Budget | None:
    """
    The single contributions to one value.

    Parameters
    ----------
    position : str
        Such as ``global_1``.
    one : dict of numpy.ndarray, shape (time,)
        As for :func:`pieces`.
    around : Surroundings
        Along the same grid.
    period : Period
        Resolved configuration.
    place : int
        Of the value on the grid.

    Returns
    -------
    budget : tuple or None
        Components and name → standard uncertainty [W m-2]; None without coefficients.
    """
    numbers = np.arange(around.time.size)
    for piece in pieces(position, one, around, period):
        inside = np.flatnonzero(numbers[piece.where] == place)
        if inside.size:
            size = numbers[piece.where].shape
            found = contributions(piece.components, piece.situation)
            sizes = {
                name: float(np.broadcast_to(part, size)[inside[0]]) for name, part in found.items()
            }
            return piece.components, sizes
    return None


def of_one(values: Values, name: str, logger: str) -> dict[str, npt.NDArray[Any]]:
    """Of all on the grid what belongs to one position or quantity."""
    found = {s: values[f"{name}_{s}"] for s in COMPANIONS if f"{name}_{s}" in values}
    residual = f"clock_residual_{logger}"
    found |= {"residual": values[residual]} if residual in values else {}
    return {"mean": np.asarray(values[name], dtype=float), **found}


def _primary_values(values: Values, period: Period, time: Times) -> dict[str, npt.NDArray[Any]]:
    """What the surroundings are told from, under the quantities' names."""
    out: dict[str, npt.NDArray[Any]] = {}
    for quantity, position, start, end in period.primary:
        for suffix in ("", "_body_temperature"):
            if quantity + suffix in AROUND and position + suffix in values:
                inside = (time >= start) & (time < end)
                mine = out.setdefault(quantity + suffix, np.full(time.shape, np.nan))
                mine[inside] = values[position + suffix][inside]
    return out


def position_uncertainties(
    values: Values, period: Period, time: Times, zenith: Array, interval: int
) -> dict[str, Array]:
    """
    Expanded uncertainty of all positions.

    Parameters
    ----------
    values : dict of numpy.ndarray, shape (time,)
        On the grid by position, and ``clock_residual_<logger>``.
    period : Period
        Resolved configuration.
    time : numpy.ndarray of int64, shape (time,)
        Grid. [s]
    zenith : numpy.ndarray, shape (time,)
        [degree]
    interval : int
        [s]

    Returns
    -------
    uncertainties : dict of numpy.ndarray, shape (time,)
        ``<position>_uncertainty``, k = 2, and ``<position>_uncertainty_<component>``, k = 1, where
        they are to be kept. [W m-2]
    """
    around = surroundings(_primary_values(values, period, time), time, zenith, period, interval)
    out: dict[str, Array] = {}
    for position in (p for p, _ in period.positions if p in values):
        one = of_one(values, position, logger_of(period, position).name)
        found, name = pieces(position, one, around, period), f"{position}_uncertainty"
        out[name] = _expanded(found, one["mean"])
        if period.processing.uncertainty.components_in_minutes:
            out |= {f"{name}_{c}": part for c, part in _components(found, one["mean"]).items()}
    return out


def contributions_on_grid(
    position: str, values: Values, period: Period, time: Times, zenith: Array, interval: int
) -> tuple[dict[str, Array], dict[str, str]]:
    """
    What every component of a position's budget contributes, and how long its error lasts.

    Parameters
    ----------
    position : str
        Such as ``global_1``.
    values, period, time, zenith, interval
        As for :func:`position_uncertainties`.

    Returns
    -------
    contributions : dict of numpy.ndarray, shape (time,)
        Component → standard uncertainty, NaN where the position has no coefficients. [W m-2]
    common : dict of str
        Component → name in ``PERIODS``.
    """
    around = surroundings(_primary_values(values, period, time), time, zenith, period, interval)
    out: dict[str, Array] = {}
    common: dict[str, str] = {}
    one = of_one(values, position, logger_of(period, position).name)
    for piece in pieces(position, one, around, period):
        common |= {c.name: c.common for c in piece.components}
        for name, part in contributions(piece.components, piece.situation).items():
            out.setdefault(name, np.full(time.shape, np.nan))[piece.where] = part
    return out, common


def _numbers(ds: xr.Dataset) -> dict[str, npt.NDArray[Any]]:
    found = {str(name): ds.variables[name].values for name in ds.data_vars}
    return {name: values for name, values in found.items() if values.dtype.kind in "fiu"}


def on_grid_of(ds: xr.Dataset, period: Period) -> tuple[dict[str, Any], Surroundings]:
    values = _numbers(ds)
    time = ds["time"].values
    zenith = ds["solar_zenith_angle"].values.astype(float)
    around = surroundings(values, time, zenith, period, int(ds.attrs["interval"]))
    return values, around


def budget_of_minute(ds: xr.Dataset, period: Period, quantity: str, place: int) -> Budget | None:
    """
    The single contributions to one minute.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes with their neighbours.
    period : Period
        Resolved configuration.
    quantity : str
        Such as ``ghi``.
    place : int
        Of the minute along ``time``.

    Returns
    -------
    budget : tuple or None
        Components and name → standard uncertainty [W m-2]; None where no instrument stands.
    """
    values, around = on_grid_of(ds, period)
    time = int(around.time[place])
    holders = (p for q, p, a, b in period.primary if q == quantity and a <= time < b)
    position = next(holders, None)
    if position is None:
        return None
    one = of_one(values, quantity, logger_of(period, position).name)
    return budget_at(position, one, around, period, place)
