"""A file that is kept is read as it would be from the disk, and no longer once it is replaced."""

from __future__ import annotations

import os
from pathlib import Path

import h5py
import pytest

from archive.samples import minute_file, monthly_file, voltage_file
from sunledger.archive.columns import Columns, opened_columns
from sunledger.archive.kept import KeptColumns, keep, keeping, kept_columns
from sunledger.archive.netcdf import read_tables, write_file
from sunledger.archive.specification import FileSpec
from sunledger.errors import ArchiveError

PRODUCTS = {"minute": minute_file, "monthly": monthly_file, "voltage": voltage_file}
ROOM = 1 << 24


def _written(path: Path, spec: FileSpec) -> None:
    write_file(path, spec)
    keep(path, spec)


def _every_name(path: Path) -> list[str]:
    """Variables, dimensions, groups and all that lies in them, by their paths from the root."""
    names: list[str] = []
    with h5py.File(path) as file:
        file.visit(names.append)
    assert any("/" in name for name in names)
    return [*names, *(f"/{name}" for name in names)]


@pytest.mark.parametrize("product", PRODUCTS)
def test_what_is_kept_is_what_the_hdf5_library_reads(product: str, tmp_path: Path) -> None:
    """Bit for bit: every column, slices, tables, and names along a dimension."""
    path = tmp_path / "x.nc"
    spec = PRODUCTS[product]()
    with keeping(ROOM):
        _written(path, spec)
        kept = kept_columns(path)
    assert isinstance(kept, KeptColumns)
    with h5py.File(path) as file:
        stored, every = Columns(file), {v.name for v in spec.variables}
        for variable in spec.variables:
            for rows in (slice(None), slice(2, 5)) if variable.data.ndim else (slice(None),):
                mine, theirs = kept.values(variable.name, rows), stored.values(variable.name, rows)
                assert (mine.dtype, mine.tobytes()) == (theirs.dtype, theirs.tobytes())
        for name in (*_every_name(path), "rain", "metadata/rain"):
            assert (name in kept) == (name in stored) == (name in every), name
        for name in spec.dimensions:
            assert set(kept.along(name)) == set(stored.along(name))
        for group in read_tables(path):
            mine, theirs = kept.table(group), stored.table(group)
            assert mine.keys() == theirs.keys()
            assert all(mine[n].tobytes() == theirs[n].tobytes() for n in theirs)


def test_who_changes_what_he_read_changes_nothing_that_is_kept(tmp_path: Path) -> None:
    with keeping(ROOM):
        _written(tmp_path / "x.nc", minute_file())
        with opened_columns(tmp_path / "x.nc") as file:
            values = file.values("ghi")
            values[:] = -1.0
        with opened_columns(tmp_path / "x.nc") as file:
            assert (file.values("ghi") != values).any()


def test_a_file_that_was_replaced_touched_or_removed_is_opened_again(tmp_path: Path) -> None:
    path, other = tmp_path / "x.nc", tmp_path / "y.nc"
    write_file(other, monthly_file())
    with keeping(ROOM):
        _written(path, minute_file())
        assert kept_columns(path) is not None
        os.replace(other, path)
        assert kept_columns(path) is None
        with opened_columns(path) as file:
            assert isinstance(file, Columns)
        _written(path, minute_file())
        path.unlink()
        with pytest.raises(ArchiveError, match="cannot be read"), opened_columns(path):
            pass


def test_only_what_has_room_is_kept_and_the_longest_unread_goes_first(tmp_path: Path) -> None:
    paths = [tmp_path / f"{n}.nc" for n in "abc"]
    spec = minute_file()
    one = sum(v.data.nbytes for v in spec.variables)
    one += sum(v.data.nbytes for g in spec.groups for i in g.groups for v in i.variables)
    with keeping(5 * one // 2):
        for path in paths[:2]:
            _written(path, spec)
        assert kept_columns(paths[0]) is not None
        _written(paths[2], spec)
        assert [kept_columns(path) is not None for path in paths] == [True, False, True]
    assert [kept_columns(path) for path in paths] == [None] * 3
    with keeping(one // 2):
        _written(paths[0], spec)
        assert kept_columns(paths[0]) is None


def test_nothing_is_kept_unless_asked_for(tmp_path: Path) -> None:
    _written(tmp_path / "a.nc", minute_file())
    assert kept_columns(tmp_path / "a.nc") is None
    with keeping(ROOM):
        write_file(tmp_path / "a.nc", minute_file())
        assert kept_columns(tmp_path / "a.nc") is None


def test_names_that_are_not_there_are_told(tmp_path: Path) -> None:
    with keeping(ROOM):
        _written(tmp_path / "x.nc", minute_file())
        kept = kept_columns(tmp_path / "x.nc")
    assert kept is not None
    with pytest.raises(ArchiveError, match=r"x\.nc: has no variable rain"):
        kept.values("rain")
    with pytest.raises(ArchiveError, match="no group metadata/rain"):
        kept.table("metadata/rain")


def test_what_cannot_be_reached_is_not_kept(tmp_path: Path) -> None:
    """A folder that vanished: who reads next meets it, and not who keeps."""
    path = tmp_path / "gone" / "x.nc"
    with keeping(ROOM):
        keep(path, minute_file())
        assert kept_columns(path) is None
        path.parent.mkdir()
        _written(path, minute_file())
        assert kept_columns(path) is not None
        path.unlink()
        assert kept_columns(path) is None
