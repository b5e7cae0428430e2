"""Laws of every stage: input unchanged, same answer twice, same answer however time is cut."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_array_equal

from free_clock import Stretch, clock_entries, clocked_readings
from invented import DAY, MARCH, period, station_config
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import Period
from sunledger.stages import aggregate, calibrate, placement, qc_flag, time_correct
from sunledger.stages.true_time import with_true_times

HOUR = 3600
HALO = -(-(calibrate.REACH + placement.REACH + qc_flag.REACH) // HOUR) * HOUR

FIRST, SECOND = MARCH + 9 * HOUR + 17, MARCH + DAY + 15 * HOUR + 41
CLOCKS = {
    "back and forward": (95.0, -100.0),
    "forward and back": (-80.0, 3705.0),
    "over midnight": (16 * 3600.0, 0.4),
    "days back": (3.0 * DAY, 50.0),
    "days forward": (-2.0 * DAY, -70.0),
}


def stretches_of(first: float, second: float) -> list[Stretch]:
    """Errors just before the clock is set on the first day and on the second; it drifts."""
    return [
        Stretch(MARCH - 5 * DAY, FIRST, first - 12.0, first),
        Stretch(FIRST, SECOND, second - 9.0, second),
        Stretch(SECOND, MARCH + 5 * DAY, 0.0, 31.0),
    ]


def eventful(stretches: list[Stretch]) -> StationConfig:
    """A record with doubt, work and review in and around the two days."""
    work = [
        {
            "id": "v",
            "type": "visit",
            "from": MARCH + DAY - 900,
            "until": MARCH + DAY + 600,
            "role": "t",
        },
        {
            "id": "l",
            "type": "level_check",
            "time": MARCH + 9 * DAY,
            "position": "global_1",
            "found": {"size": 1.0},
            "left": {"size": 0.0},
            "role": "t",
        },
        {
            "id": "t",
            "type": "thermal_sensor_check",
            "time": MARCH + DAY + 70,
            "position": "sky_1",
            "found": 1.0,
            "left": 0.0,
            "role": "t",
        },
    ]
    return station_config(entries=[*work, *clock_entries(stretches)])


def damaged(ds: xr.Dataset) -> xr.Dataset:
    """Readings with gaps, over-range, long stuck runs, conflicts and rejected lines, at random."""
    rng = np.random.default_rng(4)
    size = ds.sizes["reading_main"]
    out = ds.copy(deep=True)
    for name in ("global_1_mean", "diffuse_1_mean", "direct_1_mean", "sky_1_mean"):
        values = out[name].values
        values *= 1 + 0.1 * rng.standard_normal(size)
        values[rng.random(size) < 0.02] = np.nan
        values[rng.random(size) < 0.005] = np.inf
    for statistic in ("mean", "min", "max", "std"):  # stuck across midnight, for seven hours
        middle = size // 2 + rng.integers(-200, 200, 3)
        for at in (*middle[:1], size // 2):
            out[f"diffuse_1_{statistic}"].values[at - 210 : at + 210] = 1.25
    out["line_status_main"].values[rng.random(size) < 0.01] = 1
    bad = np.sort(rng.choice(np.arange(10, size), 40, replace=False))
    out = out.isel(reading_main=np.setdiff1d(np.arange(size), bad))
    return out.assign(
        quarantine_file_main=("quarantine_main", np.zeros(bad.size, np.int32)),
        quarantine_line_main=("quarantine_main", (bad + 2).astype(np.int32)),
    )


def unit(config: StationConfig, ds: xr.Dataset, start: int, end: int) -> xr.Dataset:
    """Flagged minutes of one unit, read with its halo and trimmed."""
    resolved = period(config, start - HALO, (end - start + 2 * HALO) / DAY)
    out = with_true_times(ds, resolved)
    for stage in (calibrate.calibrate, time_correct.time_correct, qc_flag.qc_flag):
        out = stage(out, resolved)
    return out.isel(time=np.flatnonzero((out["time"] >= start) & (out["time"] < end)))


def joined(config: StationConfig, ds: xr.Dataset, *cuts: int) -> xr.Dataset:
    """The units between the cuts, one after the other."""
    parts = [unit(config, ds, a, b) for a, b in pairwise(cuts)]
    return xr.concat(parts, "time", data_vars="minimal", join="exact")


@pytest.mark.parametrize("clock", CLOCKS)
def test_same_answer_however_time_is_cut(clock: str) -> None:
    """Two days as one unit, as two, at the settings, and in pieces of hours: bit for bit."""
    stretches = stretches_of(*CLOCKS[clock])
    config = eventful(stretches)
    ds = damaged(clocked_readings(config, stretches)[0])
    end = MARCH + 2 * DAY
    whole = unit(config, ds, MARCH, end)
    assert np.isfinite(whole["ghi"].values).mean() > 0.9
    for cuts in (
        (MARCH + DAY,),
        (FIRST // 60 * 60, SECOND // 60 * 60 + 60),
        tuple(MARCH + int(h * HOUR) for h in (0.5, 7, 9.25, 10, 23, 24, 25, 39, 40, 47)),
    ):
        xr.testing.assert_identical(joined(config, ds, MARCH, *cuts, end), whole)


def test_the_readings_of_the_cut_test_are_eventful() -> None:
    """Every kind of trouble stands in them, so that the law is put to the test."""
    stretches = stretches_of(*CLOCKS["back and forward"])
    config = eventful(stretches)
    ds = damaged(clocked_readings(config, stretches)[0])
    whole = unit(config, ds, MARCH, MARCH + 2 * DAY)
    words = {w: np.bitwise_or.reduce(whole[f"dhi_{w}"].values) for w in ("flags", "conditions")}
    for name in ("missing", "over_range", "stuck_value", "spread_inconsistent"):
        assert words["flags"] & qc_flag.TESTS[name].mask, name
    for name in ("interval_emptied", "label_conflict", "line_rejected", "maintenance"):
        assert words["conditions"] & qc_flag.CONDITIONS[name].mask, name
    assert set(np.unique(whole["ghi_grade"])) >= {3, 9}


Stage = Callable[[xr.Dataset, Period], xr.Dataset]
STAGES: dict[str, Stage] = {
    "calibrate": calibrate.calibrate,
    "time_correct": time_correct.time_correct,
    "qc_flag": qc_flag.qc_flag,
    "hourly": lambda ds, p: aggregate.aggregate(ds, p, "hourly"),
    "daily": lambda ds, p: aggregate.aggregate(ds, p, "daily"),
    "monthly": lambda ds, p: aggregate.aggregate(ds, p, "monthly"),
}


def input_of(stage: str) -> tuple[xr.Dataset, Period]:
    """What a stage reads: two eventful days, and their resolved configuration."""
    stretches = stretches_of(*CLOCKS["back and forward"])
    config = eventful(stretches)
    resolved = period(config, days=2)
    ds = with_true_times(damaged(clocked_readings(config, stretches)[0]), resolved)
    for name in ("calibrate", "time_correct", "qc_flag"):
        if name == stage:
            return ds, resolved
        ds = STAGES[name](ds, resolved)
    return ds, resolved


@pytest.mark.parametrize("stage", STAGES)
def test_input_is_left_unchanged(stage: str) -> None:
    """A stage never writes into what it reads, attributes included."""
    ds, resolved = input_of(stage)
    before = ds.copy(deep=True)
    STAGES[stage](ds, resolved)
    xr.testing.assert_identical(ds, before)


@pytest.mark.parametrize("stage", STAGES)
def test_same_answer_twice(stage: str) -> None:
    """Nothing is remembered from one call to the next."""
    ds, resolved = input_of(stage)
    xr.testing.assert_identical(STAGES[stage](ds, resolved), STAGES[stage](ds, resolved))


@pytest.mark.parametrize("stage", STAGES)
def test_input_may_be_read_only(stage: str) -> None:
    """The same law, held by the arrays themselves."""
    ds, resolved = input_of(stage)
    for variable in ds.variables.values():
        if isinstance(variable.values, np.ndarray) and variable.values.flags.writeable:
            variable.values.flags.writeable = False
    assert STAGES[stage](ds, resolved).sizes


def test_hours_and_days_do_not_depend_on_the_cut() -> None:
    """Aggregates of two days are those of each day, read with the neighbours that it declares."""
    ds, resolved = input_of("hourly")
    time, middle = ds["time"].values, resolved.start + DAY
    halves = []
    for start, end in ((resolved.start, middle), (middle, resolved.end)):
        near = (time >= start - aggregate.REACH) & (time < end + aggregate.REACH)
        part = ds.isel(time=np.flatnonzero(near))
        halves.append((part, replace(resolved, start=start, end=end)))
    for product in ("hourly", "daily"):
        whole = aggregate.aggregate(ds, resolved, product)
        parts = [aggregate.aggregate(half, mine, product) for half, mine in halves]
        for name in whole.variables:
            cut = np.concatenate([part[name].values for part in parts])
            assert_array_equal(cut, whole[name].values, err_msg=str(name))
