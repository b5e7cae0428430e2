"""How a pyranometer's response to the beam departs from the cosine, by direction of the sun."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


def directional_deviation(
    zenith: npt.ArrayLike,
    azimuth: npt.ArrayLike,
    grid: tuple[npt.ArrayLike, npt.ArrayLike],
    percent: npt.ArrayLike,
) -> tuple[Array, npt.NDArray[np.bool_]]:
    """
    Relative deviation of the response to the beam from the cosine.

    Parameters
    ----------
    zenith, azimuth : float or array-like, shape (time,)
        Of the sun; azimuth in the sense of the table. [degree]
    grid : tuple of array-like, shapes (zeniths,) and (azimuths,)
        Directions of the table in rising order. [degree]
    percent : array-like, shape (zeniths, azimuths)
        Deviation. [percent]

    Returns
    -------
    deviation : numpy.ndarray, shape (time,)
        Linear in both angles, around the circle in azimuth; at the edge beyond the last or before
        the first zenith. [1]
    outside : numpy.ndarray of bool, shape (time,)
        Where the sun is up and its zenith lies beyond the table.
    """
    zeniths, azimuths = (np.asarray(axis, dtype=float) for axis in grid)
    table = np.asarray(percent, dtype=float)
    z, a = np.broadcast_arrays(np.asarray(zenith, float), np.asarray(azimuth, float) % 360.0)
    row, up = _place(np.clip(z, zeniths[0], zeniths[-1]), zeniths)
    around = np.concatenate([azimuths, [azimuths[0] + 360.0]])
    table = np.concatenate([table, table[:, :1]], axis=1)
    column, along = _place(np.where(a < azimuths[0], a + 360.0, a), around)
    lower = table[row, column] * (1 - along) + table[row, column + 1] * along
    upper = table[row + 1, column] * (1 - along) + table[row + 1, column + 1] * along
    outside = (z < 90.0) & ((z > zeniths[-1]) | (z < zeniths[0]))
    return np.asarray(lower * (1 - up) + upper * up) / 100.0, np.asarray(outside)


def _place(value: Array, axis: Array) -> tuple[npt.NDArray[np.intp], Array]:
    """Cell of each value along an axis, and how far it lies within the cell."""
    cell = np.clip(np.searchsorted(axis, value, side="right") - 1, 0, axis.size - 2)
    return cell, np.asarray((value - axis[cell]) / (axis[cell + 1] - axis[cell]))


def beam_excess(dni: npt.ArrayLike, zenith: npt.ArrayLike, deviation: npt.ArrayLike) -> Array:
    """
    What a horizontal pyranometer shows too much of the beam.

    Parameters
    ----------
    dni : float or array-like, shape (time,)
        Direct normal irradiance. [W m-2]
    zenith : float or array-like, shape (time,)
        Of the sun. [degree]
    deviation : float or array-like, shape (time,)
        Of the response from the cosine. [1]

    Returns
    -------
    excess : numpy.ndarray, shape (time,)
        0 with the sun below the horizontal or a direct that is not positive; NaN where the direct
        is unknown by day. [W m-2]
    """
    mu = np.maximum(np.cos(np.radians(np.asarray(zenith, dtype=float))), 0.0)
    beam = np.maximum(np.asarray(dni, dtype=float), 0.0)
    return np.asarray(np.where(mu > 0, beam * mu * np.asarray(deviation, dtype=float), 0.0))
