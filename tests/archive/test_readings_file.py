"""Voltages to a file and back, bit for bit: order, missing, over-range, rejected lines."""

from __future__ import annotations

from pathlib import Path

import netCDF4
import numpy as np
import pytest
import xarray as xr

import invented
from archive.samples import ENTRY
from sunledger.archive.netcdf import read_tables, write_file
from sunledger.archive.products import FileContext, Origin, issued, voltage_file
from sunledger.archive.readings_file import empty_readings, read_readings
from sunledger.config.loading import StationConfig

MINUTES = 50
ALL = (0, 2**40)
LINES = {
    "file": np.array([0, 0, 1], np.int32),
    "line": np.array([7, 9, 3], np.int32),
    "reason": np.array(["too few columns", "time stamp", "time stamp"], object),
    "text": np.array(["2031-03-16 00:1", "", "?,β"], object),
}


@pytest.fixture(scope="module")
def config() -> StationConfig:
    """The invented station with one logger."""
    return invented.station_config()


@pytest.fixture(scope="module")
def logged(config: StationConfig) -> xr.Dataset:
    """Readings with everything that a logger can do to them."""
    ds = invented.readings(config, minutes=MINUTES)
    values = ds["global_1_mean"].values.copy()
    values[3], values[5], values[[7, 49]] = np.nan, -0.0, np.inf
    values[11] = np.nextafter(values[11], np.inf)
    diffuse = ds["diffuse_1_max"].values.copy()
    diffuse[7] = np.inf
    labels = ds["logger_time_main"].values.copy()
    labels[20:30] -= 1800  # the clock was set back: labels come again, in file order
    status = np.zeros(MINUTES, np.int8)
    status[29] = 1
    ds = ds.assign(
        global_1_mean=("reading_main", values),
        diffuse_1_max=("reading_main", diffuse),
        logger_time_main=("reading_main", labels),
        line_status_main=("reading_main", status),
        source_file_main=("reading_main", np.repeat(np.array([0, 1], np.int32), 25)),
    )
    for part, column in LINES.items():
        ds[f"quarantine_{part}_main"] = ("quarantine_main", column)
    return ds


@pytest.fixture(scope="module")
def path(
    config: StationConfig, logged: xr.Dataset, tmp_path_factory: pytest.TempPathFactory
) -> Path:
    """The voltage file of these readings."""
    start = invented.MARCH
    sources = (("a.csv", "0" * 64, 10), ("b.csv", "1" * 64, 20))
    about = FileContext(
        invented.network(),
        config,
        invented.period(config),
        "2031-03",
        start,
        start + invented.DAY,
        Origin(sources, {"logger": "main"}),
    )
    file = tmp_path_factory.mktemp("voltages") / "v.nc"
    write_file(file, issued(voltage_file(logged, about, "main"), ENTRY))
    return file


def names_of(config: StationConfig) -> list[str]:
    """Every variable of the readings contract."""
    parts = ("logger_time", "line_status", "source_file", "source_line")
    return [
        *(f"{p}_main" for p in parts),
        *(c.name for c in config.station.loggers["main"].channels),
    ]


def assert_same_bits(one: xr.Dataset, two: xr.Dataset, names: list[str]) -> None:
    """Types, order, and every bit; a missing value only has to be missing."""
    for name in names:
        a, b = one[name].values, two[name].values
        assert a.dtype == b.dtype, name
        gone = np.isnan(a) if a.dtype.kind == "f" else np.zeros(a.shape, bool)
        np.testing.assert_array_equal(gone, np.isnan(b) if a.dtype.kind == "f" else gone)
        assert a[~gone].tobytes() == b[~gone].tobytes(), name


def test_round_trip(config: StationConfig, logged: xr.Dataset, path: Path) -> None:
    """In file order, with over-range as infinity again, to the last bit."""
    back = read_readings(path, config.station.loggers["main"].channels, "main", ALL)
    assert_same_bits(logged, back, names_of(config))
    assert np.isposinf(back["global_1_mean"].values[[7, 49]]).all()
    assert np.isposinf(back["diffuse_1_max"].values[7])
    assert np.signbit(back["global_1_mean"].values[5])


def test_rejected_lines_come_back(config: StationConfig, path: Path) -> None:
    """File and line as numbers for the stages; reason and text for a person."""
    back = read_readings(path, config.station.loggers["main"].channels, "main", ALL)
    for part in ("file", "line"):
        np.testing.assert_array_equal(back[f"quarantine_{part}_main"].values, LINES[part])
    table = read_tables(path)["metadata/quarantine"]
    for part in ("reason", "text"):
        assert table[f"rejected_{part}"].tolist() == LINES[part].tolist()


@pytest.mark.parametrize(("first", "past"), [(0, 5), (5, 30), (18, 32), (29, 50), (60, 90), (7, 8)])
def test_part_of_the_labels(
    config: StationConfig, logged: xr.Dataset, path: Path, first: int, past: int
) -> None:
    """Whatever lies in the window, in file order, with its own over-range."""
    labels = logged["logger_time_main"].values
    start = int(labels[0])
    window = (start + 60 * first, start + 60 * past)
    inside = np.flatnonzero((labels >= window[0]) & (labels < window[1]))
    back = read_readings(path, config.station.loggers["main"].channels, "main", window)
    assert back.sizes["reading_main"] == inside.size
    assert_same_bits(logged.isel(reading_main=inside), back, names_of(config))


def test_a_stranger_sees_over_range_as_missing(path: Path) -> None:
    """No infinity in the file; the table says which reading of which channel it was."""
    with netCDF4.Dataset(path) as ds:
        values = ds["global_1_mean"][:].filled(np.nan)
    assert np.isnan(values[[3, 7, 49]]).all()
    assert np.isfinite(np.delete(values, [3, 7, 49])).all()
    table = read_tables(path)["metadata/over_range"]
    found = sorted(zip(table["over_range_index"], table["over_range_channel"], strict=True))
    assert found == [(7, "diffuse_1_max"), (7, "global_1_mean"), (49, "global_1_mean")]


def test_channels_say_what_they_are(config: StationConfig, path: Path) -> None:
    """Unit as logged, statistic in words, instrument of the position."""
    names = {c.column: c.name for c in config.station.loggers["main"].channels}
    with netCDF4.Dataset(path) as ds:
        smallest = ds["global_1_min"]
        assert smallest.units == "mV"
        assert smallest.long_name == ("minimum of signal of the radiometer at global_1 for ghi")
        assert ds[names["tb"]].long_name == "body temperature of the radiometer at sky_1"
        assert ds[names["mode"]].long_name == "status tracker_mode"
        assert smallest.dtype == np.float64  # nothing is packed or rounded


def test_no_readings_have_the_same_form(config: StationConfig, path: Path) -> None:
    """A logger whose files are missing gives the same variables of length 0."""
    none = empty_readings(config.station.loggers["main"].channels, "main")
    some = read_readings(path, config.station.loggers["main"].channels, "main", ALL)
    assert none.sizes["reading_main"] == 0
    for name in names_of(config):
        assert none[name].dtype == some[name].dtype
        assert none[name].dims == some[name].dims
