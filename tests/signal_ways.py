"""An invented station whose global passes a multiplexer and the logger, with their certificates."""

from __future__ import annotations

from typing import Any

from invented import KINDS, deployment, instrument, logger, station_config
from sunledger.config.loading import StationConfig


def device(serial: str, kind: str, *certificates: tuple[str, float, float]) -> dict[str, Any]:
    """A device with certificates of input 1: date, gain, zero."""
    rows = [
        {
            "input": "1",
            "certificate": f"{serial}-{date}",
            "date": date,
            "laboratory": "own",
            "traceability": "SI",
            "gain": gain,
            "zero": zero,
            "expanded_uncertainty": 0.02,
        }
        for date, gain, zero in certificates
    ]
    return {"serial_number": serial, "kind": kind, "inputs": rows}


def station(*devices: dict[str, Any], entries: list[dict[str, Any]] | None = None) -> StationConfig:
    """A global whose signal passes a multiplexer and the logger."""
    via = [{"place": "box", "input": "1"}, {"place": "main", "input": "1"}]
    rows = [
        {"column": "g", "position": "global_1", "quantity": "ghi", "unit": "mV", "via": via},
        {"column": "d", "position": "diffuse_1", "quantity": "dhi", "unit": "mV"},
    ]
    every = [instrument(p) for p in KINDS]
    return station_config(
        {"main": logger((), channels=rows)}, every + list(devices), entries=entries
    )


LOGGER = device("NR-LG-1", "logger", ("2030-01-01", 1.001, 2.0), ("2031-02-01", 1.002, 3.0))
BOX = device("NR-MX-1", "multiplexer", ("2030-01-01", 0.999, 1.0))
UP = deployment("box", instrument="NR-MX-1")
