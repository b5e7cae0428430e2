"""Seeded random series: one stream a purpose, so that one thing more changes nothing else."""

from __future__ import annotations

import zlib

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfftfreq
from scipy.interpolate import CubicSpline

Floats = NDArray[np.float64]
DAY = 86400.0


def stream(*names: object) -> np.random.Generator:
    """
    Random generator of one purpose.

    Parameters
    ----------
    *names : object
        Station, seed and purpose; the same words give the same stream.

    Returns
    -------
    generator : numpy.random.Generator
        Independent of every other purpose's.
    """
    key = [zlib.crc32(str(name).encode()) for name in names]
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(key)))


def fractal(
    rng: np.random.Generator, size: int, step: float, outer: float, steep: float = 5.0 / 3.0
) -> Floats:
    """
    Gaussian series of unit variance whose spectrum falls by a power law.

    Parameters
    ----------
    rng : numpy.random.Generator
        Stream.
    size : int
        Length.
    step : float
        Spacing. [s]
    outer : float
        Time scale above which the spectrum is flat. [s]
    steep : float
        Exponent of the fall; 5/3 is turbulence.

    Returns
    -------
    series : ndarray of float, shape (size,)
        Mean 0 and variance 1 over the ensemble.
    """
    # Not periodic: the transform is longer by some outer scales than what is used of it.
    length = next_fast_len(size + int(4 * outer / step) + 2, real=True)
    frequency = rfftfreq(length, step)
    power = (1.0 + (frequency * outer) ** 2) ** (-steep / 2.0)
    power[0] = 0.0
    draws = rng.standard_normal((2, frequency.size))
    spectrum = np.sqrt(power / 2.0) * (draws[0] + 1j * draws[1])
    variance = 2.0 * power.sum() / length**2
    return np.asarray(irfft(spectrum, length)[:size] / np.sqrt(variance))


def daily_walk(
    rng: np.random.Generator, time: Floats, centre: float, spread: float, memory: float = 0.6
) -> Floats:
    """
    Smooth series through one random value a day.

    Parameters
    ----------
    rng : numpy.random.Generator
        Stream.
    time : ndarray of float, shape (time,)
        Rising. [s]
    centre, spread : float
        Mean and standard deviation.
    memory : float
        Correlation from one day to the next.

    Returns
    -------
    series : ndarray of float, shape (time,)
        Spline through the daily values.
    """
    days = int((time[-1] - time[0]) / DAY) + 4
    shocks = rng.standard_normal(days)
    values = np.empty(days)
    values[0] = shocks[0]
    for d in range(1, days):
        values[d] = memory * values[d - 1] + np.sqrt(1.0 - memory**2) * shocks[d]
    knots = time[0] + (np.arange(days) - 1.3) * DAY
    return np.asarray(centre + spread * CubicSpline(knots, values)(time))
