"""Generated minutes with an invented record around them."""

from __future__ import annotations

from typing import Any

import numpy as np

import invented
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.diagnosis.selection import Components

MONTH = "2031-08"
START = int(np.datetime64("2031-08-01", "s").astype(int))


def recorded(parts: Components, entries: list[dict[str, Any]] | None = None) -> DiagnosedMonth:
    """A month as the checks get it."""
    site = {
        "latitude": parts.latitude,
        "longitude": parts.longitude,
        "altitude": parts.altitude,
    }
    config = invented.station_config(entries=entries, **site)
    return DiagnosedMonth(MONTH, config, invented.period(config, START, 30), parts)


def cleaning(day: int) -> dict[str, Any]:
    """Domes cleaned at the start of a day of the month, from 0."""
    time = str(np.datetime64(START + 86400 * day, "s")).replace("T", " ")
    return {
        "id": f"fl-clean-{day}",
        "type": "cleaning",
        "time": time[:16],
        "positions": ["global_1", "diffuse_1", "direct_1"],
        "found": "dusty",
        "role": "technician",
    }
