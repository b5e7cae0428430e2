"""Minutes with a clear sky, told from global and diffuse alone."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

EXPONENT = 1.2
"""Of the cosine, by which a clear global is brought to one height of the sun [-]."""
LOWEST, LOWEST_LOW_SUN, HIGHEST = 1000.0, 900.0, 1250.0
"""Normalised clear global; the second for the sun lower than `LOW_SUN` [W m-2]."""
LOW_SUN = 78.5
"""Zenith angle beyond which the second limit holds [degree]."""
MOST_DIFFUSE = 150.0
"""Largest diffuse of a clear sky, sun overhead; it goes with the root of the cosine [W m-2]."""
NOISE = 2.0
"""Change from minute to minute that is put up with, with the sun overhead [W m-2]."""
LOWEST_SUN = 85.0
"""Nothing is said of the sun below this zenith angle [degree]; a choice of this project."""


def clear_minutes(
    global_: npt.ArrayLike,
    diffuse: npt.ArrayLike,
    cosine: npt.ArrayLike,
    extraterrestrial: npt.ArrayLike,
    reach: int = 5,
) -> tuple[Mask, Mask]:
    r"""
    Say which minutes have a clear sky, and of which that can be told.

    Parameters
    ----------
    global_, diffuse : array-like, shape (time,)
        Irradiances by the minute; NaN missing. [W m-2]
    cosine : array-like, shape (time,)
        Of the zenith angle. [-]
    extraterrestrial : array-like, shape (time,)
        Irradiance on the horizontal above the atmosphere. [W m-2]
    reach : int
        Minutes on either side that must pass the tests of a single minute as well. [min]

    Returns
    -------
    clear : numpy.ndarray of bool, shape (time,)
        The tests pass.
    told : numpy.ndarray of bool, shape (time,)
        The sun is high enough, and both quantities are there throughout the window.

    Notes
    -----
    After tests 1 to 3 of the source: :math:`G/\mu^{1.2}` between limits, :math:`D < 150\sqrt\mu`,
    and a global that changes no faster than the sunlight above the atmosphere, give or take
    :math:`2\mu`. The source's lower bound of that change and its fourth test are left out, and
    nothing is fitted to the site: instead all minutes of the window must pass. Haze and height
    shift the limits, so that the count compares times at one station, not stations.

    References
    ----------
    .. [1] C. N. Long and T. P. Ackerman, "Identification of clear skies from broadband pyranometer
       measurements and calculation of downwelling shortwave cloud effects," J. Geophys. Res.,
       vol. 105, pp. 15609-15626, 2000. doi:10.1029/2000JD900077
    """
    whole, sky = np.asarray(global_), np.asarray(diffuse)
    mu, outside = np.asarray(cosine, dtype=float), np.asarray(extraterrestrial, dtype=float)
    known = mu >= np.cos(np.radians(LOWEST_SUN))
    known &= np.isfinite(whole)
    known &= np.isfinite(sky)
    # the cheap tests first, each on what passed those before
    place = np.flatnonzero(known & (sky < MOST_DIFFUSE))
    place = place.compress(sky.take(place) < MOST_DIFFUSE * np.sqrt(mu.take(place)))
    place = place[place > 0]
    change = np.abs(whole.take(place).astype(float) - whole.take(place - 1))
    most = np.abs(outside.take(place) - outside.take(place - 1)) + NOISE * mu.take(place)
    place = place.compress(change <= most)
    height = mu.take(place)
    normal = whole.take(place) / height**EXPONENT
    least = np.where(height > np.cos(np.radians(LOW_SUN)), LOWEST, LOWEST_LOW_SUN)
    steady = np.zeros(known.shape, dtype=bool)
    steady[place[(normal >= least) & (normal <= HIGHEST)]] = True
    return _throughout(steady, reach), _throughout(known, reach)


def _throughout(mask: Mask, reach: int) -> Mask:
    """True where all samples of the window are; never at the ends of the series."""
    out = mask.copy()
    for step in range(1, reach + 1):
        out[step:] &= mask[:-step]
        out[:-step] &= mask[step:]
    out[:reach], out[max(mask.size - reach, 0) :] = False, False
    return out
