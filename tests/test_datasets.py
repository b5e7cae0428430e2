"""Columns keep their arrays, and a whole run needs no other kinds of arrays."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import small_project
from sunledger.datasets import as_variables, taken

SCRIPT = """
import sys
from sunledger.cli import main
try:
    main()
except SystemExit as ended:
    assert not ended.code, ended.code
assert "xarray" in sys.modules
print([name for name in ("dask", "distributed", "pint") if name in sys.modules])
"""


def test_a_dataset_of_columns_is_the_one_that_xarray_makes_itself() -> None:
    """Against xarray's own way from the same arrays, attributes and an index included."""
    rng = np.random.default_rng(1)
    named = {
        "a": ("time", rng.normal(size=5).astype(np.float32), {"units": "W m-2"}),
        "b": ("time", np.arange(5) > 2),
        "name": ("row", np.array(["x", "yz"])),
        "both": (("row", "time"), rng.integers(0, 9, (2, 5))),
        "one": ((), 4.5),
    }
    time = {"time": ("time", np.arange(5) * 60)}
    made = xr.Dataset(as_variables(named), as_variables(time), {"interval": 60})
    xr.testing.assert_identical(made, xr.Dataset(named, time, {"interval": 60}))
    assert np.shares_memory(made["a"].values, named["a"][1])


@pytest.mark.parametrize("values", [np.array([None, "a"], object), np.array(["2031-01-01"], "M8")])
def test_what_xarray_has_to_look_over_is_refused(values: np.ndarray) -> None:
    with pytest.raises(TypeError, match="odd: numbers, truth values or text are wanted"):
        as_variables({"odd": ("row", values)})


@pytest.mark.parametrize("rows", [slice(1, 4), np.array([0, 2, 4]), np.array([], np.int64)])
def test_some_places_of_a_dataset_are_those_that_xarray_takes(
    rows: slice | np.ndarray,
) -> None:
    """Against `isel` of xarray: an index, two dimensions at once, text, and what has neither."""
    rng = np.random.default_rng(2)
    ds = xr.Dataset(
        {
            "a": ("time", rng.normal(size=5).astype(np.float32), {"units": "W m-2"}),
            "b": ("other", np.array(["x", "yz", "w"])),
            "both": (("other", "time"), rng.integers(0, 9, (3, 5))),
            "one": ((), 4.5),
        },
        {"time": ("time", np.arange(5) * 60), "height": ("other", [1.0, 2.0, 4.0])},
        {"interval": 60},
    )
    before = ds.copy(deep=True)
    chosen = {"time": rows, "other": np.array([2, 0])}
    for places in (chosen, {"time": rows}):
        part = taken(ds, places)
        xr.testing.assert_identical(part, ds.isel(places))
        assert list(part.indexes) == ["time"]
        assert {n: part[n].dtype for n in part} == {n: ds[n].dtype for n in ds}
    xr.testing.assert_identical(ds, before)


def test_a_run_of_one_process_imports_no_other_kinds_of_arrays(tmp_path: Path) -> None:
    """They would cost every process up to half a second and 30 MB."""
    workflow = small_project.write_project(tmp_path, days=("2031-06-10",))
    words = ["run", str(workflow), "--archive", str(tmp_path / "archive"), "--workers", "1"]
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, *words], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "[]"
