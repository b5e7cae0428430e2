"""The real month (tests/published/payerne_2016_06.csv.xz) as a station with invented wiring.

The published irradiances are turned back into voltages with invented sensitivities, a raw table
layout and an invented station folder, so that the whole pipeline can be run on them.
"""

from __future__ import annotations

import json
import lzma
from functools import cache
from pathlib import Path

import pandas as pd

PUBLISHED = Path(__file__).parent / "published" / "payerne_2016_06.csv.xz"
SIGMA = 5.670374419e-8  # CODATA 2018
SENSITIVITY = {"ghi": 8.31, "dhi": 9.17, "dni": 7.77, "lwd": 4.05}  # invented
POSITION = {"ghi": "global_1", "dhi": "diffuse_1", "dni": "direct_1", "lwd": "sky_1"}
KIND = {
    "ghi": "thermopile_pyranometer",
    "dhi": "thermopile_pyranometer",
    "dni": "pyrheliometer",
    "lwd": "pyrgeometer",
}
DECIMALS = 5  # of a millivolt: 0.001 W m-2
CONTACT = {
    "role": "tests",
    "institution": "Northmere (invented)",
    "email": "a@example.org",
    "url": "https://example.org",
}


@cache
def published() -> pd.DataFrame:
    """Published values, one row a minute from 2016-06-01 00:00 UTC."""
    with lzma.open(PUBLISHED, "rt") as handle:
        table = pd.read_csv(handle, comment="#")
    table.index = pd.date_range("2016-06-01", periods=len(table), freq="min")
    return table


def voltages(table: pd.DataFrame) -> pd.DataFrame:
    """Columns of the logger's table: millivolts, temperatures, humidity, pressure."""
    out = pd.DataFrame(index=table.index)
    body = table["temp_air"] + 273.15
    for quantity, sensitivity in SENSITIVITY.items():
        for suffix in ("", "_min", "_max", "_std"):
            value = table[quantity + suffix]
            if quantity == "lwd" and suffix != "_std":
                value = value - SIGMA * body**4
            out[quantity + suffix] = (value * sensitivity / 1000).round(DECIMALS)
    out["tb"], out["ta"] = table["temp_air"], table["temp_air"]
    out["rh"], out["pa"] = table["relative_humidity"], table["pressure"]
    return out


def _channels() -> list[dict[str, object]]:
    statistics = {"": "mean", "_min": "min", "_max": "max", "_std": "std"}
    rows: list[dict[str, object]] = [
        {"column": q + s, "position": POSITION[q], "quantity": q, "unit": "mV", "statistic": word}
        for q in SENSITIVITY
        for s, word in statistics.items()
    ]
    return [
        *rows,
        {"column": "tb", "position": "sky_1", "sensor": "body_temperature", "unit": "degC"},
        {"column": "ta", "quantity": "air_temperature", "unit": "degC"},
        {"column": "rh", "quantity": "relative_humidity", "unit": "%"},
        {"column": "pa", "quantity": "air_pressure", "unit": "hPa"},
    ]


def _certificate(quantity: str) -> dict[str, object]:
    plain: dict[str, object] = {
        "certificate": f"X-{quantity}",
        "date": "2016-01-01",
        "sensitivity": {"as_left": SENSITIVITY[quantity], "unit": "uV W-1 m2"},
        "expanded_uncertainty": 1.0,
        "method": "invented",
        "reference_scale": "WRR",
        "traceability": "invented",
        "laboratory": "invented",
    }
    return plain | ({"longwave": {"equation": "simple"}} if quantity == "lwd" else {})


def _station() -> dict[str, object]:
    return {
        "id": "pay",
        "name": "Real month (wiring invented)",
        "description": "A published month turned back into voltages.",
        "latitude": 46.815,
        "longitude": 6.944,
        "altitude": 491.0,
        "licence": "see tests/published",
        "contact": CONTACT,
        "site": [{"from": "2016-01-01", "surface": "grass"}],
        "loggers": {
            "main": {
                "serial_number": "X-LG",
                "files": ["*.csv"],
                "layouts": [
                    {
                        "time": {"columns": ["stamp"], "format": "%Y-%m-%d %H:%M:%S"},
                        "missing": ["NAN", ""],
                    }
                ],
                "utc_offset": "+00:00",
                "interval": 60,
                "label": "start",
                "clock": {"discipline": "time_signal", "bound": 1.0},
                "channels": _channels(),
            }
        },
    }


def _entries() -> list[dict[str, object]]:
    return [
        {
            "id": f"dep-{q}",
            "type": "deployment",
            "from": "2016-02-01",
            "instrument": f"X-{q}",
            "position": POSITION[q],
            "role": "tests",
            "ventilated": True,
            "shade": "disc" if q in ("dhi", "lwd") else "none",
        }
        for q in SENSITIVITY
    ]


def write_project(folder: Path, table: pd.DataFrame | None = None) -> Path:
    """Raw file, station folder and workflow of the real month; returns the workflow file.

    JSON is YAML in which every text is quoted.
    """
    raw, station = folder / "raw", folder / "station"
    raw.mkdir(parents=True)
    station.mkdir()
    logged = voltages(published() if table is None else table)
    logged.index.name = "stamp"
    logged.to_csv(
        raw / "month.csv",
        na_rep="NAN",
        date_format="%Y-%m-%d %H:%M:%S",
        float_format=f"%.{DECIMALS}f",
    )
    instruments = [
        {
            "serial_number": f"X-{q}",
            "kind": KIND[q],
            "iso_class": None if q == "lwd" else "A",
            "calibrations": [_certificate(q)],
        }
        for q in SENSITIVITY
    ]
    instruments.append({"serial_number": "X-LG", "kind": "logger"})
    files = {
        "station": _station(),
        "instruments": {"instruments": instruments},
        "fieldlog": {"entries": _entries()},
        "review": {"decisions": []},
    }
    for name, content in files.items():
        (station / f"{name}.yaml").write_text(json.dumps(content))
    configs = Path(__file__).resolve().parent.parent / "configs"
    workflow = {
        "network": str(configs / "network.yaml"),
        "processing": str(configs / "processing.yaml"),
        "stations": ["station"],
        "raw": "raw",
        "archive": "archive",
        "workers": 1,
        "months": {"first": "2016-06", "last": "2016-06"},
        "as_of": "2016-08-01",
    }
    path = folder / "workflow.yaml"
    path.write_text(json.dumps(workflow))
    return path
