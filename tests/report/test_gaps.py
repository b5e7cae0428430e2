"""Gaps by cause: each missing minute has one cause, the first that the record gives."""

from __future__ import annotations

from typing import Any

import numpy as np
import xarray as xr

from sunledger.report.gaps import CAUSES, causes_of_gaps
from sunledger.report.month import StationMonth
from sunledger.vocabulary import CONDITIONS

T0 = 1932768000


def month(ds: xr.Dataset | None, **tables: Any) -> StationMonth:
    """A month with nothing but minutes and tables."""
    return StationMonth("osr", "2031-04", "t", None, ds, tables, {}, None, (), (), {})


def minutes(missing: slice, conditions: int = 0) -> xr.Dataset:
    """An hour of which a part is missing."""
    ghi = np.ones(60)
    ghi[missing] = np.nan
    word = np.full(60, conditions, np.int32)
    series = {"ghi": ("time", ghi), "ghi_conditions": ("time", word)}
    return xr.Dataset(series, {"time": T0 + 60 * np.arange(60)}, {"interval": 60})


def events(kind: str, start: int, end: float) -> dict[str, Any]:
    """One event of the field log; start and end in minutes."""
    span = {"event_start": [T0 + 60.0 * start], "event_end": [T0 + 60.0 * end]}
    return {"event_type": [kind], **span}


def test_unexplained_minutes_are_unknown() -> None:
    """Without a record nothing is claimed."""
    assert causes_of_gaps(month(minutes(slice(10, 20))), "ghi") == {"unknown": 10}
    assert causes_of_gaps(month(None), "ghi") == {}
    assert causes_of_gaps(month(minutes(slice(0, 0))), "ghi") == {}


def test_a_power_failure_explains_its_own_minutes_only() -> None:
    """From a minute before its start to its end; the rest stays unknown."""
    found = causes_of_gaps(month(minutes(slice(10, 20)), event=events("power", 12, 15)), "ghi")
    assert found == {"power": 4, "unknown": 6}


def test_visit_cable_line_and_clock_are_told_apart() -> None:
    """Conditions and events name the cause; sums hold."""
    assert causes_of_gaps(month(minutes(slice(3), CONDITIONS["line_rejected"].mask)), "ghi") == {
        "line": 3
    }
    assert causes_of_gaps(month(minutes(slice(3), CONDITIONS["interval_emptied"].mask)), "ghi") == {
        "clock": 3
    }
    for kind, cause in (("visit", "visit"), ("cable", "link")):
        found = causes_of_gaps(month(minutes(slice(3)), event=events(kind, 0, 30)), "ghi")
        assert found == {cause: 3}
    assert set(found) <= set(CAUSES)


def test_an_instrument_taken_down_for_calibration() -> None:
    """A certificate dated between removal and the next deployment; without one, just removed."""
    ds = minutes(slice(10, 40), CONDITIONS["no_deployment"].mask)
    stood = {
        "quantity": ["ghi", "ghi"],
        "serial_number": ["A", "A"],
        "deployment_start": [0.0, T0 + 2400.0],
        "deployment_end": [T0 + 600.0, np.nan],
    }
    certified = {"certified_serial_number": ["A"], "calibration_time": [T0 + 1200.0]}
    both = month(ds, deployment=stood, calibration=certified)
    assert causes_of_gaps(both, "ghi") == {"calibration": 30}
    other = certified | {"certified_serial_number": ["B"]}
    assert causes_of_gaps(month(ds, deployment=stood, calibration=other), "ghi") == {"removed": 30}
