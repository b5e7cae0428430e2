"""Quantities formed from measured ones, minute by minute, before anything is averaged."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.aggregation import AggregateSettings
from sunledger.config.resolve import Period
from sunledger.physics.segments import Selection
from sunledger.physics.selection import FIRST, SECOND, lasting_choice
from sunledger.physics.sun_series import Site, sun_series
from sunledger.stages.periods import Series
from sunledger.stages.qc_view import clock_residual

Array = npt.NDArray[np.float64]
Floats = npt.NDArray[np.floating]
Codes = npt.NDArray[np.int8]

SHORTEST_STRETCH = 300
"""Shortest stretch of one source in the selected global. [s]"""
LOWEST_SUN = 85.0
"""Zenith angle beyond which a difference is not divided by its cosine. [degree]"""


@dataclass(frozen=True)
class Sun:
    """
    The sun at the true middle of a quantity's minutes.

    Parameters
    ----------
    cosine : numpy.ndarray, shape (time,)
        Of the zenith angle; 0 where the sun is below the horizon. [1]
    extraterrestrial : numpy.ndarray, shape (time,)
        Irradiance on the horizontal above the atmosphere. [W m-2]
    """

    cosine: Array
    extraterrestrial: Array


class Suns:
    """
    The sun for each quantity, computed once for all that share a clock.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes with ``clock_residual_<logger>``.
    period : Period
        Coordinates and loggers.
    """

    def __init__(self, ds: xr.Dataset, period: Period) -> None:
        self._ds, self._period = ds, period
        self._known: dict[tuple[object, ...], Sun] = {}
        self._logger_of = {
            str(channel.position): logger.name
            for logger in period.loggers
            for channel in logger.channels
            if channel.kind == "signal"
        }

    def of(self, quantity: str) -> Sun:
        """
        The sun for one quantity.

        Parameters
        ----------
        quantity : str
            A measured quantity.

        Returns
        -------
        sun : Sun
            At the true middle of its minutes.
        """
        holders = tuple(span for span in self._period.primary if span[0] == quantity)
        key = tuple((self._logger_of.get(str(h[1])), *h[2:]) for h in holders)
        if key not in self._known:
            residual = clock_residual(self._ds, self._period, quantity)
            unknown = np.isnan(residual)
            if unknown.any():
                residual[unknown] = 0.0
            self._known[key] = self._computed(residual)
        return self._known[key]

    def _computed(self, residual: Array) -> Sun:
        start = int(self._ds.variables["time"].values[0])
        interval = int(self._ds.attrs["interval"])
        site = Site(self._period.latitude, self._period.longitude, self._period.altitude)
        found = sun_series(start, interval, residual, site)
        return Sun(found.cosine, found.horizontal)


def _joined(one: Series, two: Series, sign: float = 1.0) -> Series:
    """Sum or difference; what both have from one scale and one logger is correlated."""
    spread, split = None, None
    if one.split is not None and two.split is not None:
        split = one.split.plus(two.split, sign)
    elif one.uncertainty is not None and two.uncertainty is not None:
        spread = np.sqrt(one.uncertainty**2 + two.uncertainty**2)
    mean = one.counted + two.counted if sign > 0 else one.counted - two.counted
    return Series(mean, one.valid & two.valid, uncertainty=spread, split=split)


def _projected(dni: Series, cosine: Array) -> Series:
    spread = None if dni.uncertainty is None else dni.uncertainty * cosine
    split = None if dni.split is None else dni.split.scaled(cosine)
    return Series(dni.counted * cosine, dni.valid, uncertainty=spread, split=split)


def _from_direct(measured: dict[str, Series], suns: Suns) -> dict[str, Series]:
    if "dni" not in measured:
        return {}
    beam = _projected(measured["dni"], suns.of("dni").cosine)
    out = {"dni_horizontal": beam}
    if "dhi" in measured:
        out["ghi_component_sum"] = _joined(measured["dhi"], beam)
    return out


def selected_global(
    component_sum: Series | None, pyranometer: Series | None, interval: int
) -> tuple[Series, Codes] | None:
    """
    Global irradiance from the better source.

    Parameters
    ----------
    component_sum, pyranometer : Series or None
        Diffuse plus direct on the horizontal, and the global pyranometer.
    interval : int
        Of the minutes. [s]

    Returns
    -------
    selected : Series
        The sum where both components count, else the pyranometer, else missing; no stretch
        between two changes of source is shorter than `SHORTEST_STRETCH`.
    source : numpy.ndarray of int8, shape (time,)
        1 component sum, 2 pyranometer, 0 none. Nothing at all is returned when there is no source.
    """
    if component_sum is None or pyranometer is None:
        only = component_sum or pyranometer
        code = SECOND if component_sum is None else FIRST
        return None if only is None else (only, np.where(only.valid, code, 0).astype(np.int8))
    least = -(-SHORTEST_STRETCH // interval)
    source = lasting_choice(component_sum.valid, pyranometer.valid, least)
    mean = Selection(source == FIRST).either(component_sum.counted, pyranometer.counted)
    spread, split = None, None
    if component_sum.split is not None and pyranometer.split is not None:
        split = component_sum.split.where(source == FIRST, pyranometer.split)
    elif component_sum.uncertainty is not None and pyranometer.uncertainty is not None:
        spread = np.where(source == FIRST, component_sum.uncertainty, pyranometer.uncertainty)
    return Series(mean, source > 0, uncertainty=spread, split=split), source


def direct_from_difference(ghi: Series, dhi: Series, cosine: Array) -> Series:
    """
    Direct irradiance as global less diffuse, for a station without a pyrheliometer.

    Parameters
    ----------
    ghi, dhi : Series
        Global and diffuse.
    cosine : numpy.ndarray, shape (time,)
        Of the zenith angle, 0 at night. [1]

    Returns
    -------
    direct : Series
        0 at night; missing while the sun is up and lower than `LOWEST_SUN` allows, where the
        quotient is mostly error.
    """
    high, night = cosine >= np.cos(np.radians(LOWEST_SUN)), cosine <= 0.0
    divisor = np.where(high, cosine, 1.0)
    flat = _joined(ghi, dhi, -1.0)
    direct = _projected(flat, np.where(night, 0.0, 1.0 / divisor))
    mean = np.where(night, 0.0, direct.mean)
    return replace(direct, mean=mean, valid=night | (high & ghi.valid & dhi.valid))


def _net(known: dict[str, Series]) -> dict[str, Series]:
    """Downward less upward, where both count."""
    out = {}
    if "ghi_selected" in known and "swu" in known:
        out["net_shortwave"] = _joined(known["ghi_selected"], known["swu"], -1.0)
    if "lwd" in known and "lwu" in known:
        out["net_longwave"] = _joined(known["lwd"], known["lwu"], -1.0)
    if len(out) == 2:
        out["net_radiation"] = _joined(out["net_shortwave"], out["net_longwave"])
    return out


def derived_series(
    measured: dict[str, Series], suns: Suns, interval: int, settings: AggregateSettings
) -> tuple[dict[str, Series], Codes | None]:
    """
    Quantities formed from others, minute by minute.

    Parameters
    ----------
    measured : dict of Series
        By quantity.
    suns : Suns
        The sun for each of them.
    interval : int
        Of the minutes. [s]
    settings : AggregateSettings
        Whether the direct is formed from global and diffuse.

    Returns
    -------
    derived : dict of Series
        What the measured quantities allow of ``dni_horizontal``, ``ghi_component_sum``,
        ``ghi_selected``, ``net_shortwave``, ``net_longwave``, ``net_radiation`` and, where asked
        for, ``dni_from_difference``. What one scale and one logger bring into both is correlated.
    source : numpy.ndarray of int8 or None, shape (time,)
        Of the selected global.
    """
    derived = _from_direct(measured, suns)
    chosen = selected_global(derived.get("ghi_component_sum"), measured.get("ghi"), interval)
    if chosen is not None:
        derived["ghi_selected"] = chosen[0]
    if settings.dni_from_difference and {"ghi", "dhi"} <= measured.keys():
        ghi, dhi = measured["ghi"], measured["dhi"]
        cosine = suns.of("ghi").cosine
        derived["dni_from_difference"] = direct_from_difference(ghi, dhi, cosine)
    derived |= _net(measured | derived)
    return derived, None if chosen is None else chosen[1]
