"""A small invented station in memory, for tests of the stages."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from sunledger.config.loading import StationConfig
from sunledger.config.models.fieldlog import FieldLog
from sunledger.config.models.instruments import Inventory
from sunledger.config.models.processing import Processing
from sunledger.config.models.review import Review
from sunledger.config.models.station import Station
from sunledger.config.models.workflow import Network
from sunledger.config.resolve import Period, resolve_period
from sunledger.stages.true_time import with_true_times

DAY = 86400
MARCH = 1931385600  # 2031-03-16 00:00 UTC; any whole day would do
SENSITIVITY = {"global_1": 8.0, "diffuse_1": 10.0, "direct_1": 9.0, "sky_1": 4.0}
KINDS = {
    "global_1": "thermopile_pyranometer",
    "diffuse_1": "thermopile_pyranometer",
    "direct_1": "pyrheliometer",
    "sky_1": "pyrgeometer",
}
QUANTITY = {"global_1": "ghi", "diffuse_1": "dhi", "direct_1": "dni", "sky_1": "lwd"}
CONTACT = {
    "role": "station keeper",
    "institution": "Northmere Radiation Network (invented)",
    "email": "keeper@northmere.example.org",
    "url": "https://northmere.example.org",
}


def certificate(position: str, **changes: Any) -> dict[str, Any]:
    """A certificate of the instrument at a position."""
    plain: dict[str, Any] = {
        "certificate": f"NC-{position}",
        "date": "2030-06-01",
        "sensitivity": {"as_left": SENSITIVITY[position], "unit": "uV W-1 m2"},
        "expanded_uncertainty": 1.2,
        "method": "ISO 9847",
        "reference_scale": "WRR",
        "traceability": "invented reference group",
        "laboratory": "Northmere Calibration Room (invented)",
    }
    if position == "sky_1":
        plain["longwave"] = {"equation": "simple"}
    return plain | changes


def instrument(position: str, *certificates: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """The instrument that stands at a position."""
    return {
        "serial_number": f"NR-{position}",
        "kind": KINDS[position],
        "iso_class": None if position == "sky_1" else "A",
        "calibrations": list(certificates) or [certificate(position)],
    } | changes


def channels(positions: tuple[str, ...]) -> list[dict[str, Any]]:
    """Four statistics a radiometer, and what goes with it."""
    rows: list[dict[str, Any]] = [
        {"column": f"{p}_{s}", "position": p, "quantity": QUANTITY[p], "unit": "mV", "statistic": s}
        for p in positions
        for s in ("mean", "min", "max", "std")
    ]
    if "sky_1" in positions:
        rows.append(
            {"column": "tb", "position": "sky_1", "sensor": "body_temperature", "unit": "K"}
        )
        rows.append({"column": "ta", "quantity": "air_temperature", "unit": "degC"})
    if "direct_1" in positions:
        words = {1: "tracking", 0: "off", 2: "homing"}
        rows.append({"column": "mode", "status": "tracker_mode", "unit": "1", "meanings": words})
    return rows


def logger(positions: tuple[str, ...], **changes: Any) -> dict[str, Any]:
    """A logger that reads some positions."""
    return {
        "serial_number": "NR-LG-1",
        "files": ["*.csv"],
        "layouts": [{"time": {"columns": ["stamp"], "format": "%Y-%m-%d %H:%M:%S"}}],
        "utc_offset": "+01:00",
        "interval": 60,
        "label": "end",
        "channels": channels(positions),
    } | changes


def deployment(position: str, **changes: Any) -> dict[str, Any]:
    """An instrument put up long before the test."""
    return {
        "id": f"dep-{position}",
        "type": "deployment",
        "from": "2030-07-01",
        "instrument": f"NR-{position}",
        "position": position,
        "role": "station keeper",
    } | changes


def station_config(
    loggers: dict[str, dict[str, Any]] | None = None,
    instruments: list[dict[str, Any]] | None = None,
    entries: list[dict[str, Any]] | None = None,
    decisions: list[dict[str, Any]] | None = None,
    **station: Any,
) -> StationConfig:
    """An invented station; every part can be replaced."""
    every = tuple(SENSITIVITY)
    plain = {
        "id": "tst",
        "name": "Test Ridge (invented)",
        "description": "Invented station for tests.",
        "latitude": 46.9,
        "longitude": 10.2,
        "altitude": 2000.0,
        "licence": "CC-BY-4.0",
        "contact": CONTACT,
        "site": [{"from": "2030-01-01", "surface": "grass"}],
        "loggers": loggers or {"main": logger(every)},
    } | station
    return StationConfig(
        Station.model_validate(plain),
        Inventory.model_validate({"instruments": instruments or [instrument(p) for p in every]}),
        FieldLog.model_validate({"entries": [*(deployment(p) for p in every), *(entries or [])]}),
        Review.model_validate({"decisions": decisions or []}),
    )


def network() -> Network:
    """Whose archive it is."""
    return Network.model_validate(
        {
            "id": "northmere",
            "name": "Northmere Radiation Network (invented)",
            "naming_authority": "org.example.northmere",
            "summary": "Invented.",
            "project": "Northmere (invented)",
            "program": "Northmere (invented)",
            "acknowledgement": "none",
            "references": "WMO-No. 8",
            "metadata_link": "https://northmere.example.org",
            "publisher": CONTACT,
            "creator": CONTACT,
            "keywords": ["EARTH SCIENCE > ATMOSPHERE > ATMOSPHERIC RADIATION"],
        }
    )


def period(
    config: StationConfig,
    start: int = MARCH,
    days: float = 1.0,
    processing: Processing | None = None,
) -> Period:
    """The resolved configuration of some days."""
    return resolve_period(config, processing or Processing(), start, start + int(days * DAY))


def irradiances(minutes: int) -> dict[str, np.ndarray]:
    """Plausible irradiances that differ from minute to minute."""
    x = np.arange(minutes)
    return {
        "global_1": 400.0 + 50 * np.sin(x / 37.0) + 0.3 * np.cos(x * 1.7),
        "diffuse_1": 120.0 + 10 * np.sin(x / 23.0) + 0.2 * np.cos(x * 1.3),
        "direct_1": 500.0 + 60 * np.sin(x / 41.0) + 0.4 * np.cos(x * 1.9),
        "sky_1": 300.0 + 5 * np.sin(x / 57.0) + 0.1 * np.cos(x * 1.1),
    }


def signal_mv(position: str, irradiance: np.ndarray, body: float = 280.0) -> np.ndarray:
    """Voltage [mV] that the certificate turns back into an irradiance."""
    if position == "sky_1":
        irradiance = irradiance - 5.670374419e-8 * body**4  # CODATA 2018
    return irradiance * SENSITIVITY[position] / 1000.0


def readings(
    config: StationConfig,
    name: str = "main",
    start: int = MARCH,
    minutes: int = 1440,
    values: dict[str, np.ndarray] | None = None,
) -> xr.Dataset:
    """Readings of one logger whose clock is right, in the readings contract."""
    item = config.station.loggers[name]
    dim = f"reading_{name}"
    values = irradiances(minutes) | (values or {})
    shift = item.utc_offset + (item.interval if item.label == "end" else 0)
    labels = start + shift + item.interval * np.arange(minutes, dtype=np.int64)
    data: dict[str, Any] = {
        f"logger_time_{name}": labels,
        f"line_status_{name}": np.zeros(minutes, np.int8),
        f"source_file_{name}": np.zeros(minutes, np.int32),
        f"source_line_{name}": np.arange(2, minutes + 2, dtype=np.int32),
    }
    spread = {"mean": 0.0, "min": -1.0, "max": 1.0}
    for channel in item.channels:
        if channel.kind == "signal":
            mean = values[str(channel.position)]
            if channel.statistic == "std":
                data[channel.name] = np.full(
                    minutes, 0.4 * SENSITIVITY[str(channel.position)] / 1e3
                )
            else:
                shifted = mean + spread[channel.statistic]
                data[channel.name] = signal_mv(str(channel.position), shifted)
        elif channel.kind == "temperature":
            data[channel.name] = np.full(minutes, 280.0)
        elif channel.kind == "air":
            data[channel.name] = np.full(minutes, 5.0)
        else:
            data[channel.name] = np.ones(minutes)
    return xr.Dataset({key: (dim, array) for key, array in data.items()})


def timed(config: StationConfig, resolved: Period, *parts: xr.Dataset) -> xr.Dataset:
    """Readings of all loggers with their true times."""
    return with_true_times(xr.merge(parts, join="exact", compat="identical"), resolved)
