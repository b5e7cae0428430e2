"""Months of minutes from the sample generator's stations, straight as the instruments read them.

No logger, no files, no pipeline: sky and instruments with every imperfection that the generator
knows, voltages over the certificate's sensitivity.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from faults.readings import Light
from northmere.draws import draw
from northmere.instruments import dome_temperature, voltages
from northmere.light import SIGMA, Scene, make_scene, placements_of
from northmere.scenario import SCENARIOS
from northmere.sky import make_weather
from sunledger.diagnosis.selection import Components

COMPONENTS = ("ghi", "dhi", "dni")
Fault = Callable[[Light], Light]


def generated_month(
    station: str,
    seed: int,
    start: str = "2031-08-01",
    days: int = 30,
    fault: Fault | None = None,
) -> Components:
    """Three components of a station-month, one value a minute."""
    return generated(station, seed, start, days, fault)[0]


def generated(
    station: str, seed: int, start: str, days: int, fault: Fault | None = None
) -> tuple[Components, Scene]:
    """The same with the scene behind it."""
    scenario = SCENARIOS[station]
    begin = int(np.datetime64(start, "s").astype(int)) - round(scenario.longitude * 4) * 60
    middle = begin + 30.0 + 60.0 * np.arange(1440 * days)
    draws = draw(scenario, seed)
    scene = make_scene(scenario, make_weather(scenario, middle, 60.0, seed), draws, 60.0, seed)
    light = scene.received if fault is None else fault(scene.received)
    volts = voltages(scenario, scene, light, draws, 60.0, seed)
    read = {}
    for component in COMPONENTS:
        placement = placements_of(scenario, component)[-1]
        unit = scenario.instrument(placement.serial)
        table = np.array(unit.temperature_response or ((0.0, 0.0),))
        response = 1.0 + np.interp(scene.body - 273.15, table[:, 0], table[:, 1]) / 100.0
        sensitivity = unit.certificates[-1].sensitivity
        read[component] = volts[placement.position] / (sensitivity * response)
    usable = np.ones(middle.size, bool)
    place = (scenario.latitude, scenario.longitude, scenario.altitude)
    return Components(middle, 60, read["ghi"], read["dhi"], read["dni"], usable, *place), scene


def measured_net(station: str, seed: int, scene: Scene) -> np.ndarray:
    """Net longwave as the station's pyrgeometer measures it, by its certificate."""
    scenario = SCENARIOS[station]
    (placement,) = placements_of(scenario, "lwd")
    unit = scenario.instrument(placement.serial)
    draws = draw(scenario, seed)
    volts = voltages(scenario, scene, scene.received, draws, 60.0, seed)[placement.position]
    dome, body = dome_temperature(scene), scene.body
    by_dome = (unit.dome_factor or 0.0) * SIGMA * (dome**4 - body**4)
    return np.asarray(volts / unit.certificates[-1].sensitivity - by_dome)
