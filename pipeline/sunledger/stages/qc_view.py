"""A minute dataset as the tests see it, with the limits that hold for it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt
import xarray as xr

from sunledger.config.models.processing import FlagSettings, LimitSettings
from sunledger.config.resolve import Period
from sunledger.physics.changing_light import largest_change, timing_half_width
from sunledger.physics.limits import LIMITS, Limit, upper_limit, upper_limit_of_power
from sunledger.stages.qc_sky import Sky, sky_of, zenith_of
from sunledger.vocabulary import CONDITIONS

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]
Kept = TypeVar("Kept")


LIMIT_NAMES = {
    "ghi": "global",
    "dhi": "diffuse",
    "dni": "direct",
    "swu": "reflected",
    "lwd": "longwave_down",
    "lwu": "longwave_up",
}


LEVELS = {"physical": "physically_possible", "rare": "extremely_rare"}


STEADY_SHARE = 0.02
"""Share of the irradiance that a difference of clocks may be worth where quantities are compared
all the same: a quarter of the 8 % that closure allows. [1]"""


PER_SHORTWAVE = {"uv": 0.04, "ppfd": 2.0}
"""What 1 W m-2 of global is about in another sensor's unit: some 4 % of it is ultraviolet, some
45 % photosynthetically active at 4.6 umol J-1. From memory, good to some tens of percent."""


def scale_of(quantity: str) -> float:
    """
    By what limits of a signal, stated for shortwave, are multiplied for a quantity.

    Parameters
    ----------
    quantity : str
        Such as ``uv``.

    Returns
    -------
    scale : float
        1 for all that measures shortwave.
    """
    return PER_SHORTWAVE.get(quantity, 1.0)


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
    altitude : float
        Of the station. [m]
    skyline : numpy.ndarray or None, shape (time,)
        Elevation of the recorded skyline at the sun's azimuth; NaN where none is recorded. [degree]
    zero_offset : dict of numpy.ndarray
        Quantity → total zero offset that the instrument's class allows; NaN unknown. [W m-2]
    unventilated : dict of numpy.ndarray of bool
        Quantity → where the status says that its ventilator stands; only where there is a status.
    supply_low : dict of numpy.ndarray of bool
        Quantity → where the supply of its logger is too low; only where it is logged.
    kept : dict
        What several tests share, computed once.
    """

    ds: xr.Dataset
    settings: FlagSettings
    clocks_apart: float
    residuals: dict[str, Array]
    altitude: float = 0.0
    skyline: Array | None = None
    zero_offset: dict[str, Array] = field(default_factory=dict)
    unventilated: dict[str, Mask] = field(default_factory=dict)
    supply_low: dict[str, Mask] = field(default_factory=dict)
    kept: dict[str, Any] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Array:
        # a variable is had ten times as fast as a DataArray with its coordinates
        return np.asarray(self.ds.variables[name].values)

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
        return all(name in self.ds.variables for name in names)

    def steps(self, minutes: int) -> int:
        """
        Intervals in so many minutes.

        Parameters
        ----------
        minutes : int
            Length of a window. [min]

        Returns
        -------
        steps : int
            At least one.
        """
        return max(1, minutes * 60 // int(self.ds.attrs.get("interval", 60)))

    def once(self, name: str, function: Callable[[Minutes], Kept]) -> Kept:
        """
        Return what a function says of the minutes, asking it only the first time.

        Parameters
        ----------
        name : str
            Under which the answer is kept.
        function : callable
            Of the minutes.

        Returns
        -------
        answer : any type
            The function's.
        """
        if name not in self.kept:
            self.kept[name] = function(self)
        answer: Kept = self.kept[name]
        return answer

    def once_of(self, name: str, values: Array, function: Callable[[Array], Kept]) -> Kept:
        """
        Return what a function says of an array, asking it once for all that share the array.

        Parameters
        ----------
        name : str
            Under which the answer is kept.
        values : numpy.ndarray, shape (time,)
            The array. Quantities of one logger have the very same cosine of the zenith angle.
        function : callable
            Of the array.

        Returns
        -------
        answer : any type
            The function's.
        """
        answers: list[tuple[Array, Kept]] = self.kept.setdefault(name, [])
        for known, answer in answers:
            if known is values:
                return answer
        answers.append((values, function(values)))
        return answers[-1][1]

    @property
    def sky_or_none(self) -> Sky | None:
        """
        The three components beside the clear sky.

        Returns
        -------
        sky : Sky or None
            None where a component is not measured.
        """
        return self.sky if self.has("ghi", "dhi", "dni") else None

    @property
    def sky(self) -> Sky:
        """
        The three components beside the clear sky, where all are measured.

        Returns
        -------
        sky : Sky
            Computed once.
        """
        sky: Sky = self.once("sky", lambda m: m.whole_sky.only(m.together("ghi", "dhi", "dni")))
        return sky

    @property
    def whole_sky(self) -> Sky:
        """
        The three components beside the clear sky, also where their clocks are apart.

        Returns
        -------
        sky : Sky
            For tests that ask what lasts for many minutes: a displacement by less than a minute
            makes single minutes of broken cloud disagree, one way and the other.
        """
        sky: Sky = self.once("whole_sky", _whole_sky)
        return sky

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
        name = f"{quantity}_cosine_zenith"
        if not self.has(name):
            return self["solar_zenith_angle"]
        return self.once_of("zenith", self[name], zenith_of)

    def together(self, *quantities: str) -> Mask:
        """
        Where several quantities can be compared although their clocks may differ.

        Parameters
        ----------
        *quantities : str
            Quantities to compare.

        Returns
        -------
        together : numpy.ndarray of bool, shape (time,)
            True where all residuals lie within the limit, or the light is so steady that what lies
            between them cannot matter: the displacement is worth at most `STEADY_SHARE` of the
            brightest quantity.
        """
        together: Mask = self.once(f"together {quantities}", lambda m: m._compared(quantities))
        return together

    def _compared(self, quantities: tuple[str, ...]) -> Mask:
        residuals = np.stack([self.residuals[q] for q in quantities])
        apart = np.ptp(residuals, axis=0)
        if (apart <= self.clocks_apart).all():
            return np.ones(apart.shape, bool)
        worth = np.zeros(apart.shape)
        for quantity in quantities:
            change = largest_change(self[quantity], *self._extremes(quantity))
            worth += timing_half_width(change, apart, self.ds.attrs["interval"])
        brightest = np.max([np.abs(self[q]) for q in quantities], axis=0)
        steady = worth <= STEADY_SHARE * brightest
        return np.asarray((apart <= self.clocks_apart) | (steady & np.isfinite(apart)))

    def _extremes(self, quantity: str) -> tuple[Array, Array] | tuple[None, None]:
        if not self.has(f"{quantity}_min", f"{quantity}_max"):
            return None, None
        return self[f"{quantity}_min"], self[f"{quantity}_max"]


def _whole_sky(minutes: Minutes) -> Sky:
    whole = whole_diffuse(minutes.ds)
    return sky_of(minutes.ds, minutes.altitude, whole, minutes.zenith("dni"))


def whole_diffuse(ds: xr.Dataset) -> Mask:
    """
    Where the diffuse is that of the whole sky.

    Parameters
    ----------
    ds : xarray.Dataset
        Minutes with ``dhi_conditions``.

    Returns
    -------
    whole : numpy.ndarray of bool, shape (time,)
        False behind a shade band without a correction for the sky it hides: such a diffuse is
        known to be too small, and compared with nothing.
    """
    mask = CONDITIONS["shade_band_uncorrected"].mask
    return np.asarray((ds["dhi_conditions"].values.astype(np.int32) & mask) == 0)


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
    time = ds.variables["time"].values
    out = np.full(time.shape, np.nan)
    for held, position, start, end in period.primary:
        if held == quantity:
            inside = slice(*np.searchsorted(time, [start, end]).tolist())
            out[inside] = ds.variables[f"clock_residual_{logger_of[position]}"].values[inside]
    return out


def limit_of(minutes: Minutes, quantity: str, level: str) -> Limit | None:
    own = minutes.settings.limits.get(quantity)
    row: LimitSettings | None = getattr(own, level) if own is not None else None
    if row is not None:
        return Limit(row.minimum, row.factor, row.exponent, row.offset, "configuration")
    return LIMITS[LEVELS[level]][LIMIT_NAMES[quantity]] if level in LEVELS else None


def limit_values(minutes: Minutes, quantity: str, limit: Limit) -> tuple[Array, Array]:
    outside = minutes["extraterrestrial_irradiance"]
    if limit.factor == 0.0:
        upper = upper_limit(limit, outside, 1.0)
        return np.full(upper.shape, limit.minimum), upper
    zenith, exponent = minutes.zenith(quantity), limit.exponent
    cosine = minutes.once_of("cosine", zenith, lambda z: np.maximum(np.cos(np.radians(z)), 0.0))
    power = minutes.once_of(f"cosine to the {exponent}", cosine, lambda mu: mu**exponent)
    upper = upper_limit_of_power(limit, outside, power)
    return np.full(upper.shape, limit.minimum), upper
