"""Corrections: every instrument there and back with all of them, their order, what they record."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose, assert_array_equal

from invented import (
    KINDS,
    MARCH,
    SENSITIVITY,
    certificate,
    channels,
    deployment,
    instrument,
    logger,
    period,
    readings,
    station_config,
    timed,
)
from sunledger.config.loading import StationConfig
from sunledger.config.models.fieldlog import FieldLog
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import Period
from sunledger.physics.longwave import STEFAN_BOLTZMANN
from sunledger.physics.shade_band import hidden_share, solar_declination
from sunledger.physics.sun import solar_position
from sunledger.stages.budgets import components_of
from sunledger.stages.calibrate import calibrate, recorded_steps
from sunledger.stages.correction_steps import applied_steps
from sunledger.stages.time_correct import time_correct
from sunledger.vocabulary import CONDITIONS, CORRECTIONS

GAIN, ZERO = 1.002, 4.0
"""Of the logger's input; zero in microvolts."""
POLYNOMIAL = {"coefficients": [-4e-4, 3e-6], "lowest": -30.0, "highest": 50.0}
LINEARITY = [[0.0, 0.4], [500.0, 0.0], [1500.0, -0.8]]
DIRECTIONS = {
    "zeniths": [0.0, 60.0, 90.0],
    "azimuths": [0.0, 120.0, 240.0],
    "percent": [[0.0, 0.0, 0.0], [1.0, -1.0, 2.0], [4.0, -3.0, 5.0]],
}
MARK = 30.0
NET_FACTOR, CONSTANT, DOME_FACTOR = 0.02, -0.3, 0.1
BAND = {
    "correction": "isotropic",
    "width": 60.0,
    "radius": 300.0,
    "anisotropy": 1.03,
    "expanded_uncertainty": 4.0,
}
BODY = 290.0
FULL_CERTIFICATE: dict[str, Any] = {
    "temperature_polynomial": POLYNOMIAL,
    "non_linearity": LINEARITY,
    "directional_response": DIRECTIONS,
    "offset_in_responsivity": "removed",
}
OFFSET = {
    "method": "pyrgeometer",
    "beside": "sky_1",
    "constant": CONSTANT,
    "net_longwave": NET_FACTOR,
    "dome_excess": DOME_FACTOR,
}


def with_path(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Signals pass an input of the logger."""
    via = [{"place": "main", "input": "1"}]
    return [row | ({"via": via} if "quantity" in row and "position" in row else {}) for row in rows]


def sensors(position: str) -> list[dict[str, Any]]:
    """Body and dome sensor of a position."""
    return [
        {"column": f"{position}_{s}", "position": position, "sensor": s, "unit": "K"}
        for s in ("body_temperature", "dome_temperature")
    ]


def corrected_station(**certificates: dict[str, Any]) -> StationConfig:
    """The invented station with every correction that its instruments can have."""
    shared = {k: v for k, v in FULL_CERTIFICATE.items() if k != "directional_response"}
    changes = {
        "global_1": FULL_CERTIFICATE,
        "diffuse_1": shared,
        "direct_1": {k: shared[k] for k in ("temperature_polynomial", "non_linearity")},
        "sky_1": {"temperature_polynomial": POLYNOMIAL},
    }
    every = [instrument(p, certificate(p, **(changes[p] | certificates.get(p, {})))) for p in KINDS]
    every[0]["thermal_offset"] = OFFSET
    every.append(
        {
            "serial_number": "NR-LG-1",
            "kind": "logger",
            "inputs": [
                {
                    "input": "1",
                    "certificate": "NC-LG",
                    "date": "2030-01-01",
                    "laboratory": "own",
                    "traceability": "SI",
                    "gain": GAIN,
                    "zero": ZERO,
                }
            ],
        }
    )
    rows = [c for c in channels(tuple(KINDS)) if c.get("sensor") is None]
    rows += [s for p in KINDS for s in sensors(p)]
    config = station_config({"main": logger((), channels=with_path(rows))}, every)
    stands = {
        "global_1": {"mark_azimuth": MARK},
        "diffuse_1": {"shade": "band", "band": BAND},
    }
    entries = [deployment(p, **stands.get(p, {})) for p in KINDS]
    log = FieldLog.model_validate({"entries": entries})
    return StationConfig(config.station, config.inventory, log, config.review)


@dataclass
class Sky:
    """True irradiances and temperatures along the minutes of a day."""

    start: np.ndarray
    values: dict[str, np.ndarray]
    dome: np.ndarray

    @property
    def sun(self) -> Any:
        """At the middle of the minutes."""
        return solar_position(self.start + 30.0, 46.9, 10.2, 2000.0)


def sky_of_a_day() -> Sky:
    """Light that varies, a dome that is cooler than the body."""
    start = MARCH + 60.0 * np.arange(1440)
    x = np.arange(1440)
    values = {
        "global_1": 400.0 + 300 * np.sin(x / 37.0),
        "diffuse_1": 120.0 + 100 * np.sin(x / 23.0),
        "direct_1": 500.0 + 450 * np.sin(x / 41.0),
        "sky_1": 300.0 + 50 * np.sin(x / 57.0),
    }
    return Sky(start, values, BODY - 0.5 - 0.3 * np.sin(x / 91.0))


def bilinear(zenith: np.ndarray, azimuth: np.ndarray) -> np.ndarray:
    """The directional table by hand, with an interpolation of its own."""
    table = np.array(DIRECTIONS["percent"])
    columns = [np.interp(zenith, DIRECTIONS["zeniths"], table[:, k % 3]) for k in range(4)]
    a = (azimuth - MARK) % 360.0
    cell = np.minimum((a // 120).astype(int), 2)
    share = a / 120 - cell
    stack = np.stack(columns)
    n = np.arange(a.size)
    return (stack[cell, n] * (1 - share) + stack[cell + 1, n] * share) / 100.0


def volts(sky: Sky, position: str, truth: np.ndarray) -> np.ndarray:
    """What the logger writes [mV]: the corrections backwards, each by its definition."""
    warm = 1 + np.polyval([3e-6, -4e-4, 0.0], BODY - 273.15 - 20.0)
    sensitivity = SENSITIVITY[position]
    emission, dome = STEFAN_BOLTZMANN * BODY**4, STEFAN_BOLTZMANN * sky.dome**4
    value = truth
    if position == "diffuse_1":
        declination = solar_declination(sky.sun.zenith, sky.sun.azimuth, 46.9)
        value = value * (1 - hidden_share(declination, 46.9, 0.2)) / 1.03
    if position == "global_1":
        mu = np.maximum(np.cos(np.radians(sky.sun.zenith)), 0.0)
        deviation = bilinear(sky.sun.zenith, sky.sun.azimuth)
        value = value + np.maximum(sky.values["direct_1"], 0) * mu * deviation
    if position != "sky_1":
        percent = np.interp(value, *np.transpose(LINEARITY))
        value = value * (1 + percent / 100)
    else:
        value = value - emission
    signal = value * sensitivity * warm
    if position == "global_1":
        net = sky.values["sky_1"] - emission  # thermopile term
        offset = CONSTANT + NET_FACTOR * net + DOME_FACTOR * (dome - emission)
        signal = signal + offset * sensitivity
    return (signal / GAIN + ZERO) / 1000.0


def logged(config: StationConfig, sky: Sky) -> xr.Dataset:
    """Readings of the day."""
    ds = readings(config)
    for position, truth in sky.values.items():
        for statistic, shift in (("mean", 0.0), ("min", -20.0), ("max", 20.0)):
            ds[f"{position}_{statistic}"].values[:] = volts(sky, position, truth + shift)
        ds[f"{position}_body_temperature"].values[:] = BODY
        ds[f"{position}_dome_temperature"].values[:] = sky.dome
    return ds


def day(**settings: Any) -> tuple[xr.Dataset, xr.Dataset, Period, Sky]:
    """Readings and calibrated readings of the day with all corrections."""
    config, sky = corrected_station(), sky_of_a_day()
    processing = Processing.model_validate({"calibrate": settings})
    resolved = period(config, processing=processing)
    ds = timed(config, resolved, logged(config, sky))
    return ds, calibrate(ds, resolved), resolved, sky


@pytest.mark.parametrize("position", list(KINDS))
def test_there_and_back_with_every_correction(position: str) -> None:
    """Irradiance to volts to irradiance to 1e-9, mean, minimum and maximum."""
    _, out, _, sky = day()
    for suffix, shift in (("", 0.0), ("_min", -20.0), ("_max", 20.0)):
        truth = sky.values[position] + shift
        assert_allclose(out[f"{position}{suffix}"], truth, rtol=0, atol=1e-9)
    assert not (out[f"{position}_conditions"].values & ~0).any()


def test_order_is_the_fixed_one_and_steps_join() -> None:
    """Each step begins where the one before it ended; the last is the calibrated value."""
    ds, out, resolved, _ = day()
    steps = recorded_steps(ds, resolved, resolved.loggers[0], "global_1")
    names = [s.name for s in steps]
    assert names == [n for n in CORRECTIONS if n != "sky_obstruction"]
    for one, other in pairwise(steps):
        assert_allclose(one.after, other.before, rtol=0, atol=1e-12)
    assert_allclose(steps[-1].after, out["global_1"], rtol=0, atol=1e-12)
    raw = ds["global_1_mean"].values * 1000.0 / SENSITIVITY["global_1"]
    assert_allclose(steps[0].before, raw, rtol=1e-12)


def test_applied_steps_by_position() -> None:
    """Only what an instrument can have."""
    _, _, resolved, _ = day()
    got = {r.position: applied_steps(r, resolved) for r in resolved.coefficients}
    signal = ("logger_zero", "logger_gain")
    assert got["direct_1"] == (*signal, "temperature_response", "non_linearity")
    assert got["sky_1"] == (*signal, "temperature_response")
    assert got["diffuse_1"][-1] == "sky_obstruction"
    assert "directional_response" not in got["diffuse_1"]


def test_uncorrected_value_is_recovered() -> None:
    """Value less all kept corrections, on the grid of minutes, is signal over sensitivity."""
    ds, out, resolved, _ = day(keep_corrections=list(CORRECTIONS))
    minutes = time_correct(out, resolved)
    kept = [v for v in minutes if str(v).startswith("ghi_") and str(v).endswith("_correction")]
    assert len(kept) == len(CORRECTIONS) - 1
    raw = ds["global_1_mean"].values * 1000.0 / SENSITIVITY["global_1"]
    uncorrected = minutes["ghi"] - sum(minutes[v] for v in kept)
    assert_allclose(uncorrected, raw, rtol=0, atol=1e-9)


def test_nothing_is_kept_unasked() -> None:
    _, out, _, _ = day()
    assert not [v for v in out if str(v).endswith("_correction")]


@pytest.mark.parametrize("name", list(CORRECTIONS))
def test_each_can_be_left_out(name: str) -> None:
    """Then it is not among the steps, and the value differs."""
    others = [n for n in CORRECTIONS if n != name]
    _, out, resolved, sky = day(corrections=others)
    assert all(name not in applied_steps(r, resolved) for r in resolved.coefficients)
    position = "diffuse_1" if name == "sky_obstruction" else "global_1"
    assert np.abs(out[position].values - sky.values[position]).max() > 0.05


def test_without_direct_no_directional_correction() -> None:
    """By day the condition is set and the value stands without it; by night nothing is missing."""
    config, sky = corrected_station(), sky_of_a_day()
    resolved = period(config)
    ds = timed(config, resolved, logged(config, sky))
    ds["direct_1_mean"].values[:] = np.nan
    out = calibrate(ds, resolved)
    word = out["global_1_conditions"].values & CONDITIONS["correction_not_applied"].mask
    assert_array_equal(word != 0, np.cos(np.radians(sky.sun.zenith)) > 0)
    steps = recorded_steps(ds, resolved, resolved.loggers[0], "global_1")
    assert_allclose(steps[-1].after, steps[-1].before, rtol=0, atol=0)
    assert np.isfinite(out["global_1"].values).all()


def test_without_pyrgeometer_no_thermal_offset() -> None:
    config, sky = corrected_station(), sky_of_a_day()
    resolved = period(config)
    ds = timed(config, resolved, logged(config, sky))
    ds["sky_1_mean"].values[:10] = np.nan
    word = calibrate(ds, resolved)["global_1_conditions"].values
    marked = word & CONDITIONS["correction_not_applied"].mask
    assert np.flatnonzero(marked).tolist() == list(range(10))


def test_responsivity_that_absorbed_the_offset_is_not_corrected_for_it() -> None:
    """Reda et al. 2005: the plain component sum leaves the offset in the responsivity."""
    config = corrected_station(global_1={"offset_in_responsivity": "absorbed"})
    row = next(r for r in period(config).coefficients if r.position == "global_1")
    assert row.corrections.thermal_offset is None


def test_band_adds_its_own_uncertainty() -> None:
    """As the record states it, in the budget of the position."""
    _, _, resolved, _ = day()
    row = next(r for r in resolved.coefficients if r.position == "diffuse_1")
    (found,) = (c for c in components_of(row) if c.name == "sky_obstruction")
    assert (found.width, found.law, found.form) == (4.0, "normal", "signal")


def test_polynomial_outside_the_certificate() -> None:
    """Applied at the edge and marked: 50 degC where the body has 60."""
    config, sky = corrected_station(), sky_of_a_day()
    resolved = period(config)
    ds = timed(config, resolved, logged(config, sky))
    ds["direct_1_body_temperature"].values[:5] = 273.15 + 60.0
    out = calibrate(ds, resolved)
    word = out["direct_1_conditions"].values & CONDITIONS["outside_certificate_range"].mask
    assert np.flatnonzero(word).tolist() == [0, 1, 2, 3, 4]
    ds["direct_1_body_temperature"].values[:5] = 273.15 + 50.0
    edge = calibrate(ds, resolved)
    assert_allclose(out["direct_1"], edge["direct_1"], rtol=1e-14)
