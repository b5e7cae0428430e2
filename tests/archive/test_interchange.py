"""Files read the same by every common library, join without options, and their units parse."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path

import cf_units
import cf_xarray.units
import h5netcdf
import netCDF4
import numpy as np
import pytest
import xarray as xr

import small_project
from archive.compliance import copy_group_to_root, findings
from archive.samples import minute_file
from sunledger.archive.listing import archive_files
from sunledger.archive.netcdf import read_file, write_file
from sunledger.vocabulary import TESTS


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """One file of each product of a small project that was run."""
    workflow = small_project.made_once(tmp_path_factory.getbasetemp())
    return {p.parent.name: p for p in archive_files(workflow.parent / "archive")}


PRODUCTS = ("voltage", "minute", "hourly", "daily", "monthly")


def groups(node: netCDF4.Dataset, above: str = "") -> Iterator[str]:
    """Paths of all groups, the root as an empty one."""
    yield above
    for name, inner in node.groups.items():
        yield from groups(inner, f"{above}/{name}")


DECODED = ("_Encoding",)
"""Attributes that xarray moves to the encoding."""


def text(value: object) -> object:
    """An attribute as text: h5netcdf hands texts of one character out as bytes."""
    return value.decode() if isinstance(value, bytes) else value


@pytest.mark.parametrize("product", PRODUCTS)
def test_three_libraries_read_the_same(files: dict[str, Path], product: str) -> None:
    """Raw values and attributes of every variable of every group, bit for bit."""
    path = files[product]
    with netCDF4.Dataset(path) as one, h5netcdf.File(path, "r") as two:
        one.set_auto_maskandscale(False)
        one.set_auto_chartostring(False)
        for group in groups(one):
            first, second = (one[group], two[group]) if group else (one, two)
            plain = {"decode_times": False, "mask_and_scale": False, "decode_coords": False}
            with xr.open_dataset(
                path, group=group or None, engine="h5netcdf", concat_characters=False, **plain
            ) as third:
                assert set(first.variables) == set(second.variables) == set(third.variables)
                for name, variable in first.variables.items():
                    values = np.asarray(variable[...])
                    np.testing.assert_array_equal(values, np.asarray(second[name][...]))
                    np.testing.assert_array_equal(values, third[name].values)
                    for attribute in variable.ncattrs():
                        said = variable.getncattr(attribute)
                        np.testing.assert_array_equal(said, text(second[name].attrs[attribute]))
                        if attribute not in DECODED:
                            np.testing.assert_array_equal(said, third[name].attrs[attribute])
                for attribute in first.ncattrs():
                    np.testing.assert_array_equal(
                        first.getncattr(attribute), text(second.attrs[attribute])
                    )


@pytest.mark.parametrize("product", PRODUCTS)
def test_every_unit_parses_by_udunits_and_by_pint(files: dict[str, Path], product: str) -> None:
    registry = cf_xarray.units.units
    spec = read_file(files[product])
    tables = [t for g in spec.groups for t in g.groups]
    variables = [*spec.variables, *(v for t in tables for v in t.variables)]
    units = {str(v.attributes["units"]) for v in variables if "units" in v.attributes}
    assert "m" in units
    for unit in units:
        assert not cf_units.Unit(unit).is_unknown(), unit
        if " since " not in unit:  # pint knows no points in time
            assert registry.Unit(unit) is not None
    assert cf_units.Unit("W m-2").convert(1.0, "kW m-2") == pytest.approx(0.001)
    assert registry.Quantity(1, registry.Unit("W m-2")).to("kW m-2").m == pytest.approx(0.001)


def test_flags_decode_by_cf_xarray(files: dict[str, Path]) -> None:
    with xr.open_dataset(files["minute"]) as ds:
        word = ds["ghi_flags"]
        decoded = word.cf.flags
        assert set(decoded) == set(TESTS)
        for name, bit in TESTS.items():
            np.testing.assert_array_equal(decoded[name], (word.values & bit.mask) != 0)
        grade = ds["ghi_grade"]
        np.testing.assert_array_equal(grade.cf == "good", grade.values == 1)
        assert decoded["missing"].any()
        assert (grade.cf == "good").any()


def test_roles_are_found_by_cf_xarray(files: dict[str, Path]) -> None:
    with xr.open_dataset(files["daily"]) as ds:
        assert ds.cf.bounds == {"T": ["time_bounds"], "time": ["time_bounds"]}
        assert ds.cf.cf_roles == {"timeseries_id": ["station_name"]}
        assert ds.cf["latitude"].size == 1
        around = ds.cf["ghi"].coords
        assert {"latitude", "longitude", "altitude"} <= set(around)


@pytest.mark.parametrize("new", [True, False])
def test_years_join_without_arguments_beyond_the_paths(tmp_path: Path, new: bool) -> None:
    """Tables of unequal length stay out of the way, in the old and the new way of joining."""
    pytest.importorskip("dask")
    months = {"2031-12": 2, "2032-01": 3}
    paths = []
    for month, rows in months.items():
        paths.append(tmp_path / f"ossel_minute_{month}.nc")
        write_file(paths[-1], minute_file(month, days=2, rows=rows))
    with warnings.catch_warnings(), xr.set_options(use_new_combine_kwarg_defaults=new):
        warnings.simplefilter("error" if new else "ignore")
        with xr.open_mfdataset(paths) as ds:
            assert ds.sizes["time"] == 2 * 2880
            assert ds.indexes["time"].is_monotonic_increasing
            assert str(ds["time"].values[-1])[:16] == "2032-01-02T23:59"
            expected = [minute_file(m, days=2)["ghi"].data for m in months]
            np.testing.assert_array_equal(ds["ghi"].values, np.concatenate(expected))
            assert ds["ghi_flags"].dtype == np.int32


@pytest.mark.parametrize("product", ["voltage", "minute", "monthly"])
def test_tables_conform_when_laid_open(
    files: dict[str, Path], product: str, tmp_path: Path
) -> None:
    """compliance-checker never opens groups, so each is copied to the root of a file."""
    with netCDF4.Dataset(files[product]) as ds:
        names = [g for g in groups(ds) if g and ds[g].variables]
    assert "/metadata/deployment" in names
    for number, name in enumerate(names):
        scratch = copy_group_to_root(files[product], name, tmp_path / f"{number}.nc")
        found = findings(scratch, ("cf:1.11",))
        unknown = [f for f in found if "units_metadata" not in f.message or "leap" not in f.message]
        assert [f for f in unknown if "1582-10-15" not in f.message] == [], name
