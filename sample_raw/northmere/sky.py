"""Sun, clear sky, clouds that switch and enhance, longwave: what the light truly is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import pvlib
from scipy.interpolate import CubicSpline
from scipy.ndimage import uniform_filter1d
from scipy.special import ndtri

from northmere.noise import Floats, daily_walk, fractal, stream
from northmere.shapes import Climate, Scenario

DAY = 86400.0
COVERS = (0.004, 0.25, 0.60, 0.985)
"""Mean cloud cover of clear, scattered, broken and overcast days."""
FIELD = (3600.0, 2.35)
"""Outer time scale [s] and spectral exponent of the cloud field."""
OPACITY = 4.5
"""Optical depth per unit of the cloud field above its threshold: how sharply an edge switches."""


@dataclass(frozen=True)
class Sun:
    """
    Where the sun stands, refraction included.

    Parameters
    ----------
    zenith, azimuth : ndarray of float, shape (time,)
        [degree]
    risen : ndarray of float, shape (time,)
        1 where the disc stands above the skyline.
    """

    zenith: Floats
    azimuth: Floats
    risen: Floats

    @property
    def cos_zenith(self) -> Floats:
        """
        Cosine of the zenith angle, zero below the horizon.

        Returns
        -------
        cos_zenith : ndarray of float, shape (time,)
            Between 0 and 1.
        """
        return np.maximum(np.cos(np.radians(self.zenith)), 0.0)


def sun_position(scenario: Scenario, time: Floats) -> Sun:
    """
    Apparent sun: pvlib's position at knots 10 min apart, its direction splined between.

    Parameters
    ----------
    scenario : Scenario
        Gives the place.
    time : ndarray of float, shape (time,)
        UTC seconds, rising. [s]

    Returns
    -------
    sun : Sun
        Within 1e-6 degree of the position at every time, refraction aside.
    """
    knots = np.arange(time[0] - 1200.0, time[-1] + 1800.0, 600.0)
    stamps = pd.to_datetime(knots, unit="s", utc=True)
    position = pvlib.solarposition.get_solarposition(
        stamps, scenario.latitude, scenario.longitude, scenario.altitude
    )
    z, a = (np.radians(position[name].to_numpy()) for name in ("zenith", "azimuth"))
    directions = np.stack([np.sin(z) * np.sin(a), np.sin(z) * np.cos(a), np.cos(z)], axis=1)
    east, north, up = CubicSpline(knots, directions)(time).T
    elevation = np.degrees(np.arctan2(up, np.hypot(east, north)))
    azimuth = np.degrees(np.arctan2(east, north)) % 360.0
    apparent = elevation + _refraction(elevation, scenario.altitude)
    return Sun(90.0 - apparent, azimuth, _above_skyline(scenario, apparent, azimuth))


def _refraction(elevation: Floats, altitude: float) -> Floats:
    # Saemundsson's formula, scaled by the pressure of the site; nothing below the horizon dip.
    h = np.maximum(elevation, -1.0)
    minutes = 1.02 / np.tan(np.radians(h + 10.3 / (h + 5.11)))
    return np.asarray(
        minutes / 60.0 * np.exp(-altitude / 8400.0) * np.clip(elevation + 2.0, 0.0, 1.0)
    )


def _above_skyline(scenario: Scenario, elevation: Floats, azimuth: Floats) -> Floats:
    if not scenario.horizon:
        return np.clip((elevation + 0.27) / 0.53, 0.0, 1.0)
    corners = np.array(scenario.horizon)
    skyline = np.interp(azimuth, corners[:, 0], corners[:, 1], period=360.0)
    return np.asarray(np.clip((elevation + 0.27 - skyline) / 0.53, 0.0, 1.0))


@dataclass(frozen=True)
class Weather:
    """
    Slow weather and the cloud field, on the sample times.

    Parameters
    ----------
    time : ndarray of float, shape (time,)
        Middle of each sample. [s]
    beam_clear, diffuse_clear : ndarray of float
        Clear sky: direct at normal incidence, diffuse on the horizontal. [W m-2]
    margin : ndarray of float
        Cloud field above its threshold at the mast: cloud before the sun where positive.
    cirrus : ndarray of float
        Optical depth of thin high cloud, the same for all instruments.
    cover : ndarray of float
        Cloud cover of the whole sky.
    bulk : ndarray of float
        Mean optical depth of the clouds in the sky.
    gleam : ndarray of float
        Between 0 and 1: bright edges about the sun.
    wind : (ndarray, ndarray)
        Eastward and northward speed of the clouds. [m s-1]
    air_temperature, dew_point, pressure : ndarray of float
        [degC, degC, hPa]
    """

    time: Floats
    sun: Sun
    beam_clear: Floats
    diffuse_clear: Floats
    margin: Floats
    cirrus: Floats
    cover: Floats
    bulk: Floats
    gleam: Floats
    wind: tuple[Floats, Floats]
    air_temperature: Floats
    dew_point: Floats
    pressure: Floats


def make_weather(scenario: Scenario, time: Floats, step: float, seed: int) -> Weather:
    """
    One realisation of the weather.

    Parameters
    ----------
    scenario : Scenario
        Gives place and climate.
    time : ndarray of float, shape (time,)
        Middle of each sample, evenly spaced. [s]
    step : float
        Spacing. [s]
    seed : int
        Same seed, same weather, whatever else is injected.

    Returns
    -------
    weather : Weather
        On the sample times.
    """
    climate = scenario.climate
    solar = sun_position(scenario, time)
    margin, cirrus, cover, bulk = _clouds(scenario, time, step, seed)
    air = _air(scenario, time, cover, seed)
    beam, diffuse = _clear_sky(scenario, time, solar, air, seed)
    rng = stream(scenario.id, seed, "wind")
    speed = np.exp(daily_walk(rng, time, np.log(climate.wind), 0.35))
    heading = np.radians(daily_walk(rng, time, 80.0, 60.0))
    edges = fractal(stream(scenario.id, seed, "gleam"), time.size, step, 900.0, 2.2)
    gleam = 0.5 + 0.5 * np.tanh(edges)
    return Weather(
        time,
        solar,
        beam,
        diffuse,
        margin,
        cirrus,
        cover,
        bulk,
        gleam,
        (speed * np.sin(heading), speed * np.cos(heading)),
        *air,
    )


def _clear_sky(
    scenario: Scenario, time: Floats, solar: Sun, air: tuple[Floats, Floats, Floats], seed: int
) -> tuple[Floats, Floats]:
    rng = stream(scenario.id, seed, "aerosol")
    aerosol = np.exp(daily_walk(rng, time, np.log(scenario.climate.aerosol), 0.3))
    every = max(1, round(60.0 / (time[1] - time[0])))  # smooth: one value a minute is enough
    coarse = np.append(time[::every], time[-1])
    pick = np.minimum(np.arange(coarse.size) * every, time.size - 1)
    dew = air[1][pick]
    water = np.clip(0.14 * 6.11 * np.exp(17.6 * dew / (dew + 243.0)), 0.2, 6.0)  # [cm], rough
    day = (coarse / DAY) % 365.25
    extra = 1361.0 * (1.0 + 0.0334 * np.cos(2 * np.pi * (day - 3.0) / 365.25))
    sky = pvlib.clearsky.simplified_solis(
        90.0 - solar.zenith[pick],
        np.clip(aerosol[pick], 0.0, 0.45),
        water,
        air[2][pick] * 100.0,
        extra,
    )
    beam, diffuse = (np.interp(time, coarse, np.nan_to_num(sky[name])) for name in ("dni", "dhi"))
    below = solar.zenith - 90.0
    twilight = 7.0 * np.exp(-np.where(below > 0, below / 1.1, -below / 2.0))
    return beam * solar.risen, diffuse + twilight


def _clouds(
    scenario: Scenario, time: Floats, step: float, seed: int
) -> tuple[Floats, Floats, Floats, Floats]:
    rng = stream(scenario.id, seed, "regimes")
    threshold = _threshold(scenario.climate, scenario.longitude, time, rng)
    field = fractal(stream(scenario.id, seed, "field"), time.size, step, *FIELD)
    margin = field - threshold
    depth = OPACITY * np.maximum(margin, 0.0)
    cirrus = _cirrus(scenario, time, step, seed)
    window = max(1, round(420.0 / step))
    cover, bulk = (_sky_mean(values, window) for values in (1.0 - np.exp(-depth), depth))
    return margin, cirrus, cover, bulk / np.maximum(cover, 0.02)


def _sky_mean(values: Floats, window: int) -> Floats:
    # Twice a running mean: a triangle, near clouds weighing more than those at the horizon.
    once = uniform_filter1d(values, window, mode="nearest")
    return np.asarray(np.clip(uniform_filter1d(once, window, mode="nearest"), 0.0, None))


def _threshold(
    climate: Climate, longitude: float, time: Floats, rng: np.random.Generator
) -> Floats:
    first = np.floor((time[0] + longitude * 240.0) / DAY) - 1
    days = int((time[-1] - time[0]) / DAY) + 4
    regime = np.empty(days, dtype=int)
    jumps, picks = rng.random(days), rng.choice(4, size=days, p=climate.regimes)
    for d in range(days):
        regime[d] = regime[d - 1] if d and jumps[d] < climate.persistence else picks[d]
    # A day's cover holds from dawn to dusk and changes over the night, in local solar time.
    mornings = (first + np.arange(days)) * DAY - longitude * 240.0
    knots = np.stack([mornings + 4 * 3600.0, mornings + 21 * 3600.0], axis=1).ravel()
    level = ndtri(1.0 - np.array(COVERS))[regime].repeat(2)
    slow = fractal(rng, time.size, time[1] - time[0], 3 * 3600.0, steep=3.0)
    return np.asarray(np.interp(time, knots, level) + 0.25 * slow)


def _cirrus(scenario: Scenario, time: Floats, step: float, seed: int) -> Floats:
    rng = stream(scenario.id, seed, "cirrus")
    field = fractal(rng, time.size, step, 3 * 3600.0, steep=2.6)
    limit = ndtri(1.0 - scenario.climate.cirrus)
    return np.asarray(0.35 * np.maximum(field - limit, 0.0))


def _air(
    scenario: Scenario, time: Floats, cover: Floats, seed: int
) -> tuple[Floats, Floats, Floats]:
    climate, rng = scenario.climate, stream(scenario.id, seed, "air")
    hour = ((time + scenario.longitude * 240.0) % DAY) / 3600.0
    wave = climate.daily_range * np.cos(2 * np.pi * (hour - 14.8) / 24.0)
    every = max(1, round(3600.0 / (time[1] - time[0])))
    share = uniform_filter1d(cover, 6 * every, mode="nearest")
    passed = (time - time[0]) / DAY
    temperature = (
        climate.temperature
        + climate.trend * passed
        + wave * (1.0 - 0.65 * share)
        + daily_walk(rng, time, 0.0, 2.5)
        + 0.25 * fractal(rng, time.size, time[1] - time[0], 1800.0)
    )
    dew = np.minimum(daily_walk(rng, time, climate.dew_point, 2.5) + 3.0 * share, temperature - 0.3)
    standard = 1013.25 * (1.0 - 2.25577e-5 * scenario.altitude) ** 5.25588
    return temperature, dew, daily_walk(rng, time, standard, 4.0)
