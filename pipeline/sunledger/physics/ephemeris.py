"""Apparent place of the sun seen from the Earth's centre, by a sparse solar position algorithm.

The full algorithm (SPA) runs only at knots on absolute multiples of six hours. Between them four
slow quantities are interpolated, so that a year of minutes costs little more than its knots.
"""

from __future__ import annotations

import importlib
import importlib.util
import sys
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import ModuleType

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

KNOT_SECONDS = 21600
"""Distance of the knots [s]; up to 12 h the error of the angles is below the rounding of the full
algorithm, but that of the distance is 1.4e-10 AU there, and 9e-12 AU here."""

KNOTS_BEYOND = 8
"""Knots beyond either end of a year that are kept with it, so that a year of minutes with its halo
needs no other: they are computed a year at a time, which costs as much as two separate months."""

_SECONDS_PER_YEAR = 31556952.0  # mean Gregorian year; good to a day, and delta T moves < 1 s a year
_FIRST_YEAR, _LAST_YEAR = -1999.0, 3000.0  # range of the delta T polynomials


@dataclass(frozen=True)
class Ephemeris:
    """
    Geocentric place of the sun at given instants.

    Parameters
    ----------
    equation_of_time : numpy.ndarray
        Hour angle of the sun at the Greenwich meridian less that of the mean sun. [degree]
    sin_declination, cos_declination : numpy.ndarray
        Of the apparent geocentric declination. [-]
    distance : numpy.ndarray
        From the Earth's centre to the sun. [AU]
    """

    equation_of_time: Array
    sin_declination: Array
    cos_declination: Array
    distance: Array


@lru_cache(maxsize=1)
def spa_module() -> ModuleType:
    """
    Return ``pvlib.spa``, loaded without the rest of pvlib where possible.

    Returns
    -------
    types.ModuleType
        The module; only ``solar_position(sst=True)``, ``earthsun_distance``,
        ``calculate_deltat`` and ``atmospheric_refraction_correction`` are used from it.

    Notes
    -----
    Importing the package costs about 0.8 s, the one file needs numpy only. If pvlib moves its
    file, the ordinary import serves.
    """
    if "pvlib.spa" in sys.modules:
        return sys.modules["pvlib.spa"]
    package = importlib.util.find_spec("pvlib")
    for folder in (package.submodule_search_locations or []) if package else []:
        path = Path(folder) / "spa.py"
        spec = importlib.util.spec_from_file_location("sunledger_pvlib_spa", path)
        if path.is_file() and spec is not None and spec.loader is not None:
            module = importlib.util.module_from_spec(spec)
            spec.loader.exec_module(module)
            return module
    return importlib.import_module("pvlib.spa")


def delta_t_seconds(year: npt.ArrayLike) -> Array:
    """
    Return terrestrial time minus universal time.

    Parameters
    ----------
    year : float or array-like
        Decimal year, such as 2031.5 for mid-2031; from -1999 to 3000. [year]

    Returns
    -------
    numpy.ndarray
        Delta T. [s]

    Raises
    ------
    ValueError
        If a year lies outside -1999 to 3000.

    Notes
    -----
    Piecewise polynomials that join to within a few tenths of a second, so this is as good as
    continuous. They run 5 s ahead of what was observed by 2025, which moves the sun by 6e-5
    degree.

    References
    ----------
    .. [1] F. Espenak and J. Meeus, "Five Millennium Canon of Solar Eclipses: -1999 to +3000,"
       NASA/TP-2006-214141, 2006.
    """
    years = np.asarray(year, dtype=float)
    outside = (years < _FIRST_YEAR) | (years > _LAST_YEAR)
    if np.any(outside):
        raise ValueError(
            f"year must lie between {_FIRST_YEAR:.0f} and {_LAST_YEAR:.0f} "
            f"(got {years[outside].flat[0]!r})"
        )
    # the function adds (month - 0.5) / 12 to the year, so month 0.5 leaves a decimal year as it is
    return np.asarray(spa_module().calculate_deltat(np.atleast_1d(years), 0.5)).reshape(years.shape)


def sun_ephemeris(unix_time: npt.ArrayLike, delta_t: float | None = None) -> Ephemeris:
    r"""
    Return the geocentric place of the sun.

    Parameters
    ----------
    unix_time : float or array-like
        Instants, UTC, taken as UT1; NaN gives NaN. [s since 1970-01-01]
    delta_t : float, optional
        One value for all knots. By default each knot takes ``delta_t_seconds`` of its own
        instant. [s]

    Returns
    -------
    Ephemeris
        Arrays of the shape of ``unix_time``.

    Raises
    ------
    ValueError
        If a time lies outside the years -1999 to 3000.

    Notes
    -----
    Interpolated by four-point Lagrange polynomials: the residual
    :math:`e = \nu - \alpha - 360° f - 180°` of sidereal time less right ascension less the mean
    rotation (:math:`f` is the elapsed fraction of the UTC day), :math:`\sin\delta`,
    :math:`\cos\delta` and the distance. Subtracting the exact mean rotation leaves the slow
    equation of time, which never nears a wrap of 360°.

    A knot depends on its own absolute instant only, and delta T on the knot only; a value
    therefore does not depend on which other instants are in the call. (A delta T that stepped
    with the calendar year or month would be interpolated across the step, and one chosen per
    call would change with the cut.)

    References
    ----------
    .. [1] I. Reda and A. Andreas, "Solar position algorithm for solar radiation applications,"
       NREL/TP-560-34302, revised 2008.
    """
    times = np.asarray(unix_time, dtype=float)
    flat = np.atleast_1d(times).ravel()
    known = np.isfinite(flat)
    _check_range(flat[known])
    seconds = np.where(known, flat, 0.0)
    index = np.floor(seconds / KNOT_SECONDS).astype(np.int64)
    knots, row = _knot_table(index, delta_t)
    weights = _lagrange_weights((seconds - index * float(KNOT_SECONDS)) / KNOT_SECONDS)
    around = [row + step for step in range(4)]
    columns = [_interpolated(column, around, weights) for column in knots]
    for column in columns if not known.all() else ():
        column[~known] = np.nan
    return Ephemeris(*(column.reshape(times.shape) for column in columns))


def hour_angle(ephemeris: Ephemeris, unix_time: npt.ArrayLike, longitude: float) -> Array:
    """
    Return the geocentric hour angle of the sun at a site.

    Parameters
    ----------
    ephemeris : Ephemeris
        Place of the sun at the given instants.
    unix_time : float or array-like
        Those instants, UTC. [s since 1970-01-01]
    longitude : float
        Of the site, east positive. [degree]

    Returns
    -------
    numpy.ndarray
        Hour angle, -180 to 180, 0 at solar noon and positive after it. [degree]
    """
    rotation = _wrapped(np.asarray(unix_time, dtype=float), 86400.0) / 240.0
    return np.asarray(_wrapped(ephemeris.equation_of_time + rotation + longitude, 360.0) - 180.0)


def _wrapped(values: Array, period: float) -> Array:
    """The same bits as ``np.mod``, a tenth of its time: a few periods are taken off exactly."""
    rest = values - np.floor(values / period) * period
    # the quotient may have been rounded up to a whole number
    return np.where(rest < 0.0, rest + period, rest) if np.any(rest < 0.0) else rest


def check_site(latitude: float, longitude: float) -> None:
    """
    Refuse coordinates that no place has.

    Parameters
    ----------
    latitude : float
        North positive. [degree]
    longitude : float
        East positive, -180 to 360. [degree]

    Raises
    ------
    ValueError
        If one is out of range or NaN.
    """
    if not -90.0 <= latitude <= 90.0:
        raise ValueError(f"latitude must lie between -90 and 90 degree (got {latitude!r})")
    if not -180.0 <= longitude <= 360.0:
        raise ValueError(f"longitude must lie between -180 and 360 degree (got {longitude!r})")


def _check_range(seconds: Array) -> None:
    """Refuse instants for which the algorithm is not meant, before knots are laid out."""
    if seconds.size == 0:
        return
    for extreme in (seconds.min(), seconds.max()):
        year = 1970.0 + extreme / _SECONDS_PER_YEAR
        # one day is kept free at both ends for the outer knots
        if not _FIRST_YEAR + 0.01 < year < _LAST_YEAR - 0.01:
            raise ValueError(
                f"unix_time must lie between the years {_FIRST_YEAR:.0f} and {_LAST_YEAR:.0f} "
                f"(got {extreme!r} s, which is year {year:.0f})"
            )


def _knot_table(
    index: npt.NDArray[np.int64], delta_t: float | None
) -> tuple[list[Array], npt.NDArray[np.int64]]:
    """Return the columns at all knots needed, and the row of the knot one before each sample."""
    if index.size == 0:
        return [np.empty(0)] * 4, index
    first, last = int(index.min()) - 1, int(index.max()) + 2
    if delta_t is None:
        start, values = _knots_of_year(_year_of((first + last) // 2))
        if start <= first and last < start + values[0].size:  # as of any month of minutes
            return values, index - (start + 1)
    used = np.zeros(last - first + 1, dtype=bool)
    for step in range(4):
        used[index - first - 1 + step] = True
    row = np.cumsum(used) - 1
    numbers = np.flatnonzero(used) + first
    if delta_t is not None:
        return _knot_values(numbers * float(KNOT_SECONDS), delta_t), row[index - first - 1]
    return _kept_knots(numbers), row[index - first - 1]


def _kept_knots(numbers: npt.NDArray[np.int64]) -> list[Array]:
    """Values at numbered knots; the years that hold them are computed once in a process."""
    first, values = _knots_of_year(_year_of(int(numbers[numbers.size // 2])))
    inside = (numbers >= first) & (numbers < first + values[0].size)
    if inside.all():
        return [column[numbers - first] for column in values]
    parts = (numbers[numbers < first], numbers[inside], numbers[numbers >= first + values[0].size])
    found = [_kept_knots(part) for part in parts if part.size]
    return [np.concatenate(columns) for columns in zip(*found, strict=True)]


def _year_of(number: int) -> np.datetime64:
    year: np.datetime64 = np.datetime64(number * KNOT_SECONDS, "s").astype("M8[Y]")
    return year


@lru_cache(maxsize=4)
def _knots_of_year(year: np.datetime64) -> tuple[int, list[Array]]:
    """Number of the first knot kept with a year, and the values from there on."""
    start, end = (int((year + k).astype("M8[s]").astype(np.int64)) for k in (0, 1))
    first, past = start // KNOT_SECONDS - KNOTS_BEYOND, end // KNOT_SECONDS + KNOTS_BEYOND
    return first, _knot_values(np.arange(first, past) * float(KNOT_SECONDS), None)


def _knot_values(times: npt.NDArray[np.floating], delta_t: float | None) -> list[Array]:
    """Run the full algorithm at the knots."""
    spa = spa_module()
    difference = (
        # knots kept with the first or last year may lie beyond it
        delta_t_seconds(np.clip(1970.0 + times / _SECONDS_PER_YEAR, _FIRST_YEAR, _LAST_YEAR))
        if delta_t is None
        else np.full(times.shape, float(delta_t))
    )
    sidereal, ascension, declination = spa.solar_position(
        times, 0.0, 0.0, 0.0, 0.0, 0.0, difference, 0.0, sst=True
    )
    distance = np.asarray(spa.earthsun_distance(times, difference, 1), dtype=float)
    rotation = np.mod(times, 86400.0) / 240.0
    residual = np.mod(sidereal - ascension - rotation, 360.0) - 180.0
    angle = np.radians(declination)
    return [residual, np.sin(angle), np.cos(angle), distance]


def _lagrange_weights(x: Array) -> tuple[Array, Array, Array, Array]:
    """Weights of the nodes -1, 0, 1, 2 for 0 <= x < 1."""
    below, above, far = x + 1.0, x - 1.0, x - 2.0
    return (
        -x * above * far / 6.0,
        below * above * far / 2.0,
        -below * x * far / 2.0,
        below * x * above / 6.0,
    )


def _interpolated(
    column: Array, around: list[npt.NDArray[np.int64]], weights: tuple[Array, ...]
) -> Array:
    """Sum of the four knots around each sample, in a fixed order of addition."""
    total = weights[0] * column.take(around[0])
    for step in range(1, 4):
        total += weights[step] * column.take(around[step])
    return np.asarray(total)
