"""What a small error of timing is worth while the light changes."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sunledger.physics.segments import Selection

Array = npt.NDArray[np.float64]


def largest_change(
    mean: npt.ArrayLike,
    minimum: npt.ArrayLike | None = None,
    maximum: npt.ArrayLike | None = None,
) -> Array:
    """
    Largest change of irradiance in and around each interval.

    Parameters
    ----------
    mean : array-like, shape (time,)
        Means of consecutive intervals; NaN missing. [W m-2]
    minimum, maximum : array-like, shape (time,), optional
        Extremes within each interval. [W m-2]

    Returns
    -------
    change : numpy.ndarray, shape (time,)
        The largest of the range within the interval and the differences to both neighbours; what
        is not known counts as no change. [W m-2]
    """
    values = np.asarray(mean, dtype=float)
    step = np.abs(np.diff(values))
    change = np.zeros(values.shape)
    np.fmax(change[1:], step, out=change[1:])
    np.fmax(change[:-1], step, out=change[:-1])
    if minimum is not None and maximum is not None:
        inside = np.asarray(maximum, dtype=float) - np.asarray(minimum, dtype=float)
        np.fmax(change, inside, out=change)
    return change


def signed_change(mean: npt.ArrayLike) -> npt.NDArray[np.floating]:
    """
    Change of irradiance from one interval to the next, with its sign.

    Parameters
    ----------
    mean : array-like, shape (time,)
        Means of consecutive intervals; NaN missing. [W m-2]

    Returns
    -------
    change : numpy.ndarray, shape (time,)
        The mean of the steps from the one before and to the one after, or the one that is known; 0
        where none is. In the precision of the means, and but for that never more than
        :func:`largest_change`. Over a row of intervals without a gap the sum is that of the first
        and the last step halved and all between: an error of timing that lasts cancels between
        morning and evening. [W m-2]
    """
    values = np.asarray(mean)
    step = np.diff(values if values.dtype == np.float32 else values.astype(float))
    known = np.isfinite(step)
    steps = Selection(known).blanked(step)
    change = np.zeros(step.size + 1, step.dtype)
    change[:-1] = steps
    change[1:] += steps
    change[1:-1] *= 1.0 - 0.5 * (known[1:] & known[:-1]).astype(step.dtype)
    return change


def displaced_share(offset: npt.ArrayLike, interval: float) -> Array:
    """
    Share of its time that an interval does not have in common with a displaced one.

    Parameters
    ----------
    offset : float or array-like, shape (time,)
        By how much the interval is displaced. [s]
    interval : float
        Length of the interval. [s]

    Returns
    -------
    share : numpy.ndarray, shape (time,)
        At most 1; NaN offsets count as none. [1]
    """
    displaced = np.fmax(np.abs(np.asarray(offset, dtype=float)), 0.0)
    return np.asarray(np.minimum(displaced / interval, 1.0))


def timing_half_width(change: npt.ArrayLike, offset: npt.ArrayLike, interval: float) -> Array:
    r"""
    Bound on the error of a mean that was taken a little too early or too late.

    Parameters
    ----------
    change : array-like, shape (time,)
        From :func:`largest_change`. [W m-2]
    offset : float or array-like, shape (time,)
        By how much the interval is displaced: clock residual and lag of the instrument. [s]
    interval : float
        Length of the interval. [s]

    Returns
    -------
    half_width : numpy.ndarray, shape (time,)
        NaN offsets count as none. [W m-2]

    Notes
    -----
    Means over two intervals displaced by :math:`\delta` share all but :math:`\delta` of their
    time, so that they differ by at most :math:`\delta / T` times the range of the signal there. A
    first-order instrument lags by its time constant, a third of its 95 % response time.
    """
    return np.asarray(displaced_share(offset, interval) * np.asarray(change, dtype=float))
