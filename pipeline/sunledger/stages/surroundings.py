"""What the instruments of a station have around them: beam, sun, net longwave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.config.resolve import Period, ResolvedLogger
from sunledger.physics.level import level_half_width
from sunledger.physics.longwave import STEFAN_BOLTZMANN
from sunledger.stages.timing import Clock, clock_of

Array = npt.NDArray[np.float64]
Values = Mapping[str, npt.NDArray[Any]]

DARK = 5.0
"""Irradiance below which there is no beam to speak of. [W m-2]"""


@dataclass(frozen=True)
class Surroundings:
    """
    What the instruments share, along the grid.

    Parameters
    ----------
    time : numpy.ndarray of int64, shape (time,)
        Starts of the intervals. [s]
    zenith : numpy.ndarray, shape (time,)
        Of the sun. [degree]
    beam : numpy.ndarray, shape (time,)
        Direct irradiance. [W m-2]
    net_longwave : numpy.ndarray, shape (time,)
        At the instruments. [W m-2]
    interval : int
        [s]
    """

    time: npt.NDArray[np.int64]
    zenith: Array
    beam: Array
    net_longwave: Array
    interval: int

    @cached_property
    def _clocks(self) -> dict[str, Clock]:
        return {}

    def clock(
        self, logger: ResolvedLogger, residual: npt.NDArray[Any] | None, period: Period
    ) -> Clock:
        """
        The clock of a logger, worked out once for all quantities that it reads.

        Parameters
        ----------
        logger : ResolvedLogger
            With its clock segments.
        residual : numpy.ndarray or None, shape (time,)
            True start less grid time. [s]
        period : Period
            Resolved configuration.

        Returns
        -------
        clock : Clock
            Along the grid.
        """
        known = self._clocks.get(logger.name)
        if known is None or known.residual is not residual:
            known = clock_of(logger, residual, self.time, self.interval, period)
            self._clocks[logger.name] = known
        return known

    @cached_property
    def across(self) -> Array:
        """
        Part of the beam across the vertical, which an instrument out of level mistakes.

        Returns
        -------
        across : numpy.ndarray, shape (time,)
            0 with the sun below the horizon. [W m-2]
        """
        return level_half_width(self.beam, self.zenith, 90.0)

    def cut(self, where: Any) -> Surroundings:
        """
        Some of the intervals.

        Parameters
        ----------
        where : numpy.ndarray of bool or slice
            Which.

        Returns
        -------
        around : Surroundings
            Of those.
        """
        if isinstance(where, slice) and where == slice(None):
            return self
        return Surroundings(
            self.time[where],
            self.zenith[where],
            self.beam[where],
            self.net_longwave[where],
            self.interval,
        )


def _divisor(zenith: Array) -> Array:
    """Cosine of the zenith angle, at least 0.1; computed only of a sun that is higher."""
    high = ~(zenith > 85.0)
    angle = np.radians(zenith, out=np.zeros(zenith.shape), where=high)
    cosine = np.cos(angle, out=angle, where=high)
    return np.maximum(cosine, 0.1, out=cosine)


def _beam(values: Values, zenith: Array) -> Array:
    """The larger of what the pyrheliometer says and what global and diffuse leave for the beam."""
    nothing = np.full(zenith.shape, np.nan)
    ghi = values.get("ghi", nothing)
    diffuse = np.array(values.get("dhi", nothing), dtype=float)
    diffuse[np.isnan(diffuse)] = 0.0
    rest = np.where(ghi > DARK, (ghi - diffuse) / _divisor(zenith), 0.0)
    beam = np.fmax(np.asarray(values.get("dni", nothing), dtype=float), np.clip(rest, 0.0, 1000.0))
    beam[np.isnan(beam)] = 0.0
    return np.asarray(beam)


def net_longwave(downward: npt.ArrayLike, body: npt.ArrayLike) -> Array:
    """
    Net longwave irradiance at an instrument.

    Parameters
    ----------
    downward : float or array-like, shape (time,)
        Longwave irradiance from above. [W m-2]
    body : float or array-like, shape (time,)
        Temperature of the instrument. [K]

    Returns
    -------
    net : numpy.ndarray, shape (time,)
        Downward less what the body emits. [W m-2]
    """
    emitted = STEFAN_BOLTZMANN * np.asarray(body, dtype=float) ** 4
    return np.asarray(np.asarray(downward, dtype=float) - emitted)


def surroundings(
    values: Values, time: npt.NDArray[np.int64], zenith: Array, period: Period, interval: int
) -> Surroundings:
    """
    Beam and net longwave from whatever the station measures.

    Parameters
    ----------
    values : dict of numpy.ndarray, shape (time,)
        Of ``ghi``, ``dhi``, ``dni``, ``lwd`` [W m-2] and ``lwd_body_temperature`` [K].
    time : numpy.ndarray of int64, shape (time,)
        Grid. [s]
    zenith : numpy.ndarray, shape (time,)
        [degree]
    period : Period
        What is assumed without a pyrgeometer.
    interval : int
        [s]

    Returns
    -------
    around : Surroundings
        Without a gap.
    """
    usual = period.processing.uncertainty.net_longwave
    net = np.full(zenith.shape, usual)
    if "lwd" in values and "lwd_body_temperature" in values:
        known = net_longwave(values["lwd"], values["lwd_body_temperature"])
        net = np.where(np.isfinite(known), known, usual)
    return Surroundings(time, zenith, _beam(values, zenith), net, interval)
