"""Relative optical air mass, how much atmosphere the direct beam crosses."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

STANDARD_PRESSURE = 101325.0
"""Pressure for which the relative air mass is tabulated [Pa]."""

KASTEN_YOUNG = (0.50572, 6.07995, 1.6364)
"""Coefficients a, b, c of the fit; b is added to the *elevation* in degrees."""


def relative_air_mass(apparent_zenith: npt.ArrayLike) -> Array:
    r"""
    Return the relative optical air mass at sea level.

    Parameters
    ----------
    apparent_zenith : float or array-like
        Zenith angle with refraction. [degree]

    Returns
    -------
    numpy.ndarray
        Air mass, 1 toward the zenith; NaN for a sun below the horizon (above 90 degree). [-]

    Notes
    -----
    .. math:: m = [\sin h + a (h + b)^{-c}]^{-1}, \quad h = 90° - Z

    The fit gives 37.92 at the horizon where the table it was made from gives 38.09, and 0.9997
    toward the zenith.

    References
    ----------
    .. [1] F. Kasten and A. T. Young, "Revised optical air mass tables and approximation
       formula," Applied Optics, vol. 28, pp. 4735-4738, 1989. doi:10.1364/AO.28.004735
    """
    zenith = np.asarray(apparent_zenith, dtype=float)
    above = np.where((zenith >= 0.0) & (zenith <= 90.0), zenith, np.nan)
    a, b, c = KASTEN_YOUNG
    return np.asarray(1.0 / (np.cos(np.radians(above)) + a * (90.0 - above + b) ** -c))


def absolute_air_mass(apparent_zenith: npt.ArrayLike, pressure: npt.ArrayLike) -> Array:
    """
    Return the optical air mass at the pressure of the site.

    Parameters
    ----------
    apparent_zenith : float or array-like
        Zenith angle with refraction. [degree]
    pressure : float or array-like
        Air pressure at the site. [Pa]

    Returns
    -------
    numpy.ndarray
        Relative air mass times pressure over 101325 Pa. [-]
    """
    relative = relative_air_mass(apparent_zenith)
    return np.asarray(relative * np.asarray(pressure, dtype=float) / STANDARD_PRESSURE)
