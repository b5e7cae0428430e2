"""Generated minutes with an invented record around them."""

from __future__ import annotations

from typing import Any

import numpy as np

import invented
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.diagnosis.selection import Components

START = int(np.datetime64("2031-08-01", "s").astype(int))


def recorded(
    parts: Components,
    entries: list[dict[str, Any]] | None = None,
    start: int = START,
    instruments: list[dict[str, Any]] | None = None,
) -> DiagnosedMonth:
    """A month as the checks get it."""
    site = {
        "latitude": parts.latitude,
        "longitude": parts.longitude,
        "altitude": parts.altitude,
    }
    config = invented.station_config(entries=entries, instruments=instruments, **site)
    name = str(np.datetime64(start, "s"))[:7]
    return DiagnosedMonth(name, config, invented.period(config, start, 30), parts)


def written(time: int) -> str:
    """As a field log has it."""
    return str(np.datetime64(time, "s")).replace("T", " ")[:16]


def exchanged_global(day: float, start: int = START) -> list[dict[str, Any]]:
    """Another global pyranometer put up at the start of a day; it is in ``TWO_GLOBALS``."""
    time = written(start + round(86400 * day))
    role = {"role": "technician"}
    return [
        {"id": "fl-down", "type": "removal", "time": time, "deployment": "dep-global_1"} | role,
        invented.deployment("global_1", id="fl-up", instrument="NR-other", **{"from": time}) | role,
    ]


TWO_GLOBALS = [
    *(invented.instrument(p) for p in invented.SENSITIVITY),
    invented.instrument("global_1", serial_number="NR-other"),
]


def cleaning(day: float, start: int = START) -> dict[str, Any]:
    """Domes cleaned at the start of a day of the month, from 0."""
    time = written(start + round(86400 * day))
    return {
        "id": f"fl-clean-{day}".replace(".", "-"),
        "type": "cleaning",
        "time": time,
        "positions": ["global_1", "diffuse_1", "direct_1"],
        "found": "dusty",
        "role": "technician",
    }
