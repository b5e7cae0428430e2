"""A logger whose clock drifts and is set: what it writes, and when that truly was.

Written without the package's own clock arithmetic, so that the two can be compared.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import xarray as xr

from invented import MARCH, readings
from sunledger.config.loading import StationConfig


@dataclass(frozen=True)
class Stretch:
    """True time from start to end, in which the clock's error runs from one value to another."""

    start: int
    end: int
    error_start: float
    error_end: float


def written(
    stretches: list[Stretch], shift: int = 0, interval: int = 60
) -> tuple[np.ndarray, np.ndarray]:
    """Labels in file order, and the true starts; an interval that a setting cuts is not written."""
    labels, true = [], []
    for s in stretches:
        first, last = s.start + s.error_start, s.end + s.error_end
        starts = np.arange(-(-first // interval) * interval, last - interval + 1e-6, interval)
        share = (starts - first) / (last - first)
        labels.append(np.round(starts).astype(np.int64) + shift)
        true.append(s.start + share * (s.end - s.start))
    return np.concatenate(labels), np.concatenate(true)


def clock_entries(stretches: list[Stretch], logger: str = "main") -> list[dict[str, Any]]:
    """The clock checks that somebody noted at the ends of the stretches."""
    ends = [(s.end, s.error_end, n.error_start) for s, n in pairwise(stretches)]
    first, last = stretches[0], stretches[-1]
    rows = [(first.start, first.error_start, None), *ends, (last.end, last.error_end, None)]
    return [
        {
            "id": f"clock-{logger}-{i}",
            "type": "clock_check",
            "time": time,
            "logger": logger,
            "found": found,
            "left": left,
            "role": "technician",
        }
        for i, (time, found, left) in enumerate(rows)
    ]


def encoded(true_start: np.ndarray) -> np.ndarray:
    """A global irradiance that says when its reading began."""
    return 200.0 + (true_start - MARCH) / 3600.0


def decoded(irradiance: np.ndarray) -> np.ndarray:
    """When the reading with this irradiance began. [s]"""
    return MARCH + (irradiance - 200.0) * 3600.0


def clocked_readings(
    config: StationConfig, stretches: list[Stretch], name: str = "main"
) -> tuple[xr.Dataset, np.ndarray]:
    """Readings of a free clock whose global irradiance says when each began, and the truth."""
    item = config.station.loggers[name]
    shift = item.utc_offset + (item.interval if item.label == "end" else 0)
    labels, true = written(stretches, shift, item.interval)
    ds = readings(config, name, minutes=labels.size, values={"global_1": encoded(true)})
    return ds.assign({f"logger_time_{name}": (f"reading_{name}", labels)}), true
