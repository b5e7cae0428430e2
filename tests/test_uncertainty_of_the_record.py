"""The archived uncertainty reacts to the record: certificates, level checks, clock checks.

Every size is worked by hand from the archived values: what the record changes is the difference of
the squares of two archived uncertainties. (Accepted soiling: tests/run/test_accepting.py.)
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

import small_project
from sunledger.run.job import Choice, run

Project = Callable[..., Path]
MINUTE = "2031-06"
START = np.datetime64("2031-06-29", "s")
CLASS_C_LAG = 10.0
"""A third of 30 s, as the inventory states no response time. [s]"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Workflow of the small project that was run once; not to be changed."""
    return small_project.made_once(tmp_path_factory.getbasetemp())


def june(workflow: Path) -> xr.Dataset:
    """The two days of minutes that June has."""
    path = workflow.parent / "archive" / "tst" / "minute" / f"tst_minute_{MINUTE}.nc"
    with xr.open_dataset(path) as ds:
        return ds.sel(time=slice(START, None)).load()


def again(made: Path, folder: Path, change: Callable[[Path], None]) -> xr.Dataset:
    """June after a change of the record and another run."""
    workflow = small_project.copy_of(made, folder)
    stages = ["ingest", "calibrate", "time_correct", "qc_flag"]
    small_project.edit(workflow, "workflow", lambda w: w.update(stages=stages))
    change(workflow)
    _, outcomes = run(workflow, Choice(), lambda *_: None)
    assert not [o.error for o in outcomes if o.done == "failed"]
    return june(workflow)


def added(before: xr.Dataset, after: xr.Dataset, name: str) -> np.ndarray:
    """What the square of an uncertainty gained. [W2 m-4]"""
    old, new = (ds[f"{name}_uncertainty"].values.astype(float) for ds in (before, after))
    return np.asarray(new**2 - old**2)


def step(ds: xr.Dataset, name: str) -> np.ndarray:
    """How exactly the archived steps of 2**-7 W m-2 let a square be known."""
    return np.asarray(2 * 2.0**-7 * ds[f"{name}_uncertainty"].values.astype(float) + 1e-3)


def test_an_expired_calibration_grows(made: Path, tmp_path: Path) -> None:
    """0.8 % a year, rectangular: four years instead of one; only where the certificate is older."""

    def older(plain: dict[str, Any]) -> None:
        for unit in plain["instruments"]:
            if unit["serial_number"] == "NR-global_1":
                unit["calibrations"][0]["date"] = "2027-06-01"

    before = june(made)
    after = again(
        made, tmp_path / "p", lambda w: small_project.edit(w, "station/instruments", older)
    )
    time = before["time"].values.astype("M8[s]")
    years = [
        (time - np.datetime64(day, "s")).astype(float) / (365.25 * 86400)
        for day in ("2030-06-01", "2027-06-01")
    ]
    expected = 4 / 3 * (0.008 * before["ghi"].values) ** 2 * (years[1] ** 2 - years[0] ** 2)
    got = added(before, after, "ghi")
    known = np.isfinite(got)
    assert known.sum() > 2800
    assert (np.abs(got - expected) <= step(after, "ghi"))[known].all()
    assert got[known].max() > 1000.0
    np.testing.assert_array_equal(np.nan_to_num(added(before, after, "dhi")), 0.0)


def test_a_check_a_degree_off_enlarges_the_minutes_before_it(made: Path, tmp_path: Path) -> None:
    """Beam times sin z times the sine of the tilt, 1 degree in place of 0.1; none after."""
    before = june(made)
    check = small_project.level("lc-2", "2031-06-30 12:00", 1.0)
    after = again(made, tmp_path / "p", lambda w: small_project.note(w, check))
    zenith = np.radians(before["solar_zenith_angle"].values)
    ghi, dhi, dni = (before[q].values.astype(float) for q in ("ghi", "dhi", "dni"))
    rest = np.where(ghi > 5.0, (ghi - dhi) / np.maximum(np.cos(zenith), 0.1), 0.0)
    beam = np.maximum(np.fmax(dni, np.clip(rest, 0.0, 1000.0)), 0.0)
    sines = np.sin(np.radians([1.0, 0.1])) ** 2
    expected = 4 / 3 * (beam * np.sin(zenith)) ** 2 * (sines[0] - sines[1])
    earlier = before["time"].values < np.datetime64("2031-06-30T12:00")
    got = added(before, after, "ghi")
    lit = earlier & (beam > 200.0)
    assert lit.sum() > 100
    assert (np.abs(got - expected) <= step(after, "ghi") + 0.005 * expected)[lit].all()
    np.testing.assert_array_equal(got[~earlier], 0.0)
    assert np.median(got[lit]) > 30.0


def test_a_held_clock_error_grows_with_time(made: Path, tmp_path: Path) -> None:
    """Half a second a day since the last check, of the change of light; none between two checks."""
    last = small_project.clock("ck-2", "main", "2031-06-29 00:00", 0)
    closing = small_project.clock("ck-3", "main", "2031-07-02 00:00", 0)
    held = again(made, tmp_path / "held", lambda w: small_project.note(w, last))
    known = again(made, tmp_path / "known", lambda w: small_project.note(w, last, closing))
    value, low, high = (held[f"ghi{s}"].values.astype(float) for s in ("", "_min", "_max"))
    days = (held["time"].values.astype("M8[s]") - START).astype(float) / 86400
    apart = np.abs(np.diff(value))
    change = np.fmax(np.append(apart, 0.0), np.append(0.0, apart))
    change = np.fmax(change, high - low)
    offsets = CLASS_C_LAG + 1.0 + 0.5 * days, CLASS_C_LAG + 1.0
    expected = 4 / 3 * (change / 60.0) ** 2 * (offsets[0] ** 2 - offsets[1] ** 2)
    got = added(known, held, "ghi")
    inside = np.s_[1:-1]  # neighbours outside these two days are not at hand here
    slack = step(held, "ghi") + 0.02 * expected
    assert (np.abs(got - expected) <= slack)[inside].all()
    moving, share = change > 8.0, got / np.maximum(change, 1.0) ** 2
    assert np.median(share[moving & (days > 1)]) > np.median(share[moving & (days < 1)]) > 0
