"""What every instrument of a station receives, from its own place under the clouds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from faults.levelling import cosine_change
from faults.readings import Light
from northmere.draws import Draws
from northmere.noise import Floats, fractal, stream
from northmere.shapes import Placement, Scenario
from northmere.sky import OPACITY, Weather

SIGMA = 5.670374419e-8
RAGGED = 0.026
"""How much the cloud's edge differs between two places some metres apart, in the unit of the
cloud field. With the places it sets the natural closure failures; see the generator benchmark."""
RAGGED_SCALE = (700.0, 2.4)
"""Outer time scale [s] and spectral exponent of that difference."""


@dataclass(frozen=True)
class Sky:
    """
    Shortwave light at one place.

    Parameters
    ----------
    beam, diffuse, circumsolar : ndarray of float, shape (time,)
        Direct at normal incidence, diffuse on the horizontal, and the light from the rim of the
        sun's surroundings that an opening takes in or leaves out, at normal incidence. [W m-2]
    """

    beam: Floats
    diffuse: Floats
    circumsolar: Floats


def sky_at(weather: Weather, place: tuple[float, float] | None, ragged: Floats | None) -> Sky:
    """
    Shortwave light at one place.

    Parameters
    ----------
    weather : Weather
        The station's weather.
    place : (float, float) or None
        East and north of the mast; None is the mast. [m]
    ragged : ndarray of float or None
        Difference of the cloud's edge here, in the unit of the cloud field.

    Returns
    -------
    sky : Sky
        On the sample times.
    """
    margin = weather.margin
    if place is not None:
        east, north = weather.wind
        lag = (place[0] * east + place[1] * north) / (east**2 + north**2)
        margin = np.interp(weather.time - lag, weather.time, margin)
    if ragged is not None:
        margin = margin + ragged
    depth = OPACITY * np.maximum(margin, 0.0) + weather.cirrus
    return _light_under(weather, depth)


def _light_under(weather: Weather, depth: Floats) -> Sky:
    passing = np.exp(-depth)
    flat = weather.beam_clear * weather.sun.cos_zenith
    beneath = (weather.diffuse_clear + flat) / (1.0 + 0.16 * weather.bulk)
    # Thin cloud scatters forward; bright cloud edges about an uncovered sun enhance.
    forward = 0.4 * flat * (np.exp(-0.45 * depth) - passing)
    gleam = 0.45 * weather.cover * (1.0 - weather.cover) * weather.gleam * flat * passing
    diffuse = weather.diffuse_clear * (1.0 - weather.cover) + beneath * weather.cover
    beam = weather.beam_clear * passing
    rim = np.minimum(0.004 + 0.05 * depth, 0.2)
    return Sky(beam, diffuse + forward + gleam, beam * rim)


def longwave(weather: Weather) -> Floats:
    """
    Downward longwave irradiance.

    Parameters
    ----------
    weather : Weather
        The station's weather.

    Returns
    -------
    lwd : ndarray of float, shape (time,)
        Clear-sky emissivity after Brutsaert (Water Resour. Res. 11, 742, 1975; from memory), the
        rest of the way to a black sky by cloud. [W m-2]
    """
    kelvin = weather.air_temperature + 273.15
    vapour = 6.112 * np.exp(17.62 * weather.dew_point / (weather.dew_point + 243.12))
    clear = 1.24 * (vapour / kelvin) ** (1.0 / 7.0)
    cloudy = np.maximum(0.84 * weather.cover, 0.12 * (1.0 - np.exp(-weather.cirrus)))
    return np.asarray((clear + (1.0 - clear) * cloudy) * SIGMA * kelvin**4)


def body_temperature(weather: Weather, ghi: Floats, lwd: Floats, step: float) -> Floats:
    """
    Temperature of the instruments' bodies.

    Parameters
    ----------
    weather : Weather
        The station's weather.
    ghi, lwd : ndarray of float, shape (time,)
        Global and downward longwave. [W m-2]
    step : float
        Spacing of the samples. [s]

    Returns
    -------
    temperature : ndarray of float, shape (time,)
        Air temperature with some heating and cooling, half an hour late. [K]
    """
    kelvin = weather.air_temperature + 273.15
    aim = kelvin + 0.2 + 1.8e-3 * ghi + 6e-3 * (lwd - SIGMA * kelvin**4)
    keep = np.exp(-step / 1500.0)
    return np.asarray(lfilter([1.0 - keep], [1.0, -keep], aim, zi=[keep * aim[0]])[0])


@dataclass(frozen=True)
class Scene:
    """
    Truth, what the sensors receive, and their temperature.

    Parameters
    ----------
    truth : mapping
        ``ghi``, ``dhi``, ``dni``, ``lwd`` at the place of each instrument, which under broken
        cloud do not close exactly, and ``mast_ghi``, ``mast_dhi``, ``mast_dni``, which do.
        [W m-2]
    received : Light
        At the instruments, every geometric imperfection included.
    body : ndarray of float, shape (time,)
        Temperature of the bodies. [K]
    """

    truth: Mapping[str, Floats]
    received: Light
    body: Floats


def make_scene(scenario: Scenario, weather: Weather, draws: Draws, step: float, seed: int) -> Scene:
    """
    Light at the mast and at the instruments, before any injected fault.

    Parameters
    ----------
    scenario : Scenario
        Places and instruments.
    weather : Weather
        The station's weather.
    draws : Draws
        Drawn imperfections.
    step : float
        Spacing of the samples. [s]
    seed : int
        For the ragged edges.

    Returns
    -------
    scene : Scene
        On the sample times.
    """
    mast, mu, lwd = sky_at(weather, None, None), weather.sun.cos_zenith, longwave(weather)
    ghi = mast.diffuse + mast.beam * mu
    body = body_temperature(weather, ghi, lwd, step)
    skies = {}
    for component, position in (("ghi", "global_1"), ("dhi", "diffuse_1"), ("dni", "direct_1")):
        rng = stream(scenario.id, seed, "ragged", component)
        ragged = RAGGED * fractal(rng, weather.time.size, step, *RAGGED_SCALE)
        skies[component] = sky_at(weather, scenario.places[position], ragged)
    received = Light(
        weather.time,
        weather.sun.zenith,
        weather.sun.azimuth,
        ghi=_on_level_dome(scenario, weather, draws, skies["ghi"]),
        dhi=_under_shade(scenario, weather, draws, skies["dhi"]),
        dni=_in_opening(scenario, weather, draws, skies["dni"]),
        beam=skies["dhi"].beam,
        lwd=lwd,
        emission=SIGMA * body**4,
    )
    truth = {
        "ghi": skies["ghi"].diffuse + skies["ghi"].beam * mu,
        "dhi": skies["dhi"].diffuse,
        "dni": skies["dni"].beam,
        "lwd": lwd,
        "mast_ghi": ghi,
        "mast_dhi": mast.diffuse,
        "mast_dni": mast.beam,
    }
    return Scene(truth, received, body)


def _per_unit(
    scenario: Scenario, weather: Weather, draws: Draws, component: str, what: str
) -> Floats:
    values = np.zeros(weather.time.size)
    for placement in placements_of(scenario, component):
        inside = (weather.time >= placement.start) & (weather.time < placement.end)
        values[inside] = draws.of(placement.serial, what)
    return values


def placements_of(scenario: Scenario, component: str) -> tuple[Placement, ...]:
    """
    Placements of one component in order of time.

    Parameters
    ----------
    scenario : Scenario
        The station.
    component : str
        ``ghi``, ``dhi``, ``dni`` or ``lwd``.

    Returns
    -------
    placements : tuple of Placement
        One after the other.
    """
    return tuple(p for p in scenario.placements if p.component == component)


def _on_level_dome(scenario: Scenario, weather: Weather, draws: Draws, sky: Sky) -> Floats:
    zenith, azimuth = weather.sun.zenith, weather.sun.azimuth
    east = _per_unit(scenario, weather, draws, "ghi", "tilt_east")
    north = _per_unit(scenario, weather, draws, "ghi", "tilt_north")
    lean = east * cosine_change(zenith, azimuth, 1.0, 90.0)
    lean += north * cosine_change(zenith, azimuth, 1.0, 0.0)
    error = _per_unit(scenario, weather, draws, "ghi", "directional")
    side = _per_unit(scenario, weather, draws, "ghi", "directional_side")
    form = (np.minimum(zenith, 90.0) / 80.0) ** 2 * (1.0 + 0.4 * np.cos(np.radians(azimuth - side)))
    flat = weather.sun.cos_zenith * (1.0 + error * form) + lean
    return sky.diffuse + sky.beam * np.maximum(flat, 0.0)


def _under_shade(scenario: Scenario, weather: Weather, draws: Draws, sky: Sky) -> Floats:
    taken = _per_unit(scenario, weather, draws, "dhi", "opening")
    return np.asarray(sky.diffuse - taken * sky.circumsolar * weather.sun.cos_zenith)


def _in_opening(scenario: Scenario, weather: Weather, draws: Draws, sky: Sky) -> Floats:
    taken = _per_unit(scenario, weather, draws, "dni", "opening")
    return np.asarray(sky.beam + taken * sky.circumsolar)
