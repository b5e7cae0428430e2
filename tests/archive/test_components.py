"""Components of the uncertainty in minute files: pass the checkers, make the whole, are checked."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import small_project
from archive.compliance import unexpected
from sunledger.archive.components import component_faults, components_of
from sunledger.archive.minute_series import read_minutes
from sunledger.archive.netcdf import read_file
from sunledger.archive.verify import verify
from sunledger.run.explained_physics import uncertainty_lines
from sunledger.run.job import Choice, run
from sunledger.run.tracing import trace

NAME = "tst_minute_2031-06.nc"


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Archive of the small project that keeps components; not to be changed."""
    workflow = small_project.write_project(tmp_path_factory.mktemp("components") / "p")
    small_project.edit(
        workflow, "processing", lambda p: p.update(uncertainty={"components_in_minutes": True})
    )
    _, outcomes = run(workflow, Choice(), lambda *_: None)
    assert {o.done for o in outcomes} == {"written"}, [o.error for o in outcomes if o.error]
    return workflow.parent / "archive"


@pytest.fixture(scope="module")
def path(archive: Path) -> Path:
    return archive / "tst" / "minute" / NAME


def test_they_are_left_out_by_default(tmp_path_factory: pytest.TempPathFactory, path: Path) -> None:
    """And what there is without them is the same with them."""
    usual = small_project.made_once(tmp_path_factory.getbasetemp()).parent / "archive" / "tst"
    with xr.open_dataset(usual / "minute" / NAME) as ds:
        assert components_of(map(str, ds.data_vars)) == {}
        with xr.open_dataset(path) as kept:
            for name in ds.data_vars:
                np.testing.assert_array_equal(kept[name].values, ds[name].values)


def test_the_file_passes_the_checkers(path: Path) -> None:
    """Components have no standard name, as CF has none for them."""
    names = components_of(v.name for v in read_file(path).variables)
    nameless = [name for parts in names.values() for name in parts]
    nameless += [f"clock_residual_{n}" for n in small_project.LOGGERS]
    assert unexpected(path, nameless) == []


def test_they_are_ancillary_and_make_the_whole(archive: Path, path: Path) -> None:
    """Twice the root of the sum of squares (JCGM 100:2008, eq. 10), within the archived steps."""
    assert verify(archive) == ()
    with xr.open_dataset(path) as ds:
        for quantity in ("ghi", "dhi", "dni"):
            stated = ds[f"{quantity}_uncertainty"]
            names = stated.attrs["ancillary_variables"].split()
            assert f"{quantity}_uncertainty_calibration" in names
            assert ds[names[0]].attrs["units"] == "W m-2"
            whole = 2 * np.sqrt(sum(ds[n].values.astype(float) ** 2 for n in names))
            np.testing.assert_allclose(whole, stated.values, atol=2.0**-8 + 5 * 2.0**-10)
        shaded = set(ds["dhi_uncertainty"].attrs["ancillary_variables"].split())
    assert "dhi_uncertainty_shade_geometry" in shaded


def test_calibration_by_hand(path: Path) -> None:
    """U = 1.2 %, k = 2: 0.6 % of the value."""
    with xr.open_dataset(path) as ds:
        value, part = ds["ghi"].values, ds["ghi_uncertainty_calibration"].values
    known = np.isfinite(value)
    np.testing.assert_allclose(part[known], 0.006 * np.abs(value[known]), atol=2.0**-10)
    assert np.isnan(part[~known]).all()


def test_means_do_not_read_them(path: Path) -> None:
    """They would cost time."""
    assert not components_of(map(str, read_minutes(path, words=False).data_vars))


@pytest.mark.parametrize("factor", [1.01, 0.99])
def test_a_component_that_is_another_is_named(path: Path, factor: float) -> None:
    """One percent of the largest part in bright minutes."""
    spec = read_file(path)
    name = "ghi_uncertainty_directional"
    wrong = tuple(
        replace(v, data=v.data * np.float32(factor)) if v.name == name else v
        for v in spec.variables
    )
    assert list(component_faults(spec)) == []
    (why,) = component_faults(replace(spec, variables=wrong))
    assert why.startswith("ghi: the components do not make the uncertainty in ")


def test_explain_uses_them(archive: Path) -> None:
    """As the file holds them, and the sum is that of the file."""
    when = int(np.datetime64("2031-06-29T10:17", "s").astype(int))
    found = trace(archive, "tst", "ghi", when)
    other = replace(found, archived=found.archived | {"ghi_uncertainty_calibration": 77.0})
    lines = list(uncertainty_lines(found))
    assert lines[0] == "components as the file holds them"
    assert any(x.startswith("calibration 77.00 W m-2") for x in uncertainty_lines(other))
    assert not any("77.00" in x for x in lines)
