"""What an instrument out of level does to the direct beam."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


def cosine_of_incidence(
    zenith: npt.ArrayLike, azimuth: npt.ArrayLike, tilt: npt.ArrayLike, tilt_azimuth: npt.ArrayLike
) -> Array:
    r"""
    Return the cosine between the sun and the normal of a leaning surface.

    Parameters
    ----------
    zenith, azimuth : float or array-like
        Of the sun, azimuth clockwise from north. [degree]
    tilt : float or array-like
        Angle out of level. [degree]
    tilt_azimuth : float or array-like
        Azimuth toward which the surface leans (its normal points). [degree]

    Returns
    -------
    numpy.ndarray
        Cosine; negative for a sun behind the surface. [-]

    Notes
    -----
    .. math:: \cos Z \cos e + \sin Z \sin e \cos(A - a)
    """
    z, e = np.radians(np.asarray(zenith, float)), np.radians(np.asarray(tilt, float))
    turn = np.radians(np.asarray(azimuth, float) - np.asarray(tilt_azimuth, float))
    return np.asarray(np.cos(z) * np.cos(e) + np.sin(z) * np.sin(e) * np.cos(turn))


def beam_on_tilted(
    beam: npt.ArrayLike,
    zenith: npt.ArrayLike,
    azimuth: npt.ArrayLike,
    tilt: npt.ArrayLike,
    tilt_azimuth: npt.ArrayLike,
) -> Array:
    """
    Return the direct irradiance that a leaning surface receives.

    Parameters
    ----------
    beam : float or array-like
        Direct normal irradiance. [W m-2]
    zenith, azimuth : float or array-like
        Of the sun, azimuth clockwise from north. [degree]
    tilt : float or array-like
        Angle out of level. [degree]
    tilt_azimuth : float or array-like
        Azimuth toward which the surface leans. [degree]

    Returns
    -------
    numpy.ndarray
        Irradiance; 0 for a sun behind the surface. [W m-2]
    """
    cosine = cosine_of_incidence(zenith, azimuth, tilt, tilt_azimuth)
    return np.asarray(np.asarray(beam, dtype=float) * np.maximum(cosine, 0.0))


def relative_beam_error(
    zenith: npt.ArrayLike, azimuth: npt.ArrayLike, tilt: npt.ArrayLike, tilt_azimuth: npt.ArrayLike
) -> Array:
    r"""
    Return the relative error of the direct part of global caused by a lean.

    Parameters
    ----------
    zenith, azimuth : float or array-like
        Of the sun, azimuth clockwise from north. [degree]
    tilt : float or array-like
        Angle out of level. [degree]
    tilt_azimuth : float or array-like
        Azimuth toward which the surface leans. [degree]

    Returns
    -------
    numpy.ndarray
        Error over true value, 0.01 for 1 %; NaN at a zenith angle of 90 degree or more. [-]

    Notes
    -----
    .. math:: \cos e - 1 + \tan Z \sin e \cos(A - a)

    The error of the diffuse part is of second order in the tilt and left out.
    """
    sun = np.asarray(zenith, dtype=float)
    z = np.radians(np.where(sun < 90.0, sun, np.nan))
    e = np.radians(np.asarray(tilt, dtype=float))
    turn = np.radians(np.asarray(azimuth, float) - np.asarray(tilt_azimuth, float))
    return np.asarray(np.cos(e) - 1.0 + np.tan(z) * np.sin(e) * np.cos(turn))


def level_half_width(beam: npt.ArrayLike, zenith: npt.ArrayLike, tilt: npt.ArrayLike) -> Array:
    """
    Return the largest first-order error of global when only the size of the tilt is known.

    Parameters
    ----------
    beam : float or array-like
        Direct normal irradiance; below zero counts as zero. [W m-2]
    zenith : float or array-like
        Of the sun. [degree]
    tilt : float or array-like
        Largest angle out of level. [degree]

    Returns
    -------
    numpy.ndarray
        Half-width B sin Z sin e; 0 for a sun below the horizon. [W m-2]
    """
    sun = np.asarray(zenith, dtype=float)
    direct = np.maximum(np.asarray(beam, dtype=float), 0.0)
    if direct.ndim == 0 and direct == 0.0:  # a shaded instrument
        return np.zeros(np.broadcast_shapes(sun.shape, np.shape(tilt)))
    up = ~(sun > 90.0)
    sine = np.radians(sun, out=np.zeros(sun.shape), where=up)
    np.sin(sine, out=sine, where=up)
    return np.asarray(direct * sine * np.sin(np.radians(np.asarray(tilt, dtype=float))))
