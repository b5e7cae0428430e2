"""Ranges of the air quantities: temperature, humidity, pressure."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sunledger.physics.limits import bounds_test, standard_pressure
from sunledger.stages.qc_view import Minutes

Mask = npt.NDArray[np.bool_]


def credible_range(minutes: Minutes, quantity: str) -> tuple[float, float]:
    """
    Lowest and highest credible value of an air quantity.

    Parameters
    ----------
    minutes : Minutes
        With settings and the altitude of the station.
    quantity : str
        One of ``vocabulary.AIR_TESTED``.

    Returns
    -------
    lowest, highest : float
        In the unit of the quantity.
    """
    settings = minutes.settings.air
    if quantity == "air_pressure":
        standard = standard_pressure(minutes.altitude)
        return standard * (1 - settings.pressure_below), standard * (1 + settings.pressure_above)
    if quantity == "air_temperature":
        return settings.lowest_temperature, settings.highest_temperature
    return settings.lowest_humidity, settings.highest_humidity


def outside_credible_range(minutes: Minutes, quantity: str) -> tuple[Mask, Mask]:
    """
    Compare an air quantity with what is credible.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        One of ``vocabulary.AIR_TESTED``.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        Runs wherever there is a value.
    """
    return bounds_test(minutes[quantity], *credible_range(minutes, quantity))
