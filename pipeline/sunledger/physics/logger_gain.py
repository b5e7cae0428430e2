"""Gain and zero of what stands between an instrument and the file: shunt, multiplexer, logger."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


def combined_gain_and_zero(devices: Iterable[tuple[float, float]]) -> tuple[float, float]:
    """
    Gain and zero of devices in series, as of one.

    Parameters
    ----------
    devices : iterable of (gain, zero)
        From the instrument outwards; gain is true over indicated [1], zero what is indicated
        with a short circuit at the device's own input [uV].

    Returns
    -------
    gain, zero : float
        So that the true signal is ``(indicated - zero) * gain``. [1], [uV]

    Raises
    ------
    ValueError
        If a gain is not positive.
    """
    gain, zero = 1.0, 0.0
    for its_gain, its_zero in devices:
        if not its_gain > 0:
            raise ValueError(f"gain must be positive (got {its_gain!r})")
        # a zero further in is seen through every device further out
        gain, zero = gain * its_gain, zero / its_gain + its_zero
    return gain, zero


def true_signal(indicated: npt.ArrayLike, gain: npt.ArrayLike, zero: npt.ArrayLike) -> Array:
    """
    Signal at the instrument's terminals.

    Parameters
    ----------
    indicated : float or array-like, shape (time,)
        As logged. [uV]
    gain, zero : float or array-like, shape (time,)
        Of the way between. [1], [uV]

    Returns
    -------
    signal : numpy.ndarray, shape (time,)
        [uV]
    """
    return np.asarray((np.asarray(indicated, dtype=float) - zero) * np.asarray(gain, dtype=float))
