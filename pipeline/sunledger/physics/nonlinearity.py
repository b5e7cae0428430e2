"""How the sensitivity of a thermopile radiometer depends on the irradiance itself."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

_ROUNDS = 14
"""Each round shrinks the error at least by the factor 5 %, the largest deviation allowed, times
the steepness; 14 rounds end in the last bits for every table that configuration accepts."""


def nonlinear_reading(irradiance: npt.ArrayLike, table: npt.ArrayLike) -> Array:
    """
    Irradiance that an instrument shows when its non-linearity is not allowed for.

    Parameters
    ----------
    irradiance : float or array-like, shape (time,)
        True irradiance. [W m-2]
    table : array-like, shape (points, 2)
        Irradiance in rising order [W m-2] and deviation of the sensitivity [percent].

    Returns
    -------
    reading : numpy.ndarray, shape (time,)
        Linear between the points, outside the table the deviation at its edge. [W m-2]
    """
    points = np.asarray(table, dtype=float)
    truth = np.asarray(irradiance, dtype=float)
    return np.asarray(truth * (1.0 + np.interp(truth, points[:, 0], points[:, 1]) / 100.0))


def linearised(reading: npt.ArrayLike, table: npt.ArrayLike) -> tuple[Array, npt.NDArray[np.bool_]]:
    """
    Irradiance with the non-linearity of the instrument taken out.

    Parameters
    ----------
    reading : float or array-like, shape (time,)
        Irradiance by the constant sensitivity. [W m-2]
    table : array-like, shape (points, 2)
        Irradiance in rising order [W m-2] and deviation of the sensitivity [percent].

    Returns
    -------
    irradiance : numpy.ndarray, shape (time,)
        The one whose :func:`nonlinear_reading` is the reading. [W m-2]
    outside : numpy.ndarray of bool, shape (time,)
        Above the table, where the deviation at its edge is taken. Light below the table is no
        use outside the certificate: every instrument sees the dark.

    Raises
    ------
    ValueError
        If the irradiances of the table do not rise.

    Notes
    -----
    Solved by repeated substitution, since the deviation is stated against true irradiance
    (ISO 9060: against the sensitivity at 500 W m-2).
    """
    points = np.asarray(table, dtype=float)
    if not np.all(np.diff(points[:, 0]) > 0):
        raise ValueError("irradiances of the table must rise")
    shown = np.asarray(reading, dtype=float)
    truth = shown
    for _ in range(_ROUNDS):
        truth = shown / (1.0 + np.interp(truth, points[:, 0], points[:, 1]) / 100.0)
    return np.asarray(truth), np.asarray(truth > points[-1, 0])
