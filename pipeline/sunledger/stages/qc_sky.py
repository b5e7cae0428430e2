"""What the three components say together, and what a clear sky would give: once for each unit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.physics.clear_sky import clear_sky
from sunledger.physics.windows import rolling_range

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

STEADY_MINUTES = 5
LIT_SHARE = 0.3
"""Share of the clear-sky beam that has to arrive before a part of it can be missed. [1]"""
LOWEST_SUN = 88.0
"""Nothing is expected of the sun below this zenith angle. [degree]"""


@dataclass(frozen=True)
class Sky:
    """
    Three components side by side with the clear sky.

    Parameters
    ----------
    zenith, azimuth : numpy.ndarray, shape (time,)
        Sun at the middle of the direct's intervals. [degree]
    cosine : numpy.ndarray, shape (time,)
        Of the zenith angle, not below 0.
    whole, diffuse, direct : numpy.ndarray, shape (time,)
        Measured; NaN where a component is missing or the clocks are apart. [W m-2]
    clear_global, clear_direct : numpy.ndarray, shape (time,)
        Of a clear sky; NaN while the sun is down or very low. [W m-2]
    interval : int
        [s]
    """

    zenith: Array
    azimuth: Array
    cosine: Array
    whole: Array
    diffuse: Array
    direct: Array
    clear_global: Array
    clear_direct: Array
    interval: int

    @cached_property
    def beam(self) -> Array:
        """
        Direct on the horizontal.

        Returns
        -------
        beam : numpy.ndarray, shape (time,)
            [W m-2]
        """
        return self.direct * self.cosine

    @cached_property
    def residual(self) -> Array:
        """
        Global less diffuse plus direct on the horizontal.

        Returns
        -------
        residual : numpy.ndarray, shape (time,)
            [W m-2]
        """
        return self.whole - self.diffuse - self.beam

    @cached_property
    def known(self) -> Mask:
        """
        Where all three are known.

        Returns
        -------
        known : numpy.ndarray of bool, shape (time,)
            False also where their clocks are apart.
        """
        return ~np.isnan(self.whole)

    @cached_property
    def lit(self) -> Mask:
        """
        Where the beam arrives: by what the direct says, or what the other two ask for.

        Returns
        -------
        lit : numpy.ndarray of bool, shape (time,)
            False where not all three are known.
        """
        shining = np.maximum(self.beam, self.whole - self.diffuse)
        return np.asarray(shining > LIT_SHARE * self.clear_direct * self.cosine)

    def only(self, mask: Mask) -> Sky:
        """
        The same sky with fewer minutes known.

        Parameters
        ----------
        mask : numpy.ndarray of bool, shape (time,)
            Minutes that stay known.

        Returns
        -------
        sky : Sky
            Itself where nothing is taken away.
        """
        if mask[self.known].all():
            return self
        parts = (self.whole, self.diffuse, self.direct)
        whole, diffuse, direct = (np.where(mask, p, np.nan) for p in parts)
        return replace(self, whole=whole, diffuse=diffuse, direct=direct)

    def steps(self, minutes: int) -> int:
        """
        Intervals that a number of minutes holds.

        Parameters
        ----------
        minutes : int
            [min]

        Returns
        -------
        steps : int
            At least 1.
        """
        return max(1, minutes * 60 // self.interval)

    def steady(self, share: float) -> Mask:
        """
        Where at least two components keep still, so that one that is wrong cannot hide it.

        Parameters
        ----------
        share : float
            Of the clear-sky global. [1]

        Returns
        -------
        steady : numpy.ndarray of bool, shape (time,)
            False at night.
        """
        half = self.steps(STEADY_MINUTES)
        parts = (self.whole, self.diffuse, self.beam)
        still = [rolling_range(p, half) < share * self.clear_global for p in parts]
        return np.asarray(np.sum(still, axis=0) >= 2) & self.known


def zenith_of(cosine: Array) -> Array:
    """
    Zenith angle of the sun from its cosine.

    Parameters
    ----------
    cosine : numpy.ndarray, shape (time,)
        Rounding may have carried it beyond 1.

    Returns
    -------
    zenith : numpy.ndarray, shape (time,)
        [degree]
    """
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def sky_of(ds: xr.Dataset, altitude: float, together: Mask, zenith: Array | None = None) -> Sky:
    """
    Put the three components beside the clear sky.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes with ``ghi``, ``dhi`` and ``dni``.
    altitude : float
        Of the station. [m]
    together : numpy.ndarray of bool, shape (time,)
        Where their clocks agree.
    zenith : numpy.ndarray or None, shape (time,)
        At the middle of the direct's intervals, where it is known already. [degree]

    Returns
    -------
    sky : Sky
        Computed for the sun at the middle of the direct's intervals.
    """
    cosine = np.maximum(ds["dni_cosine_zenith"].values, 0.0)
    if zenith is None:
        zenith = zenith_of(ds["dni_cosine_zenith"].values)
    parts = [ds[q].values.astype(float) for q in ("ghi", "dhi", "dni")]
    known = np.isfinite(np.sum(parts, axis=0)) & together
    whole, diffuse, direct = (np.where(known, p, np.nan) for p in parts)
    outside, up = ds["extraterrestrial_irradiance"].values, zenith < LOWEST_SUN
    clear_direct, clear_global = clear_sky(zenith, outside, altitude)
    return Sky(
        zenith,
        ds["solar_azimuth_angle"].values,
        cosine,
        whole,
        diffuse,
        direct,
        np.where(up, clear_global, np.nan),
        np.where(up, clear_direct, np.nan),
        int(ds.attrs.get("interval", 60)),
    )
