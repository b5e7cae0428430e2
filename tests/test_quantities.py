"""Quantities beyond the basic three: from volts to the file, by nothing but a row of the words."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import cf_xarray  # noqa: F401 - registers the accessor
import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose
from pydantic import ValidationError

import hand_minutes
import invented
from archive.samples import ENTRY
from sunledger.archive.netcdf import write_file
from sunledger.archive.products import FileContext, Origin, issued, minute_file
from sunledger.config.models.instruments import Instrument
from sunledger.stages.aggregate import aggregate
from sunledger.stages.calibrate import calibrate
from sunledger.stages.qc_flag import qc_flag
from sunledger.stages.time_correct import time_correct
from sunledger.vocabulary import LINEAR, QUANTITIES, RADIOMETRIC, TESTS

MORE = {
    "gti": ("array_1", "thermopile_pyranometer", 9.0),
    "uv": ("uv_1", "ultraviolet_sensor", 200.0),
    "ppfd": ("light_1", "photosynthetic_sensor", 8.0),
    "swu": ("reflected_1", "thermopile_pyranometer", 9.5),
}
_SIX = [
    {"column": q, "position": f"{q}_1", "quantity": q, "unit": "mV"} for q in hand_minutes.VALUES
]
LEVELS = {"gti": 700.0, "uv": 30.0, "ppfd": 1200.0, "swu": 90.0}


def sensor(quantity: str) -> dict[str, Any]:
    """The instrument of a quantity with its certificate."""
    position, kind, sensitivity = MORE[quantity]
    unit = "uV umol-1 m2 s" if quantity == "ppfd" else "uV W-1 m2"
    paper = invented.certificate("global_1", sensitivity={"as_left": sensitivity, "unit": unit})
    return {"serial_number": f"NR-{position}", "kind": kind, "calibrations": [paper]}


def station() -> Any:
    """The invented station with four more sensors."""
    rows = invented.channels(tuple(invented.KINDS))
    entries = []
    for quantity, (position, *_) in MORE.items():
        more = {"column": position, "position": position, "quantity": quantity, "unit": "uV"}
        rows.append(more)
        rows.append(more | {"column": f"{position}_s", "statistic": "std"})
        entries.append(invented.deployment(position))
    rows.append({"column": "wind", "quantity": "wind_speed", "unit": "m s-1"})
    every = [invented.instrument(p) for p in invented.KINDS] + [sensor(q) for q in MORE]
    loggers = {"main": invented.logger((), channels=rows)}
    return invented.station_config(loggers, every, entries)


@pytest.fixture(scope="module")
def made() -> tuple[xr.Dataset, Any, Any]:
    """Flagged minutes of a day."""
    config = station()
    resolved = invented.period(config)
    values = {position: np.zeros(1440) for position, *_ in MORE.values()}
    invented_sensitivity = {p: s for p, _, s in MORE.values()}
    before = dict(invented.SENSITIVITY)
    invented.SENSITIVITY.update(invented_sensitivity)
    try:
        ds = invented.readings(config, values=values)
    finally:
        invented.SENSITIVITY.clear()
        invented.SENSITIVITY.update(before)
    for quantity, (position, _, sensitivity) in MORE.items():
        wave = LEVELS[quantity] * (1 + 0.1 * np.sin(np.arange(1440) / 31.0))
        ds[f"{position}_mean"].values[:] = wave * sensitivity
    ds = invented.timed(config, resolved, ds)
    return qc_flag(time_correct(calibrate(ds, resolved), resolved), resolved), config, resolved


@pytest.mark.parametrize("quantity", list(MORE))
def test_volts_over_sensitivity(made: tuple[xr.Dataset, Any, Any], quantity: str) -> None:
    """Calibrated, with an uncertainty of some percent, tested for what needs no sky."""
    ds = made[0]
    wave = LEVELS[quantity] * (1 + 0.1 * np.sin(np.arange(1440) / 31.0))
    assert_allclose(ds[quantity], wave, rtol=1e-12)
    relative = ds[f"{quantity}_uncertainty"].values / wave
    assert ((relative > 0.01) & (relative < 0.25)).all()
    tested = ds[f"{quantity}_tested"].values
    assert (tested & TESTS["missing"].mask).all()
    assert (tested & TESTS["over_range"].mask).all()
    if quantity in LINEAR:
        assert not (tested & TESTS["above_physical_maximum"].mask).any()


def test_in_the_file(made: tuple[xr.Dataset, Any, Any], tmp_path: Path) -> None:
    """Units, names and instruments stand in the minute file."""
    ds, config, resolved = made
    origin = Origin((("a.csv", "0" * 64, 1),), {})
    day = (invented.MARCH, invented.MARCH + invented.DAY)
    context = FileContext(invented.network(), config, resolved, "2031-03", *day, origin)
    path = tmp_path / "minutes.nc"
    write_file(path, issued(minute_file(ds, context), ENTRY))
    with xr.open_dataset(path) as found:
        for quantity in MORE:
            assert found[quantity].attrs["units"] == QUANTITIES[quantity].units
            assert_allclose(found[quantity], ds[quantity], atol=QUANTITIES[quantity].resolution)
            assert f"{quantity}_grade" in found
        assert "photosynthetic sensor" in found.attrs["instrument"]
        assert "wind_speed" in found


def test_hourly_means(made: tuple[xr.Dataset, Any, Any]) -> None:
    """Means follow from the minutes like any other."""
    ds, _, resolved = made
    hours = aggregate(ds, resolved, "hourly")
    for quantity in LINEAR:
        expected = ds[quantity].values.reshape(24, 60).mean(axis=1)
        assert_allclose(hours[quantity], expected, rtol=1e-12)


def test_every_row_says_what_can_measure_it() -> None:
    """One row is all that a new quantity needs."""
    for name in RADIOMETRIC:
        assert QUANTITIES[name].sensor
        assert QUANTITIES[name].kinds


@pytest.mark.parametrize(
    ("kind", "unit"),
    [("photosynthetic_sensor", "uV W-1 m2"), ("pyrheliometer", "uV umol-1 m2 s")],
)
def test_unit_of_the_sensitivity_goes_with_the_kind(kind: str, unit: str) -> None:
    paper = invented.certificate("global_1", sensitivity={"as_left": 8.0, "unit": unit})
    with pytest.raises(ValidationError, match=rf"for a {kind} \(got '{unit}'\)"):
        Instrument.model_validate({"serial_number": "X", "kind": kind, "calibrations": [paper]})


@pytest.mark.parametrize(("quantity", "scale"), [("gti", 1.0), ("uv", 0.04), ("ppfd", 2.0)])
def test_other_sensors_of_light_are_found_reversed_and_stuck(quantity: str, scale: float) -> None:
    """In proportion to shortwave: -31 W m-2 is a reversed channel, -29 is not; 20 minutes stuck."""
    ds = hand_minutes.quiet_minutes(60)
    light = np.full(60, 300.0 * scale)
    light[:3] = np.array([-31.0, -2.1, -1.9]) * scale
    light[30] = -29.0 * scale
    ds[quantity] = ("time", light)
    ds[f"{quantity}_fingerprint"] = ("time", np.where(np.arange(60) < 35, np.arange(60.0), 7.5))
    ds[f"{quantity}_conditions"] = ("time", np.zeros(60, np.int32))
    ds[f"{quantity}_over_range"] = ("time", np.zeros(60, bool))
    channel = {"column": "x", "position": "x_1", "quantity": quantity, "unit": "mV"}
    config = invented.station_config({"main": invented.logger((), channels=[*_SIX, channel])})
    out = qc_flag(ds, invented.period(config))
    reversed_ = hand_minutes.where(out, quantity, "polarity_reversed")
    assert np.flatnonzero(reversed_).tolist() == [0, 1, 30]
    assert np.flatnonzero(hand_minutes.where(out, quantity, "stuck_value")).tolist() == list(
        range(35, 60)
    )
    assert hand_minutes.where(out, quantity, "stuck_value", "tested").sum() == 56
    assert out[quantity].values[0] == -31.0 * scale  # found, not inverted
    light[0] = -29.0 * scale
    again = qc_flag(ds.assign({quantity: ("time", light)}), invented.period(config))
    assert not hand_minutes.where(again, quantity, "polarity_reversed").any()
