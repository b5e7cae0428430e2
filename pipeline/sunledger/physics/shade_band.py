"""Sky that a shade band hides from the pyranometer under it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


def hidden_share(declination: npt.ArrayLike, latitude: float, width_over_radius: float) -> Array:
    r"""
    Share of the diffuse irradiance of a sky of one brightness that a band hides.

    Parameters
    ----------
    declination : float or array-like, shape (time,)
        Of the sun. [degree]
    latitude : float
        Positive north. [degree]
    width_over_radius : float
        Width of the band along the polar axis over its radius. [1]

    Returns
    -------
    share : numpy.ndarray, shape (time,)
        0 where the sun does not rise. [1]

    Notes
    -----
    .. math:: X = \frac{2 b}{\pi r} \cos^3\delta
              (t_0 \sin\varphi \sin\delta + \cos\varphi \cos\delta \sin t_0)

    with the hour angle of sunset :math:`t_0`. From memory of A. J. Drummond, "On the measurement
    of sky radiation", Arch. Meteorol. Geophys. Bioklimatol. B 7, 1956; derived again from the
    geometry: seen from the sensor, an element of the band that slides along the polar axis has
    the solid angle :math:`(b/r) \cos^3\delta\, d\omega`.
    """
    delta, phi = np.radians(np.asarray(declination, dtype=float)), np.radians(latitude)
    cosine = np.clip(-np.tan(phi) * np.tan(delta), -1.0, 1.0)
    sunset = np.arccos(cosine)
    seen = sunset * np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.sin(sunset)
    return np.asarray(2.0 * width_over_radius / np.pi * np.cos(delta) ** 3 * np.maximum(seen, 0.0))


def obstruction_factor(share: npt.ArrayLike, anisotropy: float = 1.0) -> Array:
    """
    Factor from the diffuse measured under a band to that of the whole sky.

    Parameters
    ----------
    share : float or array-like, shape (time,)
        Hidden share of the diffuse. [1]
    anisotropy : float
        Factor for the sky near the sun being brighter than the rest. [1]

    Returns
    -------
    factor : numpy.ndarray, shape (time,)
        [1]
    """
    return np.asarray(anisotropy / (1.0 - np.asarray(share, dtype=float)))


def solar_declination(zenith: npt.ArrayLike, azimuth: npt.ArrayLike, latitude: float) -> Array:
    """
    Declination of the sun from where it stands in the sky.

    Parameters
    ----------
    zenith, azimuth : float or array-like, shape (time,)
        Azimuth clockwise from north. [degree]
    latitude : float
        [degree]

    Returns
    -------
    declination : numpy.ndarray, shape (time,)
        [degree]
    """
    z, a = np.radians(np.asarray(zenith, float)), np.radians(np.asarray(azimuth, float))
    phi = np.radians(latitude)
    sine = np.sin(phi) * np.cos(z) + np.cos(phi) * np.sin(z) * np.cos(a)
    return np.asarray(np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0))))
