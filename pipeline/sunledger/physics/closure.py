"""Agreement between global, diffuse and direct irradiance measured side by side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from sunledger.physics.limits import (
    CLOSURE_WINDOWS,
    DIFFUSE_RATIO_WINDOWS,
    MINIMUM_SUM,
    RatioWindow,
    cosine_zenith,
)

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]


def component_sum(dhi: npt.ArrayLike, dni: npt.ArrayLike, cos_z: npt.ArrayLike) -> Array:
    """
    Return diffuse plus direct on the horizontal.

    Parameters
    ----------
    dhi, dni : float or array-like, shape (time,)
        Diffuse horizontal and direct normal irradiance. [W m-2]
    cos_z : float or array-like, shape (time,)
        Cosine of the zenith angle; negative values count as 0. [-]

    Returns
    -------
    numpy.ndarray
        Global irradiance from its components. [W m-2]
    """
    mu = np.maximum(np.asarray(cos_z, dtype=float), 0.0)
    beam = np.asarray(dni, dtype=float)
    # an over-range beam below the horizon adds nothing, but inf * 0 would warn and give NaN
    finite = np.where((mu == 0.0) & np.isinf(beam), 0.0, beam)
    return np.asarray(np.asarray(dhi, dtype=float) + finite * mu)


def closure_residual(
    ghi: npt.ArrayLike, dhi: npt.ArrayLike, dni: npt.ArrayLike, cos_z: npt.ArrayLike
) -> Array:
    """
    Return global less component sum.

    Parameters
    ----------
    ghi, dhi, dni : float or array-like, shape (time,)
        Global, diffuse and direct normal irradiance. [W m-2]
    cos_z : float or array-like, shape (time,)
        Cosine of the zenith angle. [-]

    Returns
    -------
    numpy.ndarray
        Residual; NaN wherever an input is NaN. [W m-2]
    """
    return np.asarray(np.asarray(ghi, dtype=float) - component_sum(dhi, dni, cos_z))


def closure_ratio(
    ghi: npt.ArrayLike, dhi: npt.ArrayLike, dni: npt.ArrayLike, cos_z: npt.ArrayLike
) -> Array:
    """
    Return global over component sum.

    Parameters
    ----------
    ghi, dhi, dni : float or array-like, shape (time,)
        Global, diffuse and direct normal irradiance. [W m-2]
    cos_z : float or array-like, shape (time,)
        Cosine of the zenith angle. [-]

    Returns
    -------
    numpy.ndarray
        Ratio; NaN where the sum is not positive or an input is NaN. [-]
    """
    total = component_sum(dhi, dni, cos_z)
    return _ratio(ghi, total)


def closure_test(
    ghi: npt.ArrayLike,
    dhi: npt.ArrayLike,
    dni: npt.ArrayLike,
    zenith: npt.ArrayLike,
    windows: Sequence[RatioWindow] = CLOSURE_WINDOWS,
    minimum_sum: float = MINIMUM_SUM,
) -> tuple[Mask, Mask]:
    """
    Test whether global agrees with the component sum.

    Parameters
    ----------
    ghi, dhi, dni : array-like, shape (time,)
        Global, diffuse and direct normal irradiance. [W m-2]
    zenith : array-like, shape (time,)
        Zenith angle of the sun. [degree]
    windows : sequence of RatioWindow
        Ranges the ratio has to keep, by zenith angle.
    minimum_sum : float
        The test runs where the component sum is above it. [W m-2]

    Returns
    -------
    tested, failed : numpy.ndarray of bool
        Where the test could run, and where it ran and failed.
    """
    total = component_sum(dhi, dni, cosine_zenith(zenith))
    return _window_test(_ratio(ghi, total), zenith, windows, total > minimum_sum)


def diffuse_ratio_test(
    ghi: npt.ArrayLike,
    dhi: npt.ArrayLike,
    zenith: npt.ArrayLike,
    windows: Sequence[RatioWindow] = DIFFUSE_RATIO_WINDOWS,
    minimum_global: float = MINIMUM_SUM,
) -> tuple[Mask, Mask]:
    """
    Test whether diffuse does not exceed global.

    Parameters
    ----------
    ghi, dhi : array-like, shape (time,)
        Global and diffuse irradiance. [W m-2]
    zenith : array-like, shape (time,)
        Zenith angle of the sun. [degree]
    windows : sequence of RatioWindow
        Ranges the ratio has to keep, by zenith angle.
    minimum_global : float
        The test runs where global is above it. [W m-2]

    Returns
    -------
    tested, failed : numpy.ndarray of bool
        Where the test could run, and where it ran and failed.
    """
    whole = np.asarray(ghi, dtype=float)
    return _window_test(_ratio(dhi, whole), zenith, windows, whole > minimum_global)


def _ratio(numerator: npt.ArrayLike, denominator: Array) -> Array:
    """Quotient, NaN where the denominator is not positive and finite."""
    safe = np.where((denominator > 0) & np.isfinite(denominator), denominator, np.nan)
    return np.asarray(np.asarray(numerator, dtype=float) / safe)


def _window_test(
    ratio: Array, zenith: npt.ArrayLike, windows: Sequence[RatioWindow], bright: Mask
) -> tuple[Mask, Mask]:
    """Test a ratio in the windows of zenith angle where there is light enough."""
    angle = np.asarray(zenith, dtype=float)
    usable = bright & ~np.isnan(ratio)
    tested = np.zeros(usable.shape, dtype=bool)
    failed = np.zeros(usable.shape, dtype=bool)
    for window in windows:
        inside = usable & (angle >= window.zenith_from) & (angle < window.zenith_to)
        tested |= inside
        failed |= inside & ~((ratio > window.lower) & (ratio < window.upper))
    return tested, failed
