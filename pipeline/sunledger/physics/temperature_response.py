"""How the sensitivity of a thermopile radiometer depends on its temperature, by table."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


def relative_response(
    body_temperature: npt.ArrayLike, table: npt.ArrayLike
) -> tuple[Array, npt.NDArray[np.bool_]]:
    """
    Relative sensitivity at a body temperature, from a certificate's table.

    Parameters
    ----------
    body_temperature : float or array-like, shape (time,)
        Temperature of the instrument. [K]
    table : array-like, shape (points, 2)
        Temperature in rising order [degC] and deviation of the sensitivity [percent].

    Returns
    -------
    factor : numpy.ndarray, shape (time,)
        Factor on the sensitivity, linear between the points; outside the table the value at its
        edge. NaN where the temperature is NaN. [1]
    outside : numpy.ndarray of bool, shape (time,)
        Where the temperature lies outside the table.

    Raises
    ------
    ValueError
        If the temperatures of the table do not rise.
    """
    points = np.asarray(table, dtype=float)
    celsius = np.asarray(body_temperature, dtype=float) - 273.15
    if not np.all(np.diff(points[:, 0]) > 0):
        raise ValueError("temperatures of the table must rise")
    deviation = np.interp(celsius, points[:, 0], points[:, 1])
    outside = (celsius < points[0, 0]) | (celsius > points[-1, 0])
    return 1.0 + np.where(np.isnan(celsius), np.nan, deviation) / 100.0, outside
