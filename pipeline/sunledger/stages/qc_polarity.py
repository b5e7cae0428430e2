"""The test of exchanged wires: light that is strongly, or lastingly, negative."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sunledger.physics.windows import rolling_any, rolling_median
from sunledger.stages.qc_view import Minutes, scale_of

Mask = npt.NDArray[np.bool_]
Verdict = tuple[Mask, Mask]


def polarity_reversed(minutes: Minutes, quantity: str) -> Verdict:
    """
    Say where shortwave, or another sensor of light, is strongly negative by day.

    Parameters
    ----------
    minutes : Minutes
        The minutes.
    quantity : str
        Any but longwave.

    Returns
    -------
    tested, failed : numpy.ndarray of bool, shape (time,)
        Runs by day and in twilight. By day a value is strongly negative, or for a while further
        below zero than the class's offset explains; or it is below what is natural within an hour
        of such values: clouds part what is left of the beam. It is not inverted.
    """
    settings = minutes.settings.polarity
    value, zenith = minutes[quantity], minutes.zenith(quantity)
    tested = ~np.isnan(value) & (zenith < settings.largest_adjoining_zenith)
    scale, day = scale_of(quantity), tested & (zenith < settings.largest_zenith)
    strong = value < settings.highest_irradiance * scale
    seed = day & (strong | _below_offset(minutes, quantity, day))
    steps = minutes.steps(settings.longest_adjoining)
    near = tested & (value < settings.highest_adjoining * scale) & rolling_any(seed, steps)
    return tested, near | seed


def _below_offset(minutes: Minutes, quantity: str, day: Mask) -> Mask:
    """Lastingly further below zero than the class of the instrument allows, where it is known."""
    settings, allowed = minutes.settings.polarity, minutes.zero_offset.get(quantity)
    if allowed is None:
        return np.zeros(day.shape, bool)
    value = np.where(day, minutes[quantity].astype(float), np.nan)
    lowest = -settings.times_zero_offset * allowed
    below = value < lowest
    middle = rolling_median(value, minutes.steps(settings.window), wanted=below)
    return np.asarray(below & (middle < lowest))
