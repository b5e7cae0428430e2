"""What a month's minutes hold beside the three components, as far as diagnosis reads it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from sunledger.physics.longwave import emitted_irradiance

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

QUARTER = 900
"""To this far on either side a rate is formed: noise of thermistors vanishes in it. [s]"""


@dataclass(frozen=True)
class Beside:
    """
    Flags and net longwave on the grid of the components.

    Parameters
    ----------
    net_longwave : numpy.ndarray or None, shape (time,)
        Downward longwave less what a black body of the pyrgeometer's temperature emits, negative
        under a cold sky; None without a pyrgeometer or its temperature. [W m-2]
    flagged : mapping
        Test → minutes that failed it, of the quantity that each bears on.
    corrected : tuple of str
        Components from which a thermal offset was taken off already.
    rate : numpy.ndarray or None, shape (time,)
        Rate of the pyrgeometer's body temperature, taken for that of all instruments. [K h-1]
    """

    net_longwave: Array | None = None
    flagged: Mapping[str, Mask] = field(default_factory=dict)
    corrected: tuple[str, ...] = ()
    rate: Array | None = None

    def minutes_of(self, test: str, size: int) -> Mask:
        """
        Minutes that failed a test.

        Parameters
        ----------
        test : str
            Such as ``tracker_off_sun``.
        size : int
            Number of minutes of the month.

        Returns
        -------
        failed : numpy.ndarray of bool, shape (time,)
            None of them where the test did not run.
        """
        return self.flagged.get(test, np.zeros(size, dtype=bool))


NOTHING = Beside()
"""For months of components alone."""


def net_longwave(down: npt.ArrayLike, body: npt.ArrayLike) -> Array:
    """
    What an instrument gains from the sky.

    Parameters
    ----------
    down : array-like, shape (time,)
        Downward longwave. [W m-2]
    body : array-like, shape (time,)
        Temperature of the pyrgeometer's body, taken for that of all instruments. [K]

    Returns
    -------
    net : numpy.ndarray, shape (time,)
        Negative under a cold sky. [W m-2]
    """
    return np.asarray(np.asarray(down, dtype=float) - emitted_irradiance(body))


def temperature_rate(body: npt.ArrayLike, interval: int) -> Array:
    """
    Rate of a temperature, over a quarter of an hour to either side.

    Parameters
    ----------
    body : array-like, shape (time,)
        Temperature on a regular grid. [K]
    interval : int
        Of the grid. [s]

    Returns
    -------
    rate : numpy.ndarray, shape (time,)
        NaN near the ends and where a temperature it rests on is unknown. [K h-1]
    """
    values = np.asarray(body, dtype=float)
    half = max(1, QUARTER // interval)
    rate = np.full(values.size, np.nan)
    if values.size > 2 * half:
        change = values[2 * half :] - values[: -2 * half]
        rate[half:-half] = change * (3600.0 / (2 * half * interval))
    return rate
