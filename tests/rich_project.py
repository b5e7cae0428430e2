"""The small project with more instruments: a twin, sensors of light, longwave up, wind, thermistor.

Raw columns are added to what the small project writes; everything else is configuration.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

import invented
import small_project
from sunledger.config.models.base import parse_utc

STEFAN_BOLTZMANN = 5.670374419e-8  # CODATA 2018
EXTRA: dict[str, tuple[str, str, float]] = {
    "swu_1": ("swu", "thermopile_pyranometer", 9.0),
    "array_1": ("gti", "thermopile_pyranometer", 7.5),
    "uv_1": ("uv", "ultraviolet_sensor", 300.0),
    "light_1": ("ppfd", "photosynthetic_sensor", 5.0),
    "ground_1": ("lwu", "pyrgeometer", 10.0),
}
"""Position → quantity, kind, sensitivity [uV a unit]."""
SHARE = {"swu_1": 0.2, "array_1": 1.1, "uv_1": 0.04, "light_1": 2.0}
"""Of the published global, in the unit of the quantity."""
TWIN = 0.99
"""Of the first global."""
TURN = "2031-06-30"
"""From when the second global is the primary."""
MAIN_COLUMNS = [
    *({"column": p, "position": p, "quantity": q, "unit": "uV"} for p, (q, *_) in EXTRA.items()),
    {"column": "ground_t", "position": "ground_1", "sensor": "body_temperature", "unit": "K"},
    {"column": "g_body", "position": "global_1", "sensor": "body_temperature", "unit": "degC"},
    {"column": "twin", "position": "global_2", "quantity": "ghi", "unit": "mV"},
    {"column": "wind", "quantity": "wind_speed", "unit": "m s-1"},
    {"column": "from", "quantity": "wind_from_direction", "unit": "degree"},
]
TEMPERATURES = ((0.0, -1.0), (20.0, 0.0), (30.0, 0.5))
"""Of the first global: response [percent] by body temperature [degC]."""


def body(size: int = 1440) -> np.ndarray:
    """Body temperature of the first global over a day, 5 to 35 degC, so above 30 for a while."""
    return np.round(20.0 + 15.0 * np.sin(2 * np.pi * np.arange(size) / 1440.0), 3)


def ground(size: int = 1440) -> np.ndarray:
    """Longwave up by day's minute. [W m-2]"""
    return 420.0 + 20.0 * np.sin(np.arange(size) / 90.0)


def _more_columns(path: Path) -> None:
    table = pd.read_csv(path)
    light = table["global_1_mean"].to_numpy() / invented.SENSITIVITY["global_1"] * 1000.0
    for position, share in SHARE.items():
        table[position] = light * share * EXTRA[position][2]
    size = len(table)
    up = ground(size) - STEFAN_BOLTZMANN * 290.0**4
    table["ground_1"], table["ground_t"] = up * EXTRA["ground_1"][2], 290.0
    table["g_body"] = body(size)
    table["twin"] = table["global_1_mean"] * TWIN
    table["wind"] = 3.0 + np.sin(np.arange(size) / 50.0)
    table["from"] = (np.arange(size) * 7) % 360
    table.to_csv(path, index=False, float_format="%.5f")


def _sensor(position: str) -> dict[str, Any]:
    _, kind, sensitivity = EXTRA[position]
    unit = "uV umol-1 m2 s" if kind == "photosynthetic_sensor" else "uV W-1 m2"
    paper = invented.certificate("global_1", sensitivity={"as_left": sensitivity, "unit": unit})
    paper["certificate"] = f"NC-{position}"
    if kind == "pyrgeometer":
        paper["longwave"] = {"equation": "simple"}
    return {"serial_number": f"NR-{position}", "kind": kind, "calibrations": [paper]}


def write_project(folder: Path, **workflow: Any) -> Path:
    """Raw files and configuration; returns the workflow file."""
    workflow_file = small_project.write_project(folder, **workflow)
    for path in sorted((folder / "raw").glob("main_*.csv")):
        _more_columns(path)
    twin = invented.instrument("global_1", serial_number="NR-global_2")
    twin["calibrations"] = [invented.certificate("global_1", certificate="NC-global_2")]
    warm = invented.certificate("global_1", temperature_response=TEMPERATURES)
    edit = small_project.edit
    edit(
        workflow_file,
        "station/station",
        lambda s: (
            s["loggers"]["main"]["channels"].extend(MAIN_COLUMNS),
            s.update(primary=[{"from": TURN, "quantity": "ghi", "position": "global_2"}]),
        ),
    )
    edit(
        workflow_file,
        "station/instruments",
        lambda i: (
            i["instruments"].extend([twin, *map(_sensor, EXTRA)]),
            i["instruments"][0].update(calibrations=[warm]),
        ),
    )
    small_project.note(
        workflow_file, invented.deployment("global_2"), *map(invented.deployment, EXTRA)
    )
    kept = {"keep_corrections": ["temperature_response"]}
    edit(workflow_file, "processing", lambda p: p["calibrate"].update(kept))
    return workflow_file


def minute_of(day: str, time: str) -> int:
    """An instant. [s]"""
    return int(parse_utc(f"{day} {time}"))
