"""Some columns are read as the whole file would be, and what is not there is named."""

from __future__ import annotations

from pathlib import Path

import netCDF4
import pytest

from archive.samples import minute_file, monthly_file, voltage_file
from sunledger.archive.columns import opened_columns
from sunledger.archive.netcdf import read_file, read_tables, write_file
from sunledger.errors import ArchiveError

PRODUCTS = {"minute": minute_file, "monthly": monthly_file, "voltage": voltage_file}


@pytest.fixture(params=PRODUCTS)
def path(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """One file of each layout."""
    write_file(tmp_path / "x.nc", PRODUCTS[request.param]())
    return tmp_path / "x.nc"


def test_every_column_is_what_the_netcdf_library_reads(path: Path) -> None:
    """Bit for bit, packed numbers and texts included, against another reader of the file."""
    spec = read_file(path)
    with opened_columns(path) as file:
        for variable in spec.variables:
            values = file.values(variable.name)
            assert values.dtype == variable.data.dtype
            assert values.shape == variable.data.shape
            assert values.tobytes() == variable.data.tobytes(), variable.name
            if values.ndim:
                assert file.values(variable.name, slice(2, 5)).tobytes() == values[2:5].tobytes()


def test_every_table_is_what_the_netcdf_library_reads(path: Path) -> None:
    """Columns of the history, without the dimensions that HDF5 keeps beside them."""
    tables = read_tables(path)
    assert tables
    with opened_columns(path) as file:
        for group, columns in tables.items():
            found = file.table(group)
            assert found.keys() == columns.keys()
            assert all(found[n].tobytes() == v.tobytes() for n, v in columns.items())


def test_columns_along_a_dimension_are_those_of_the_netcdf_library(path: Path) -> None:
    with netCDF4.Dataset(path) as dataset:
        names = {str(n): v.dimensions for n, v in dataset.variables.items()}
        dimensions = [d for d in dataset.dimensions if not d.endswith("_strlen")]
    with opened_columns(path) as file:
        for dimension in dimensions:
            wanted = {n for n, ds in names.items() if ds == (dimension,)}
            assert set(file.along(dimension)) == wanted


def test_a_file_contains_its_root_variables_alone(path: Path) -> None:
    """As the netCDF library lists them: no dimension, group or path, which HDF5 would find too."""
    with netCDF4.Dataset(path) as dataset:
        variables = {str(name) for name in dataset.variables}
        groups = {f"metadata/{name}" for name in dataset["metadata"].groups}
        others = {*dataset.dimensions, *dataset.groups, *groups} - variables
    assert groups
    with opened_columns(path) as file:
        assert all(name in file for name in variables)
        for name in (*others, *(f"/{n}" for n in variables), "metadata/../time", "rain"):
            assert name not in file, name
        tables = [f"{g}/{column}" for g in groups for column in file.table(g)]
        assert tables
        assert not any(name in file for name in tables)


def test_what_is_not_there_or_damaged_is_named(path: Path) -> None:
    with (
        pytest.raises(ArchiveError, match=r"x\.nc: has no variable rain"),
        opened_columns(path) as file,
    ):
        file.values("rain")
    with pytest.raises(ArchiveError, match=r"x\.nc: cannot be read"), opened_columns(path) as file:
        file.table("metadata/rain")
    path.write_bytes(path.read_bytes()[:1000])
    with pytest.raises(ArchiveError, match=r"x\.nc: cannot be read"), opened_columns(path):
        pass
    with pytest.raises(ArchiveError, match=r"cannot be read"), opened_columns(path.parent / "no"):
        pass
