"""Minutes made by hand: a quiet clear half hour in which nothing is wrong."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from invented import MARCH, logger, period, station_config
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import Period
from sunledger.vocabulary import TESTS

ZENITH = 40.0
COSINE = float(np.cos(np.radians(ZENITH)))
VALUES = {
    "ghi": 100.0 + 800.0 * COSINE,
    "dhi": 100.0,
    "dni": 800.0,
    "swu": 140.0,
    "lwd": 300.0,
    "lwu": 380.0,
}
SHORTWAVE = ("ghi", "dhi", "dni", "swu")


def six_quantities(settings: dict[str, Any] | None = None, **changes: Any) -> Period:
    """Resolved configuration of a station that measures six quantities at one tracker."""
    rows: list[dict[str, Any]] = [
        {"column": q, "position": f"{q}_1", "quantity": q, "unit": "mV"} for q in VALUES
    ]
    words = {1: "tracking", 0: "off", 2: "homing", 3: "fault", 4: "clock_tracking"}
    rows += [
        {"column": "mode", "status": "tracker_mode", "unit": "1", "meanings": words},
        {"column": "fan", "status": "fan", "unit": "1", "serves": ["ghi_1"], "least": 1000.0},
    ]
    config = station_config({"main": logger((), channels=rows)}, **changes)
    return period(config, processing=Processing.model_validate(settings or {}))


def put(ds: xr.Dataset, quantity: str, at: Any, value: Any) -> None:
    """Set a value with the extremes that go with it."""
    for suffix, shift in (("", 0.0), ("_min", -1.0), ("_max", 1.0)):
        ds[f"{quantity}{suffix}"].values[at] = np.asarray(value) + shift


def quiet_minutes(
    size: int = 30, zenith: Any = ZENITH, values: dict[str, Any] | None = None
) -> xr.Dataset:
    """Minutes out of the time-correct stage."""
    angle = np.broadcast_to(np.asarray(zenith, float), size).copy()
    data: dict[str, Any] = {}
    for quantity, plain in (VALUES | (values or {})).items():
        mean = np.broadcast_to(np.asarray(plain, float), size).copy()
        data[quantity] = mean
        data |= {f"{quantity}_min": mean - 1.0, f"{quantity}_max": mean + 1.0}
        data[f"{quantity}_std"] = np.full(size, 0.4)
        data[f"{quantity}_fingerprint"] = np.arange(size, dtype=float)
        data[f"{quantity}_conditions"] = np.zeros(size, np.int32)
        data[f"{quantity}_over_range"] = np.zeros(size, bool)
        if quantity in SHORTWAVE:
            data[f"{quantity}_cosine_zenith"] = np.cos(np.radians(angle))
    data |= {
        "clock_residual_main": np.zeros(size),
        "solar_zenith_angle": angle,
        "solar_azimuth_angle": np.full(size, 150.0),
        "extraterrestrial_irradiance": np.full(size, 1361.0),
        "air_temperature": np.full(size, 280.0),
        "tracker_mode": np.ones(size),
        "fan": np.full(size, 1500.0),
    }
    return xr.Dataset(
        {name: ("time", array) for name, array in data.items()},
        coords={"time": MARCH + 60 * np.arange(size, dtype=np.int64)},
        attrs={"interval": 60},
    )


def names_in(word: int) -> set[str]:
    """Tests named by a word."""
    return {name for name, bit in TESTS.items() if word & bit.mask}


def raised(ds: xr.Dataset, word: str = "flags") -> dict[tuple[str, int], set[str]]:
    """Everything raised: quantity and minute → names."""
    return {
        (q, int(i)): names_in(int(ds[f"{q}_{word}"].values[i]))
        for q in VALUES
        for i in np.flatnonzero(ds[f"{q}_{word}"].values)
    }


def where(ds: xr.Dataset, quantity: str, name: str, word: str = "flags") -> np.ndarray:
    """Minutes in which a test failed, or could run."""
    return (ds[f"{quantity}_{word}"].values & TESTS[name].mask) != 0
