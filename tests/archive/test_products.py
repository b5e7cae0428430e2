"""Products of a real run: they pass the checkers, join, decode, and agree with each other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cf_xarray  # noqa: F401 - registers the accessor
import numpy as np
import pytest
import xarray as xr

import invented
import real_month
import small_project
from archive.compliance import unexpected
from archive.samples import ENTRY
from sunledger.archive.digest import json_digest, logical_digest
from sunledger.archive.netcdf import read_tables
from sunledger.archive.products import (
    FileContext,
    Origin,
    file_history,
    issued,
    months_of,
    parts_of,
)

# xarray tells everybody that its way of joining will change; the files are meant for both ways
TWO_WAYS = pytest.mark.filterwarnings("ignore:In a future version of xarray:FutureWarning")


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Station folder of the small project's archive; not to be changed."""
    workflow = small_project.made_once(tmp_path_factory.getbasetemp())
    return workflow.parent / "archive" / small_project.STATION


@pytest.fixture(scope="module")
def paths(archive: Path) -> list[Path]:
    """The two minute files."""
    return sorted((archive / "minute").glob("*.nc"))


def test_minutes_pass_the_checkers(paths: list[Path]) -> None:
    """Nothing but the checker's known mistake, and names that CF has none for."""
    assert unexpected(paths[0], [f"clock_residual_{n}" for n in small_project.LOGGERS]) == []


def test_voltages_pass_the_checkers(archive: Path) -> None:
    """The same; CF has no names for signals and lines."""
    nameless = ["direct_1_mean", "source_file_beam", "source_line_beam"]
    path = archive / "voltage" / "tst_voltage_beam_2031-06.nc"
    assert unexpected(path, nameless, ("logger_time_beam",)) == []


@TWO_WAYS
def test_months_join_without_arguments(paths: list[Path]) -> None:
    """Nothing but the paths: a seamless series of two months, with the values of the files."""
    with xr.open_mfdataset(paths) as ds:
        time = ds["time"].values
        assert time.size == (30 + 31) * 1440
        assert (np.diff(time) == np.timedelta64(60, "s")).all()
        joined = ds["ghi"].values
        flags = ds["ghi_flags"].values
    parts = [xr.open_dataset(p) for p in paths]
    np.testing.assert_array_equal(joined, np.concatenate([p["ghi"].values for p in parts]))
    np.testing.assert_array_equal(flags, np.concatenate([p["ghi_flags"].values for p in parts]))
    for part in parts:
        part.close()


def test_flags_decode_by_their_own_words(paths: list[Path]) -> None:
    """cf_xarray, which knows nothing of us, finds `missing` exactly where there is no value."""
    with xr.open_dataset(paths[0]) as ds:
        assert bool(((ds["ghi_flags"].cf == "missing").values == np.isnan(ds["ghi"].values)).all())
        good = (ds["ghi_grade"].cf == "missing").values
        np.testing.assert_array_equal(good, np.isnan(ds["ghi"].values))
        failed = (ds["ghi_flags"].values & ~ds["ghi_tested"].values) != 0
    assert not failed.any()  # a test that could not run cannot have failed


def test_irradiances_are_those_put_in(paths: list[Path]) -> None:
    """Two days of June hold the published values, within the resolutions of voltage and archive.

    Source of the values: see real_month.py.
    """
    published = real_month.published()
    with xr.open_dataset(paths[0]) as ds:
        last_days = ds.isel(time=slice(-2 * 1440, None))
        for quantity, position in (("ghi", "global_1"), ("dhi", "diffuse_1"), ("dni", "direct_1")):
            step = 0.5e-5 * 1000.0 / invented.SENSITIVITY[position] + 2.0**-8 + 1e-4
            expected = published[quantity].to_numpy()[: 2 * 1440]
            got = last_days[quantity].values.astype(float)
            np.testing.assert_array_equal(np.isnan(got), np.isnan(expected))
            assert np.nanmax(np.abs(got - expected)) <= step


@TWO_WAYS
def test_hours_follow_from_minutes(archive: Path, paths: list[Path]) -> None:
    """Mean and count of the minutes that count, by pandas, for every complete hour."""
    with xr.open_mfdataset(paths) as ds:
        counts = ds["ghi_grade"].isin([1, 2, 3]).values  # good, not evaluated, questionable
        series = ds["ghi"].where(xr.DataArray(counts, dims="time")).to_series()
    hours = series.resample("1h")
    with xr.open_dataset(archive / "hourly" / "tst_hourly_2031.nc") as ds:
        got = ds["ghi"].values.astype(float)
        np.testing.assert_array_equal(
            ds["ghi_number_of_observations"].values, hours.count().to_numpy()
        )
    expected = np.where(hours.count() >= 30, hours.mean(), np.nan)
    assert np.isfinite(expected).sum() == 72
    np.testing.assert_allclose(got, expected, rtol=0, atol=2.0**-8 + 1e-4)


def test_origin_is_in_the_file(paths: list[Path]) -> None:
    """Raw files with digests, and the configuration under the digest that the file names."""
    table = read_tables(paths[0])["metadata/provenance"]
    assert [n for n in table["source_file_name"] if "0630" in n] == [
        "beam_20310630.csv",
        "main_20310630.csv",
    ]
    (text,) = table["resolved_configuration"]
    assert '"stuck"' in text
    for word in ('"history":', '"status":"provisional"', '"least_share_hourly":'):
        assert word not in text


def context(settings: dict[str, object]) -> FileContext:
    """What a file of a day is told about itself."""
    config = invented.station_config()
    start, end = invented.MARCH, invented.MARCH + invented.DAY
    origin = Origin((("a.csv", "0" * 64, 1),), settings)
    resolved = invented.period(config)
    return FileContext(invented.network(), config, resolved, "2031-03", start, end, origin)


def test_a_file_holds_what_its_maker_read() -> None:
    """Not all that was resolved: settings of other stages must not change a file."""
    group = file_history(context({"a": 1}))
    origin = next(g for g in group.groups if g.name == "provenance")
    held = next(v for v in origin.variables if v.name == "resolved_configuration")
    assert held.data.tolist() == ['{"a":1}']
    assert held.attributes["sha256"] == json_digest({"a": 1})


def test_version_and_dates_are_not_content(paths: list[Path]) -> None:
    """Issued as another version, a file says the same by its logical digest."""
    from sunledger.archive.netcdf import read_file

    spec = read_file(paths[0])
    later = issued(spec, replace(ENTRY, version=9, issued="2040-01-01"))
    assert later.attributes["product_version"] != spec.attributes["product_version"]
    assert logical_digest(later) == logical_digest(paths[0])


def test_parts_of_a_quantity() -> None:
    """Only what is there."""
    ds = xr.Dataset(
        {"ghi": ("time", [1.0]), "ghi_min": ("time", [0.5]), "ghi_grade": ("time", [1])}
    )
    parts = parts_of(ds, "ghi", {"mean": "", "min": "_min", "max": "_max"})
    assert {k: v.tolist() for k, v in parts.items()} == {"mean": [1.0], "min": [0.5]}


def test_months_of_times() -> None:
    """UTC; the first second of a month belongs to it."""
    assert months_of([1940630399, 1940630400]) == ["2031-06", "2031-07"]
