"""Minutes come back from a file as they were written, and the same before they are written."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import small_project
from sunledger.archive.minute_series import minutes_in, read_minutes
from sunledger.archive.netcdf import read_file


@pytest.fixture(scope="module")
def paths(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The two minute files of the small project; not to be changed."""
    workflow = small_project.made_once(tmp_path_factory.getbasetemp())
    return sorted((workflow.parent / "archive" / small_project.STATION / "minute").glob("*.nc"))


def test_minutes_come_back_for_aggregation(paths: list[Path]) -> None:
    """Series along time in whole seconds, packed values unpacked, with the interval."""
    back = read_minutes(paths[0])
    assert back.attrs["interval"] == 60
    assert back["time"].dtype == np.int64
    assert {v.dims for v in back.data_vars.values()} == {("time",)}
    with xr.open_dataset(paths[0]) as ds:
        for name in ("ghi", "dni", "solar_zenith_angle"):
            np.testing.assert_array_equal(back[name].values, ds[name].values)


@pytest.mark.parametrize("words", [True, False])
def test_minutes_in_memory_are_those_of_the_file(paths: list[Path], words: bool) -> None:
    """Names, types and values, in the same order."""
    held = minutes_in(read_file(paths[0]), words)
    back = read_minutes(paths[0], words)
    xr.testing.assert_identical(held, back)
    assert list(held.data_vars) == list(back.data_vars)
    assert {n: v.dtype for n, v in held.items()} == {n: v.dtype for n, v in back.items()}


def test_some_series_are_those_of_the_whole(paths: list[Path]) -> None:
    """What the file does not have is left out."""
    whole = read_minutes(paths[0])
    some = read_minutes(paths[0], only=["ghi", "dni_flags", "no_such_series"])
    xr.testing.assert_identical(some, whole[["ghi", "dni_flags"]])
