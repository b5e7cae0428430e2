"""A minute dataset as the tests see it, with the limits that hold for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.processing import FlagSettings, LimitSettings
from sunledger.config.resolve import Period
from sunledger.physics.limits import LIMITS, Limit, upper_limit

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]


LIMIT_NAMES = {
    "ghi": "global",
    "dhi": "diffuse",
    "dni": "direct",
    "swu": "reflected",
    "lwd": "longwave_down",
    "lwu": "longwave_up",
}


LEVELS = {"physical": "physically_possible", "rare": "extremely_rare"}


@dataclass(frozen=True)
class Minutes:
    """
    A minute dataset as the tests see it.

    Parameters
    ----------
    ds : xarray.Dataset
        Out of the time-correct stage.
    settings : FlagSettings
        Limits.
    clocks_apart : float
        Difference of clock residuals above which quantities are not compared. [s]
    residuals : dict of numpy.ndarray
        Quantity → residual of the clock it came from. [s]
    """

    ds: xr.Dataset
    settings: FlagSettings
    clocks_apart: float
    residuals: dict[str, Array]

    def __getitem__(self, name: str) -> Array:
        return np.asarray(self.ds[name].values)

    def has(self, *names: str) -> bool:
        """
        Whether all these variables are there.

        Parameters
        ----------
        *names : str
            Variables.

        Returns
        -------
        present : bool
            True if none is missing.
        """
        return all(name in self.ds for name in names)

    def zenith(self, quantity: str) -> Array:
        """
        Zenith angle of the sun at the true middle of a quantity's intervals.

        Parameters
        ----------
        quantity : str
            A shortwave quantity; others get the nominal middle.

        Returns
        -------
        zenith : numpy.ndarray, shape (time,)
            [degree]
        """
        if self.has(f"{quantity}_cosine_zenith"):
            return np.degrees(np.arccos(np.clip(self[f"{quantity}_cosine_zenith"], -1.0, 1.0)))
        return self["solar_zenith_angle"]

    def together(self, *quantities: str) -> Mask:
        """
        Where the clocks of several quantities are close enough to compare them.

        Parameters
        ----------
        *quantities : str
            Quantities to compare.

        Returns
        -------
        together : numpy.ndarray of bool, shape (time,)
            True where all residuals lie within the limit.
        """
        residuals = np.stack([self.residuals[q] for q in quantities])
        return np.asarray(np.ptp(residuals, axis=0) <= self.clocks_apart)


def clock_residual(ds: xr.Dataset, period: Period, quantity: str) -> Array:
    """
    Residual of the clock that each minute of a quantity came from.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes with ``clock_residual_<logger>``.
    period : Period
        Loggers, and which position the quantity takes when.
    quantity : str
        The quantity.

    Returns
    -------
    residual : numpy.ndarray, shape (time,)
        True start less grid time; NaN without a reading. [s]
    """
    logger_of = {
        str(c.position): logger.name
        for logger in period.loggers
        for c in logger.channels
        if c.kind == "signal"
    }
    time = ds["time"].values
    out = np.full(time.shape, np.nan)
    for held, position, start, end in period.primary:
        if held == quantity:
            inside = (time >= start) & (time < end)
            out[inside] = ds[f"clock_residual_{logger_of[position]}"].values[inside]
    return out


def limit_of(minutes: Minutes, quantity: str, level: str) -> Limit | None:
    own = minutes.settings.limits.get(quantity)
    row: LimitSettings | None = getattr(own, level) if own is not None else None
    if row is not None:
        return Limit(row.minimum, row.factor, row.exponent, row.offset, "configuration")
    return LIMITS[LEVELS[level]][LIMIT_NAMES[quantity]] if level in LEVELS else None


def limit_values(minutes: Minutes, quantity: str, limit: Limit) -> tuple[Array, Array]:
    cosine = np.maximum(np.cos(np.radians(minutes.zenith(quantity))), 0.0)
    upper = upper_limit(limit, minutes["extraterrestrial_irradiance"], cosine)
    return np.full(upper.shape, limit.minimum), upper
