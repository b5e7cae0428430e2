"""Periods of clear sky, told from the shape of the global alone, window by window."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

WINDOW = 10
"""Samples of a window, a minute each."""
MEAN_DIFFERENCE, MAXIMUM_DIFFERENCE = 75.0, 75.0
"""Of measured and clear sky, between their means and their maxima. [W m-2]"""
LINE_SHORTER, LINE_LONGER = 5.0, 10.0
"""By how much the measured line may be shorter and longer than that of the clear sky."""
SLOPE_SCATTER = 0.005
"""Standard deviation of the slope over the mean. [min-1]"""
SLOPE_DIFFERENCE = 8.0
"""Largest change from minute to minute less that of the clear sky. [W m-2]"""


def clear_periods(
    measured: npt.ArrayLike,
    clear: npt.ArrayLike,
    scale: float | None = None,
    scales: tuple[float, float] = (0.8, 1.2),
) -> Mask:
    r"""
    Say which minutes lie in a period of clear sky.

    Parameters
    ----------
    measured : array-like, shape (time,)
        Global irradiance by the minute; NaN missing. [W m-2]
    clear : array-like, shape (time,)
        Of a clear sky, in the same minutes; NaN or 0 while there is none. [W m-2]
    scale : float, optional
        Factor on the clear sky. Without it each window has its own, measured over clear mean, so
        that neither haze nor a wrong sensitivity matters and no minute depends on any outside its
        window. [1]
    scales : tuple of float
        Between which a window's own factor must lie. [1]

    Returns
    -------
    clear : numpy.ndarray of bool, shape (time,)
        Minutes of any window of ten that passes.

    Notes
    -----
    The five criteria of the source: means, maxima, line lengths, scatter of the slope, largest
    difference of slopes. The source fits one factor to all clear minutes of the series it is
    given, which would make the answer depend on how time was cut; with ``scale=1`` this is that
    procedure before any fitting.

    References
    ----------
    .. [1] M. J. Reno and C. W. Hansen, "Identification of periods of clear sky irradiance in time
       series of GHI measurements," Renewable Energy, vol. 90, pp. 520-531, 2016.
       doi:10.1016/j.renene.2015.12.031
    """
    values, sky = np.asarray(measured, dtype=float), np.asarray(clear, dtype=float)
    out = np.zeros(values.shape, bool)
    if values.size < WINDOW:
        return out
    # no window with a gap passes, nor one at night: of these one sample stays, to part the days
    known = np.isfinite(values) & np.isfinite(sky)
    rows = np.flatnonzero(known | np.append(False, known[:-1]))
    if rows.size >= WINDOW:
        out[rows] = _in_clear_windows(values[rows], sky[rows], scale, scales)
    return out


def _in_clear_windows(
    values: Array, sky: Array, scale: float | None, scales: tuple[float, float]
) -> Mask:
    mean, sky_mean = _mean(values), _mean(sky)
    # where there is no sky to compare with nothing below compares as true
    usable = np.where(sky_mean > 0, sky_mean, np.nan)
    factor = mean / usable if scale is None else np.where(np.isnan(usable), np.nan, scale)
    passes = (factor >= scales[0]) & (factor <= scales[1]) if scale is None else factor > 0
    passes &= np.abs(mean - factor * sky_mean) < MEAN_DIFFERENCE
    passes &= np.abs(_maximum(values) - factor * _maximum(sky)) < MAXIMUM_DIFFERENCE
    passes &= _scatter(np.diff(values)) < SLOPE_SCATTER * mean
    passes &= _same_slopes(np.diff(values), np.diff(sky), factor)
    out = np.zeros(values.shape, bool)
    for step in range(WINDOW):
        out[step : step + passes.size] |= passes
    return out


def _parts(values: Array, width: int) -> list[Array]:
    """Each place of the window for all windows: sums over it do not depend on the series' ends."""
    size = values.size - width + 1
    return [values[step : step + size] for step in range(width)]


def _mean(values: Array) -> Array:
    return np.asarray(sum(_parts(values, WINDOW)) / WINDOW)


def _maximum(values: Array) -> Array:
    return np.asarray(np.maximum.reduce(_parts(values, WINDOW)))


def _scatter(steps: Array) -> Array:
    """Standard deviation of the steps in each window."""
    parts = _parts(steps, WINDOW - 1)
    mean = sum(parts) / len(parts)
    return np.asarray(np.sqrt(sum((p - mean) ** 2 for p in parts) / (len(parts) - 1)))


def _same_slopes(steps: Array, sky_steps: Array, factor: Array) -> Mask:
    """Whether line length and slopes are those of the clear sky."""
    longer, largest = np.zeros(factor.shape), np.zeros(factor.shape)
    lengths = np.sqrt(steps**2 + 1.0)
    parts = (_parts(each, WINDOW - 1) for each in (steps, lengths, sky_steps))
    for step, length, expected in zip(*parts, strict=True):
        own = factor * expected
        longer += length - np.sqrt(own**2 + 1.0)
        np.maximum(largest, np.abs(step - own), out=largest)
    return np.asarray(
        (longer > -LINE_SHORTER) & (longer < LINE_LONGER) & (largest < SLOPE_DIFFERENCE)
    )
