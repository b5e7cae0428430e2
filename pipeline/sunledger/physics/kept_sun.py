"""Where the sun stood at the minutes of a month, for those who ask for the same minutes later.

A month's minutes are put on their grid, and soon after it is judged by them: where clocks were
right both ask for the same instants, which takes as long as a tenth of the judging.
"""

from __future__ import annotations

from collections import deque

import numpy as np
import numpy.typing as npt

from sunledger.physics.sun import SolarPosition, solar_position

Array = npt.NDArray[np.float64]
Site = tuple[float, float, float]

_KEPT: deque[tuple[Array, Site, SolarPosition]] = deque(maxlen=2)


def kept_solar_position(
    unix_time: npt.ArrayLike, latitude: float, longitude: float, altitude: float
) -> SolarPosition:
    """
    Return the topocentric position of the sun at instants that rise.

    Parameters
    ----------
    unix_time : array-like, shape (time,)
        Instants, UTC. [s since 1970-01-01]
    latitude, longitude : float
        Of the site, north and east positive. [degree]
    altitude : float
        Of the site above sea level. [m]

    Returns
    -------
    SolarPosition
        To the last bit as :func:`sunledger.physics.sun.solar_position` gives it: a value does not
        depend on which other instants are asked for. The arrays are the caller's own.

    Raises
    ------
    ValueError
        If latitude or longitude is out of range, or a time outside the years -1999 to 3000.
    """
    times = np.array(unix_time, dtype=float)
    site = (latitude, longitude, altitude)
    for known, where, sun in tuple(_KEPT):
        part = _part(known, times) if where == site else None
        if part is not None:
            return _copied(sun, part)
    sun = solar_position(times, *site)
    _KEPT.append((times, site, _copied(sun, slice(None))))
    return sun


def _part(known: Array, times: Array) -> slice | None:
    """Where some instants stand among known ones; None where they are not all there."""
    if not times.size:
        return None
    first = int(np.searchsorted(known, times[0]))
    part = slice(first, first + times.size)
    return part if np.array_equal(known[part], times) else None


def _copied(sun: SolarPosition, part: slice) -> SolarPosition:
    columns = (sun.zenith, sun.apparent_zenith, sun.azimuth, sun.distance)
    return SolarPosition(*(column[part].copy() for column in columns))
