"""Months of minutes with known truth and independent clouds, made directly, without voltages.

The sky is not the one that the package expects: the beam follows a turbidity that changes from day
to day, clouds come and go by a random process of their own, and the closure carries errors that
last for hours (as haze around the sun and offsets do), about as large as on the published month.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from sunledger.diagnosis.selection import Components
from sunledger.physics.sun import solar_position

MINUTE, DAY = 60, 86400
Course = Callable[[np.ndarray], np.ndarray]


def never(time: np.ndarray) -> np.ndarray:
    """No error at any time."""
    return np.zeros_like(time)


def step_at(when: float, size: float) -> Course:
    """Nothing before, all of it from then on."""
    return lambda time: np.where(time >= when, size, 0.0)


@dataclass(frozen=True)
class Month:
    """Where and when, and what is wrong with it.

    Leans are those of the global [degree], east and north; the clock error is logger less true time
    [s]; responsivity a relative error of the global.
    """

    start: str = "2031-06-01"
    days: int = 30
    latitude: float = 46.8
    longitude: float = 6.9
    altitude: float = 490.0
    seed: int = 0
    cloudiness: float = 0.35
    east: Course = never
    north: Course = never
    clock: Course = never
    responsivity: Course = never
    unrest: float = 1.5
    """Standard deviation of closure errors that last for hours. [W m-2]"""


def _slow(rng: np.random.Generator, size: int, minutes: float) -> np.ndarray:
    """Gaussian noise of unit variance that forgets itself within some minutes."""
    keep = np.exp(-1.0 / minutes)
    noise = rng.normal(size=size)
    noise[0] /= np.sqrt(1 - keep**2)
    return np.asarray(lfilter([np.sqrt(1 - keep**2)], [1.0, -keep], noise))


def _sky(rng: np.random.Generator, month: Month, zenith: np.ndarray, number: np.ndarray):
    """Direct and diffuse: clear by a daily turbidity, dimmed where clouds pass."""
    turbid = rng.uniform(0.10, 0.26, month.days)[number]
    mass = 1.0 / np.maximum(np.cos(np.radians(zenith)), 0.03)
    up = zenith < 90
    beam = np.where(up, 1330.0 * 0.9 * np.exp(-turbid * mass**0.9), 0.0)
    sky = np.where(up, (55.0 + 400.0 * turbid) / np.sqrt(mass), 0.0)
    overcast = rng.normal(month.cloudiness * 2 - 1, 1.2, month.days)[number]
    thick = np.clip(3.0 * (_slow(rng, zenith.size, 40.0) + overcast), 0.0, 1.0)
    thin = 0.01 * _slow(rng, zenith.size, 60.0)
    return beam * (1 - thick) * (1 + thin), sky * (1 + 2.0 * thick) * (1 - thin)


def month_of(month: Month) -> Components:
    """The month as its logger tells it: values of the true times, at the times it believes."""
    rng = np.random.default_rng(month.seed)
    first = np.datetime64(month.start, "s").astype(np.int64)
    told = first + MINUTE * np.arange(month.days * DAY // MINUTE) + MINUTE / 2
    true = told - month.clock(told)
    sun = solar_position(true, month.latitude, month.longitude, month.altitude)
    z, a = np.radians(sun.zenith), np.radians(sun.azimuth)
    number = ((told - first) // DAY).astype(int)
    direct, diffuse = _sky(rng, month, sun.zenith, number)
    lean = np.radians(month.east(told)) * np.sin(z) * np.sin(a)
    lean += np.radians(month.north(told)) * np.sin(z) * np.cos(a)
    beam = direct * np.maximum(np.cos(z) + lean, 0.0)
    unrest = month.unrest * _slow(rng, told.size, 240.0) * direct / 900.0
    whole = (1 + month.responsivity(told)) * (beam + diffuse) + unrest
    whole += rng.normal(0, 0.8, told.size) - 0.003 * beam
    every = np.ones(told.size, bool)
    place = (month.latitude, month.longitude, month.altitude)
    return Components(told, MINUTE, whole, diffuse, direct, every, *place)


def by_day(rng: np.random.Generator, first: float, size: float) -> Course:
    """Another size each day, as dew, dirt and a shade a little off make it; no day is cut."""
    sizes = rng.normal(0.0, size, 40)
    return lambda time: sizes[np.floor((time - first) / DAY).astype(int) + 4]


def plus(*courses: Course) -> Course:
    """Sum of several courses."""
    return lambda time: np.sum([c(time) for c in courses], axis=0)
