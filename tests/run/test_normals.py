"""Normals from an archive of years, as a file and as text; what is refused."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from typer.testing import CliRunner

from archive.compliance import unexpected
from sunledger.archive.digest import file_sha256
from sunledger.archive.manifest import read_manifest, write_manifest
from sunledger.archive.netcdf import read_file, write_file
from sunledger.archive.specification import FileSpec
from sunledger.cli import app
from sunledger.errors import ArchiveError
from sunledger.run.normals import station_normals, write_normals

YEARS = range(2031, 2036)
LOST = (2033, 4)
"""May 2033 was withheld."""


def monthly(template: FileSpec, year: int) -> FileSpec:
    """A year of monthly values: global 100 + month + 10 x (year - 2031); sunshine 100 h."""
    edges = np.arange(f"{year}-01", f"{year + 1}-02", dtype="M8[M]").astype("M8[s]").astype(float)
    variables = []
    for v in template.variables:
        if v.dimensions[:1] == ("time",):
            v = replace(v, data=np.repeat(v.data[:1], 12, axis=0))
        if v.name == "time":
            v = replace(v, data=edges[:-1])
        if v.name == "time_bounds":
            v = replace(v, data=np.stack([edges[:-1], edges[1:]], axis=-1))
        if v.name == "ghi":
            values = 100.0 + np.arange(12) + 10.0 * (year - 2031)
            v = replace(v, data=np.where((year, LOST[1]) == LOST, lost(values), values))
        if v.name == "sunshine_duration":
            v = replace(v, data=np.full(12, 360000.0))
        variables.append(v)
    return replace(
        template, dimensions={**template.dimensions, "time": 12}, variables=(*variables,)
    )


def lost(values: np.ndarray) -> np.ndarray:
    """Without the month that was withheld."""
    return np.where(np.arange(12) == LOST[1], np.nan, values)


@pytest.fixture(scope="module")
def archive(made: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Five years of monthly files with manifests; not to be changed."""
    source = made.parent / "archive" / "tst" / "monthly" / "tst_monthly_2031.nc"
    template, manifest = read_file(source), read_manifest(source)
    assert manifest is not None
    root = tmp_path_factory.mktemp("normals")
    for year in YEARS:
        path = root / "tst" / "monthly" / f"tst_monthly_{year}.nc"
        path.parent.mkdir(parents=True, exist_ok=True)
        write_file(path, monthly(template, year))
        digest = file_sha256(path)
        size = path.stat().st_size
        write_manifest(path, replace(manifest, period=str(year), file_sha256=digest, size=size))
    return root


def test_normals_and_anomalies(archive: Path, tmp_path: Path) -> None:
    """Mean of the years; four of five are enough; the departure of each month."""
    spec, _ = station_normals(archive, "tst")
    target = tmp_path / "out" / "normals.nc"
    write_normals(target, spec)
    with xr.open_dataset(target, decode_timedelta=False) as ds:
        expected = 120.0 + np.arange(12.0)
        expected[4] = 104.0 + (0 + 10 + 30 + 40) / 4
        np.testing.assert_allclose(ds["ghi_normal"], expected)
        assert ds["ghi_normal_years"].values.tolist() == [5, 5, 5, 5, 4, *[5] * 7]
        first = ds["ghi_anomaly"].values[0]
        np.testing.assert_allclose(first, 100.0 + np.arange(12) - expected, rtol=1e-5)
        assert np.isnan(ds["ghi_anomaly"].values[2, 4])
        assert ds["ghi"].dims == ("year", "time")
        assert ds["year"].values.tolist() == list(YEARS)
        bounds = ds["climatology_bounds"].values.astype("M8[s]")
        assert str(bounds[4, 0]).startswith("2031-05-01")
        assert str(bounds[4, 1]).startswith("2035-06-01")
        assert "mean over years" in ds["ghi_normal"].attrs["cell_methods"]
        assert "sum within years" in ds["sunshine_duration_normal"].attrs["cell_methods"]
        assert ds["time"].attrs["climatology"] == "climatology_bounds"


def test_the_file_passes_the_checkers(archive: Path, tmp_path: Path) -> None:
    """But for what CF has no name for, and two rules that climatological time does not fit."""
    spec, _ = station_normals(archive, "tst")
    write_normals(tmp_path / "normals.nc", spec)
    without = ("crs", "climatology_bounds", "year", "time")
    names = [v.name for v in spec.variables if "standard_name" not in v.attributes]
    found = unexpected(tmp_path / "normals.nc", [n for n in names if n not in without])
    # the months of the first year carry values of all years, and their bounds are no `bounds`
    known = ("time_coverage_end (", "climatology_bounds might be a cell boundary")
    others = [f for f in found if not any(words in f.message for words in known)]
    assert [f.message for f in others if "time_coverage_end" not in f.message] == []
    assert len(found) == len(known)


def test_the_same_bytes_twice(archive: Path, tmp_path: Path) -> None:
    """Nothing of the wall clock."""
    for name in ("one.nc", "two.nc"):
        write_normals(tmp_path / name, station_normals(archive, "tst")[0])
    assert file_sha256(tmp_path / "one.nc") == file_sha256(tmp_path / "two.nc")


def test_the_text_is_a_table_by_month_and_year(archive: Path) -> None:
    """Withheld months are dashes and leave no year; sunshine in hours adds up to 1200."""
    _, text = station_normals(archive, "tst")
    lines = text.splitlines()
    begin = next(i for i, line in enumerate(lines) if line.startswith("ghi [W m-2]"))
    rows = {line.split()[0]: line.split()[1:] for line in lines[begin + 2 : begin + 12]}
    assert rows["2033"][4] == "-"
    assert rows["2033"][12] == "-"
    assert rows["2031"][:2] == ["100.0", "101.0"]
    assert rows["normal"][4] == "124.0"
    assert rows["years"][4] == "4"
    assert rows["lowest"][0] == "2031"
    assert rows["highest"][0] == "2035"
    begin = next(i for i, line in enumerate(lines) if line.startswith("sunshine_duration [h]"))
    assert lines[begin + 2].split()[1:] == ["100.0"] * 12 + ["1200.0"]
    assert "at least 4 of 5 years" in text
    assert text.count("tst_monthly_") == 5


def test_a_longer_period_than_there_are_files(archive: Path) -> None:
    """Years without a file count as missing."""
    spec, text = station_normals(archive, "tst", "2026", "2035")
    assert "at least 8 of 10 years" in text
    assert np.isnan(spec["ghi_normal"].data).all()
    spec, _ = station_normals(archive, "tst", "2034", "2035")
    np.testing.assert_allclose(spec["ghi_normal"].data, 135.0 + np.arange(12))


@pytest.mark.parametrize(
    ("given", "why"),
    [
        (("tst", "nineties"), "years are written like 1991"),
        (("tst", "2035", "2031"), "that fits|last year lies before"),
        (("tst", "", "", 0.0), "least share lies above 0"),
        (("xyz",), "xyz"),
        (("tst", "1990", "1999"), "that fits"),
    ],
)
def test_refusals(archive: Path, given: tuple[str, ...], why: str) -> None:
    """In words."""
    with pytest.raises(ArchiveError, match=why):
        station_normals(archive, *given)  # type: ignore[arg-type]


def test_the_command(archive: Path, tmp_path: Path) -> None:
    """Prints the table, writes the file; 2 for what cannot be."""
    target = tmp_path / "n.nc"
    done = CliRunner().invoke(app, ["normals", str(archive), "tst", "-o", str(target)])
    assert done.exit_code == 0
    assert "ghi [W m-2]" in done.output
    assert target.exists()
    refused = CliRunner().invoke(app, ["normals", str(archive), "tst", "--from", "x"])
    assert refused.exit_code == 2
