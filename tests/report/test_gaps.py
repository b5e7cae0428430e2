"""Gaps by cause: each missing minute has one cause, the first that the record gives."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from sunledger.report.gaps import CAUSES, causes_of_gaps, lines_seen
from sunledger.report.month import StationMonth, station_month
from sunledger.report.wiring import Wiring
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


def test_an_instrument_exchanged_for_a_spare_and_calibrated_later() -> None:
    """The certificate may come after the spare was put up, but before it stands again."""
    ds = minutes(slice(10, 40), CONDITIONS["no_deployment"].mask)
    stood = {
        "quantity": ["ghi", "ghi", "dhi"],
        "serial_number": ["A", "B", "C"],
        "deployment_start": [0.0, T0 + 2400.0, T0 + 900.0],
        "deployment_end": [T0 + 600.0, np.nan, np.nan],
    }
    certified = {"certified_serial_number": ["A"], "calibration_time": [T0 + 86400.0]}
    both = month(ds, deployment=stood, calibration=certified)
    assert causes_of_gaps(both, "ghi") == {"calibration": 30}
    stood["serial_number"][1] = "A"  # it stood again before it was calibrated
    both = month(ds, deployment=stood, calibration=certified)
    assert causes_of_gaps(both, "ghi") == {"removed": 30}


def silent(supply: dict[int, float]) -> xr.Dataset:
    """An hour in which no line came in minutes 0-4, 20-29 and 55-59; the supply is 13 V."""
    ds = minutes(slice(0, 0))
    came = np.ones(60, bool)
    came[[*range(5), *range(20, 30), *range(55, 60)]] = False
    volts = np.where(came, 13.0, np.nan)
    for at, value in supply.items():
        volts[at] = value
    ds["clock_residual_main"] = ("time", np.where(came, 0.0, np.nan))
    ds["supply_voltage"] = ("time", volts)
    return ds


@pytest.mark.parametrize(
    ("supply", "low", "good"),
    [({}, 0, 10), ({19: 11.0}, 10, 0), ({30: 11.0}, 10, 0), ({19: np.nan}, 0, 0), ({18: 9}, 0, 10)],
)
def test_supply_beside_a_stretch_without_lines(
    supply: dict[int, float], low: int, good: int
) -> None:
    """The readings next to the stretch decide; before the first and after the last, neither."""
    lines = lines_seen(silent(supply), Wiring("main", 11.5))
    assert np.flatnonzero(lines.outside).tolist() == [*range(5), *range(55, 60)]
    assert (int(lines.low_supply.sum()), int(lines.good_supply.sum())) == (low, good)
    assert int(lines.silent.sum()) == 20


def test_without_a_watched_supply_nothing_is_said_of_power() -> None:
    lines = lines_seen(silent({19: 1.0}), Wiring("main", None))
    assert not lines.low_supply.any()
    assert not lines.good_supply.any()
    for wiring in (None, Wiring("other", 11.5)):
        assert not lines_seen(silent({}), wiring).silent.any()


def test_causes_of_the_sample(sample_folder: Path) -> None:
    """The power failure of the field log, and what lies outside the raw files, are told apart."""
    archive = sample_folder / "build" / "sample_archive"
    found = causes_of_gaps(station_month(archive, "osr", "2031-03"), "ghi")
    assert found["power"] == 264
    assert found["not begun or ended"] > 30000
    assert "unknown" not in found
