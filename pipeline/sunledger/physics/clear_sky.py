"""What global and direct irradiance a cloudless sky gives at a site, within some percent."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sunledger.physics.air_mass import relative_air_mass

Array = npt.NDArray[np.float64]

TRANSMITTANCE, AIR_MASS_EXPONENT = 0.7, 0.678
"""Direct transmittance of one air mass, and how it falls with more of it."""
ALTITUDE_SHARE = 0.14
"""Share of the direct, per kilometre of altitude, that the air mass no longer weakens. [km-1]"""
DIFFUSE_AT_NO_BEAM, DIFFUSE_SLOPE = 0.271, 0.294
"""Clear-day diffuse transmittance: the first less the second times that of the beam."""


def direct_transmittance(apparent_zenith: npt.ArrayLike, altitude: float) -> Array:
    r"""
    Return the share of the extraterrestrial beam that a clear sky lets through.

    Parameters
    ----------
    apparent_zenith : array-like
        Zenith angle of the sun. [degree]
    altitude : float
        Of the site above sea level; below it counts as at sea level. [m]

    Returns
    -------
    numpy.ndarray
        Transmittance; 0 with the sun below the horizon. [-]

    Notes
    -----
    .. math:: \tau_b = (1 - 0.14 h)\,0.7^{m^{0.678}} + 0.14 h

    with the relative air mass :math:`m` and the altitude :math:`h` in kilometres, at most 6. Both
    formulae from memory of the sources.

    References
    ----------
    .. [1] A. B. Meinel and M. P. Meinel, "Applied Solar Energy," Addison-Wesley, 1976.
    .. [2] E. G. Laue, "The measurement of solar spectral irradiance at different terrestrial
       elevations," Solar Energy, vol. 13, pp. 43-57, 1970. doi:10.1016/0038-092X(70)90006-X
    """
    lifted = ALTITUDE_SHARE * min(max(altitude / 1000.0, 0.0), 6.0)
    zenith = np.asarray(apparent_zenith, dtype=float)
    up = (zenith >= 0.0) & (zenith <= 90.0)
    through = np.zeros(zenith.shape)
    # half of all minutes are night, and powers are slow
    mass = relative_air_mass(zenith[up])
    through[up] = (1.0 - lifted) * TRANSMITTANCE ** (mass**AIR_MASS_EXPONENT) + lifted
    return through


def clear_sky(
    apparent_zenith: npt.ArrayLike, extraterrestrial: npt.ArrayLike, altitude: float
) -> tuple[Array, Array]:
    r"""
    Return direct and global irradiance under a clear sky.

    Parameters
    ----------
    apparent_zenith : array-like
        Zenith angle of the sun. [degree]
    extraterrestrial : float or array-like
        Normal to the beam. [W m-2]
    altitude : float
        Of the site. [m]

    Returns
    -------
    direct, whole : numpy.ndarray
        Normal to the beam (:func:`direct_transmittance`), and on the horizontal; both 0 with the
        sun below the horizon. [W m-2]

    Notes
    -----
    Global is direct on the horizontal and a diffuse transmittance of
    :math:`0.271 - 0.294 \tau_b` (constants from memory of the source).

    References
    ----------
    .. [1] B. Y. H. Liu and R. C. Jordan, "The interrelationship and characteristic distribution
       of direct, diffuse and total solar radiation," Solar Energy, vol. 4, pp. 1-19, 1960.
       doi:10.1016/0038-092X(60)90062-1
    """
    beam = direct_transmittance(apparent_zenith, altitude)
    sky = np.maximum(DIFFUSE_AT_NO_BEAM - DIFFUSE_SLOPE * beam, 0.0)
    level = np.maximum(np.cos(np.radians(np.asarray(apparent_zenith, dtype=float))), 0.0)
    outside = np.asarray(extraterrestrial, dtype=float)
    return np.asarray(outside * beam), np.asarray(outside * level * (beam + sky))
