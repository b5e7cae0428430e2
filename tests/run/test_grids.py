"""Loggers of different intervals: minutes and series side by side, nothing up-sampled."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import invented
from northmere.scenario import SCENARIOS
from northmere.station import make_station, with_true_clocks
from sunledger.run.grids import grid_intervals, grid_product, on_grid
from sunledger.run.job import Choice, run

ROOT = Path(__file__).resolve().parents[2]
DAY = "2031-04-12"


def quiet(*_: object) -> None:
    """Progress that nobody watches."""


def _config(**intervals: int) -> Any:
    positions = {"main": ("global_1", "diffuse_1"), "beam": ("direct_1",), "sky": ("sky_1",)}
    loggers = {n: invented.logger(positions[n], interval=s) for n, s in intervals.items()}
    return invented.station_config(
        loggers,
        primary=[{"from": "2031-01-01", "quantity": "lwd", "position": "sky_1"}],
    )


def test_intervals_and_products() -> None:
    """Up to a minute it is the minute product, beyond it a series by its interval."""
    assert grid_intervals(_config(main=1, beam=60, sky=10).station) == (60,)
    assert grid_intervals(_config(main=600, beam=60, sky=600).station) == (60, 600)
    assert grid_product(60) == ("minute", "")
    assert grid_product(600) == ("series", "600")


def test_a_station_with_one_grid_is_left_alone() -> None:
    """Also when the grid is not that of minutes."""
    one = _config(main=600, beam=600, sky=600)
    assert on_grid(one, 600) is one


def test_a_part_of_a_station() -> None:
    """Loggers, positions and primaries of the grid alone."""
    config = _config(main=600, beam=10, sky=60)
    minute, series = on_grid(config, 60), on_grid(config, 600)
    assert list(minute.station.loggers) == ["beam", "sky"]
    assert list(series.station.positions()) == ["global_1", "diffuse_1"]
    assert [p.position for p in minute.station.primary] == ["sky_1"]
    assert series.station.primary == ()
    assert list(config.station.loggers) == ["main", "beam", "sky"]


def _project(folder: Path, intervals: dict[str, int]) -> Path:
    """One clean day of the sample's Ossel Ridge, each logger at its own interval."""
    scenario = with_true_clocks(SCENARIOS["osr"])
    station = folder / "station"
    shutil.copytree(ROOT / "configs" / "stations" / "ossel_ridge", station)
    text = (station / "station.yaml").read_text(encoding="utf-8")
    head, main, beam = text.replace("interval: 60", "interval: {}").split("interval: {}")
    text = f"{head}interval: {intervals['main']}{main}interval: {intervals['beam']}{beam}"
    # The clocks are right here, whatever the record says of those of the sample.
    text = text.replace("discipline: free", "discipline: time_signal")
    (station / "station.yaml").write_text(text, encoding="utf-8")
    for interval in set(intervals.values()):
        made = make_station(scenario, DAY, 1, 11, interval, faults=False)
        made.write(folder / f"raw_{interval}")
    raw = folder / "raw" / "ossel_ridge"
    raw.mkdir(parents=True)
    for logger, interval in intervals.items():
        for path in (folder / f"raw_{interval}").rglob(f"{logger}_*"):
            shutil.copy(path, raw)
    network = invented.network().model_dump(mode="json")
    (folder / "network.yaml").write_text(json.dumps(network), encoding="utf-8")
    workflow = {
        "network": "network.yaml",
        "processing": str(ROOT / "configs" / "processing.yaml"),
        "stations": ["station"],
        "raw": "raw",
        "archive": "archive",
        "as_of": "2031-07-01",
    }
    (folder / "workflow.yaml").write_text(json.dumps(workflow), encoding="utf-8")
    return folder / "workflow.yaml"


def _made(folder: Path, **intervals: int) -> dict[str, xr.Dataset]:
    _, outcomes = run(_project(folder, intervals), Choice(workers=1), quiet)
    assert [o for o in outcomes if o.done != "written"] == []
    found = {}
    for path in sorted((folder / "archive").rglob("*.nc")):
        with xr.open_dataset(path) as ds:
            found[path.name] = ds.load()
    return found


def _logged(folder: Path, column: str, interval: int) -> tuple[np.ndarray, np.ndarray]:
    """Start of each reading (UTC) and what the logger wrote, read without the package."""
    files = sorted((folder / "raw" / "ossel_ridge").glob("main_*"))
    table = pd.concat([pd.read_csv(path, na_values=["NAN"]) for path in files])
    label = pd.to_datetime(table["stamp"]).to_numpy().astype("M8[s]").astype(np.int64)
    order = np.argsort(label)  # labels mark the end, in UTC+1
    return label[order] - 3600 - interval, table[column].to_numpy()[order]


def _seconds(ds: xr.Dataset) -> np.ndarray:
    return ds["time"].values.astype("M8[s]").astype(np.int64)


def _by(size: int, start: np.ndarray, values: np.ndarray, how: str) -> pd.Series:
    return pd.Series(values).groupby(start // size * size).agg(how)


def _factor(irradiance: np.ndarray, signal: np.ndarray) -> float:
    """Sensitivity of the day, from its brighter half."""
    bright = signal > np.nanmedian(signal[signal > 0])
    return float(np.nanmedian(irradiance[bright] / signal[bright]))


NAME = "osr_minute_2031-04.nc"


@pytest.mark.slow
@pytest.mark.parametrize("interval", [1, 10])
def test_fast_loggers_are_pooled_after_calibration(tmp_path: Path, interval: int) -> None:
    """The voltage product holds every reading; minutes are what pandas makes of the raw file."""
    made = _made(tmp_path, main=interval, beam=60)
    assert made["osr_voltage_main_2031-04.nc"].sizes["reading_main"] == 86400 // interval
    assert not [name for name in made if "series" in name]
    minutes = made[NAME]
    factor = None
    columns = (("", "mean", "mean"), ("_min", "low", "min"), ("_max", "high", "max"))
    for suffix, column, how in columns:
        name, column = f"ghi{suffix}", f"glob_{column}"
        expected = _by(60, *_logged(tmp_path, column, interval), how)
        found = pd.Series(minutes[name].values, _seconds(minutes)).reindex(expected.index)
        assert found.notna().sum() >= 1430
        factor = factor or _factor(found.to_numpy(), expected.to_numpy())
        difference = (found - factor * expected).abs().dropna()
        assert difference.max() < 0.02  # W m-2; values are stored in steps of 1/128


@pytest.mark.slow
def test_slow_loggers_give_a_series(tmp_path: Path) -> None:
    """Mixed with a minute logger: each on its own grid, aggregates from both."""
    made = _made(tmp_path, main=600, beam=60)
    series, fine = made["osr_series_600_2031-04.nc"], made[NAME]
    assert series.attrs["time_coverage_resolution"] == "PT10M"
    assert np.unique(np.diff(_seconds(series))).tolist() == [600]
    assert np.unique(np.diff(_seconds(fine))).tolist() == [60]
    assert ("ghi" in series, "dni" in series) == (True, False)
    assert ("ghi" in fine, "dni" in fine) == (False, True)
    start, signal = _logged(tmp_path, "glob_mean", 600)
    expected = pd.Series(signal, start)
    found = pd.Series(series["ghi"].values, _seconds(series)).reindex(expected.index)
    assert found.notna().sum() >= 143
    factor = _factor(found.to_numpy(), signal)
    assert (found - factor * expected).abs().max() < 0.02
    hourly = made["osr_hourly_2031.nc"]
    means = _by(3600, start, factor * signal, "mean")
    got = pd.Series(hourly["ghi"].values, _seconds(hourly)).reindex(means.index)
    assert got.notna().sum() >= 22
    assert (got - means).abs().max() < 0.02
    assert np.isfinite(hourly["dni"].values).sum() >= 22
    assert "dni_horizontal" in hourly


@pytest.mark.slow
@pytest.mark.parametrize("interval", [1800, 3600])
def test_half_hours_and_hours(tmp_path: Path, interval: int) -> None:
    """From text to voltage, series and means; the interval in name and attribute; nothing finer."""
    made = _made(tmp_path, main=interval, beam=interval)
    assert not [name for name in made if "minute" in name]
    series = made[f"osr_series_{interval}_2031-04.nc"]
    assert series.attrs["time_coverage_resolution"] == {1800: "PT30M", 3600: "PT1H"}[interval]
    assert np.unique(np.diff(_seconds(series))).tolist() == [interval]
    voltage = made["osr_voltage_main_2031-04.nc"]
    assert voltage.sizes["reading_main"] == 86400 // interval
    start, signal = _logged(tmp_path, "glob_mean", interval)
    assert sorted(voltage["global_1_mean"].values) == pytest.approx(sorted(signal), abs=1e-12)
    found = pd.Series(series["ghi"].values, _seconds(series)).reindex(start)
    assert found.notna().sum() == 86400 // interval
    factor = _factor(found.to_numpy(), signal)
    assert (found - factor * pd.Series(signal, start)).abs().max() < 0.02
    hourly = made["osr_hourly_2031.nc"]
    means = _by(3600, start, factor * signal, "mean")
    got = pd.Series(hourly["ghi"].values, _seconds(hourly)).reindex(means.index)
    assert got.notna().sum() >= 22
    assert (got - means).abs().max() < 0.02
    assert np.isfinite(made["osr_daily_2031.nc"]["ghi"].values).sum() >= 1


@pytest.mark.slow
def test_a_station_of_slow_loggers_alone(tmp_path: Path) -> None:
    """No minute product at all; all quantities in the series and the year files."""
    made = _made(tmp_path, main=600, beam=600)
    assert not [name for name in made if "minute" in name]
    series = made["osr_series_600_2031-04.nc"]
    assert {"ghi", "dhi", "dni", "lwd"} <= set(series.variables)
    assert "dni" in made["osr_daily_2031.nc"]
