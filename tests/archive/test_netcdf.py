"""decode(encode(spec)) is spec, the same bytes every time, and never half a file."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import h5netcdf
import netCDF4
import numpy as np
import pytest
import xarray as xr

import sunledger.archive.netcdf as netcdf
from archive.samples import (
    hourly_file,
    minute_file,
    monthly_file,
    voltage_file,
    with_attributes,
)
from sunledger.archive.content import content_digest
from sunledger.archive.netcdf import (
    FileSpec,
    GroupSpec,
    VariableSpec,
    read_file,
    read_tables,
    write_file,
)
from sunledger.errors import ArchiveError

PRODUCTS = {
    "minute": minute_file,
    "hourly": hourly_file,
    "monthly": monthly_file,
    "voltage": voltage_file,
}


def assert_same(one: FileSpec, other: FileSpec) -> None:
    """The same names, order, types, attributes and values."""
    assert list(one.attributes) == list(other.attributes)
    assert dict(one.dimensions) == dict(other.dimensions)
    assert [v.name for v in one.variables] == [v.name for v in other.variables]
    for a, b in zip(one.variables, other.variables, strict=True):
        assert (a.dimensions, a.dtype, a.packing) == (b.dimensions, b.dtype, b.packing), a.name
        assert list(a.attributes) == list(b.attributes)
        assert a.data.tobytes() == b.data.tobytes(), a.name


@pytest.mark.parametrize("product", PRODUCTS)
def test_what_is_read_is_what_was_written(tmp_path: Path, product: str) -> None:
    spec = PRODUCTS[product]()
    digest = write_file(tmp_path / "x.nc", spec)
    back = read_file(tmp_path / "x.nc")
    assert_same(spec, back)
    assert content_digest(back) == content_digest(spec) == digest
    assert list(tmp_path.iterdir()) == [tmp_path / "x.nc"]


def test_empty_table_and_text_beyond_ascii(tmp_path: Path) -> None:
    rows = (
        VariableSpec("note", ("event",), np.array([], str)),
        VariableSpec("depth", ("event",), np.zeros(0)),
    )
    words = VariableSpec("words", ("word",), np.array(["å", "", "longer"]))
    inner = (GroupSpec("events", rows), GroupSpec("words", (words,)))
    spec = FileSpec({"title": "Ångström", "n": 3}, {}, (), (GroupSpec("metadata", (), {}, inner),))
    write_file(tmp_path / "x.nc", spec)
    tables = read_tables(tmp_path / "x.nc")
    assert tables["metadata/events"]["note"].shape == (0,)
    assert tables["metadata/words"]["words"].tolist() == ["å", "", "longer"]
    for engine in ("netcdf4", "h5netcdf"):
        with xr.open_dataset(tmp_path / "x.nc", engine=engine) as ds:
            assert ds.attrs["title"] == "Ångström"


def test_no_fill_value_but_those_declared(tmp_path: Path) -> None:
    write_file(tmp_path / "x.nc", minute_file())
    with netCDF4.Dataset(tmp_path / "x.nc") as dataset:
        filled = {n for n, v in dataset.variables.items() if "_FillValue" in v.ncattrs()}
        words = ("_flags", "_tested", "_conditions", "_grade")
        assert filled.isdisjoint({"time", "time_bounds", "latitude", "crs", "station_name"})
        assert not [name for name in filled if name.endswith(words)]
        assert {"ghi", "ghi_uncertainty", "dni_std", "solar_zenith_angle"} <= filled
        assert dataset["time_bounds"].ncattrs() == []


def test_long_series_are_compressed_in_days_and_short_ones_are_not(tmp_path: Path) -> None:
    write_file(tmp_path / "x.nc", minute_file())
    with netCDF4.Dataset(tmp_path / "x.nc") as dataset:
        filters = dataset["ghi"].filters()
        assert (filters["zlib"], filters["complevel"], filters["shuffle"]) == (True, 2, True)
        assert dataset["ghi"].chunking() == [1440]
        assert dataset["time_bounds"].chunking() == [1440, 2]
        assert dataset["latitude"].chunking() == "contiguous"
        assert not [d for d in dataset.dimensions.values() if d.isunlimited()]


SCRIPT = """
import sys; from pathlib import Path
from archive.samples import minute_file, voltage_file
from sunledger.archive.netcdf import write_file
write_file(Path(sys.argv[1]) / "minute.nc", minute_file())
write_file(Path(sys.argv[1]) / "voltage.nc", voltage_file())
"""


def test_separate_processes_write_the_same_bytes(tmp_path: Path) -> None:
    """Whatever the hash seed, the time zone, the path and the garbage in fresh memory."""
    digests = set()
    for seed, zone, garbage in (("1", "UTC", "0"), ("77", "Pacific/Auckland", "170")):
        folder = tmp_path / ("long_name_" * int(seed) if seed == "1" else "x")
        folder.mkdir()
        environment = {
            **os.environ,
            "PYTHONPATH": os.pathsep.join(sys.path),
            "PYTHONHASHSEED": seed,
            "TZ": zone,
            "MALLOC_PERTURB_": garbage,
        }
        subprocess.run([sys.executable, "-c", SCRIPT, str(folder)], env=environment, check=True)
        contents = [(folder / n).read_bytes() for n in ("minute.nc", "voltage.nc")]
        digests.add(tuple(hashlib.sha256(content).hexdigest() for content in contents))
    assert len(digests) == 1


@pytest.mark.parametrize("stage", ["_write_group", "content_digest", "read_file"])
def test_failure_at_any_stage_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stage: str
) -> None:
    target = tmp_path / "x.nc"
    write_file(target, monthly_file())
    before = target.read_bytes()
    real = getattr(netcdf, stage)
    calls = []

    def fail(*args: object) -> object:
        calls.append(args)
        if stage != "content_digest" or len(calls) > 1:
            raise RuntimeError("NetCDF: HDF error")
        return real(*args)

    monkeypatch.setattr(netcdf, stage, fail)
    with pytest.raises(ArchiveError, match=r"x\.nc: cannot be written: NetCDF: HDF error \(\d+ "):
        write_file(target, hourly_file())
    assert target.read_bytes() == before
    assert list(tmp_path.iterdir()) == [target]


def with_provenance() -> FileSpec:
    """A voltage file whose history has a table of raw files as well."""
    spec = voltage_file()
    above = spec.groups[0]
    sources = replace(above.groups[0], name="provenance")
    return replace(spec, groups=(replace(above, groups=(*above.groups, sources)),))


def turned(spec: FileSpec, name: str) -> FileSpec:
    """The file with the values of a root variable in the reverse order."""
    variables = (replace(v, data=v.data[::-1]) if v.name == name else v for v in spec.variables)
    return replace(spec, variables=tuple(variables))


def table_turned(spec: FileSpec, name: str) -> FileSpec:
    """The file with the rows of a table in the reverse order."""
    above = spec.groups[0]
    tables = {group.name: group for group in above.groups}
    columns = tuple(replace(v, data=v.data[::-1]) for v in tables[name].variables)
    tables[name] = replace(tables[name], variables=columns)
    return replace(spec, groups=(replace(above, groups=tuple(tables.values())),))


def one_bit_off(spec: FileSpec, name: str) -> FileSpec:
    """The file with the last bit of a number flipped."""
    data = spec[name].data.copy()
    data.view(np.int64)[...] ^= 1
    changed = (replace(v, data=data) if v.name == name else v for v in spec.variables)
    return replace(spec, variables=tuple(changed))


ALTERED: dict[str, Callable[[FileSpec], FileSpec]] = {
    "one bit": lambda spec: one_bit_off(spec, "latitude"),
    "packed values": lambda spec: turned(spec, "global_1"),
    "numbers of raw lines": lambda spec: turned(spec, "source_line_main"),
    "table": lambda spec: table_turned(spec, "deployment"),
    "table of raw files": lambda spec: table_turned(spec, "provenance"),
    "title": lambda spec: with_attributes(spec, title="another"),
    "date": lambda spec: with_attributes(spec, date_created="2001-01-01"),
    "digest of raw files": lambda spec: with_attributes(spec, source_files_sha256="0" * 64),
}
"""Ways in which what is read back may differ; the logical digest does not see all of them."""


@pytest.mark.parametrize("way", ALTERED)
def test_altered_content_is_noticed_before_the_rename(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    real = netcdf.read_file
    monkeypatch.setattr(netcdf, "read_file", lambda path: ALTERED[way](real(path)))
    with pytest.raises(ArchiveError, match="what was read back differs"):
        write_file(tmp_path / "x.nc", with_provenance())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("most", [netcdf.LARGE, 0], ids=["whole", "in parts"])
@pytest.mark.parametrize("way", ALTERED)
def test_a_file_that_says_something_else_is_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str, most: int
) -> None:
    """Here the file itself is another than was meant, small or large."""
    real = netcdf._write
    monkeypatch.setattr(netcdf, "LARGE", most)
    monkeypatch.setattr(netcdf, "_write", lambda path, spec: real(path, ALTERED[way](spec)))
    with pytest.raises(ArchiveError, match="what was read back differs"):
        write_file(tmp_path / "x.nc", with_provenance())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("way", ["one more", "one fewer", "longer"])
def test_a_large_file_with_other_variables_is_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    spec = minute_file(rows=3)
    more = replace(spec["ghi"], name="another")
    other = {
        "one more": replace(spec, variables=(*spec.variables, more)),
        "one fewer": replace(spec, variables=spec.variables[:-1]),
        "longer": replace(spec, dimensions={**spec.dimensions, "spare": 3}),
    }[way]
    real = netcdf._write
    monkeypatch.setattr(netcdf, "LARGE", 0)
    monkeypatch.setattr(netcdf, "_write", lambda path, _: real(path, other))
    with pytest.raises(ArchiveError, match="what was read back differs"):
        write_file(tmp_path / "x.nc", spec)


def test_a_large_file_is_never_read_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor kept; its bytes and digest are those of any other."""
    spec = with_provenance()
    digest = write_file(tmp_path / "small.nc", spec)
    monkeypatch.setattr(netcdf, "LARGE", 0)
    monkeypatch.setattr(netcdf, "read_file", None)
    assert write_file(tmp_path / "large.nc", spec) == digest
    assert (tmp_path / "large.nc").read_bytes() == (tmp_path / "small.nc").read_bytes()
    with pytest.raises(ArchiveError, match="what was read back differs"):
        write_file(tmp_path / "x.nc", spec, "0" * 64)


FULL_DISK = """
import resource, signal, sys; from pathlib import Path
from archive.samples import minute_file, monthly_file
from sunledger.archive.netcdf import write_file
from sunledger.errors import ArchiveError
target = Path(sys.argv[1])
write_file(target, monthly_file())
before = target.read_bytes()
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (120_000, 120_000))
try:
    write_file(target, minute_file())
except ArchiveError as error:
    print(error)
assert target.read_bytes() == before
assert list(target.parent.iterdir()) == [target]
"""


def test_file_that_cannot_grow_is_an_archive_error(tmp_path: Path) -> None:
    """A limit on the size of files stands for a full disk."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    ended = subprocess.run(
        [sys.executable, "-c", FULL_DISK, str(tmp_path / "x.nc")],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode == 0, ended.stderr
    assert "x.nc: cannot be written" in ended.stdout


@pytest.mark.parametrize(
    ("dimensions", "message"),
    [
        ({}, "x: dimension time of length 3 is not declared"),
        ({"time": 4}, "x: dimension time of length 3 is declared with length 4"),
    ],
)
def test_dimension_that_does_not_fit(
    tmp_path: Path, dimensions: dict[str, int], message: str
) -> None:
    spec = FileSpec({}, dimensions, (VariableSpec("x", ("time",), np.arange(3)),))
    with pytest.raises(ArchiveError, match=message):
        write_file(tmp_path / "x.nc", spec)
    assert list(tmp_path.iterdir()) == []


def test_every_reader_sees_the_same(tmp_path: Path) -> None:
    path = tmp_path / "x.nc"
    spec = minute_file()
    write_file(path, spec)
    expected = spec["ghi"].data
    with netCDF4.Dataset(path) as dataset:
        assert np.array_equal(np.ma.filled(dataset["ghi"][:], np.nan), expected, equal_nan=True)
    with h5netcdf.File(path) as file:
        assert np.array_equal(file["ghi"][:], expected, equal_nan=True)
    for engine in ("netcdf4", "h5netcdf"):
        with xr.open_dataset(path, engine=engine) as ds:
            assert np.array_equal(ds["ghi"].values, expected, equal_nan=True)
            assert ds["ghi_flags"].dtype == np.int32
            assert ds["station_name"].item() == "Össel Ridge"
            assert ds["time"].values[1] == np.datetime64("2031-03-01T00:01")


@pytest.mark.filterwarnings("ignore:In a future version of xarray:FutureWarning")
@pytest.mark.parametrize("new_defaults", [False, True])
def test_months_with_different_tables_join_without_options(
    tmp_path: Path, new_defaults: bool
) -> None:
    paths = []
    for rows, month in enumerate(("2031-01", "2031-02", "2031-03"), start=1):
        paths.append(tmp_path / f"{month}.nc")
        write_file(paths[-1], minute_file(month, rows=rows))
    options = xr.set_options(use_new_combine_kwarg_defaults=new_defaults)
    with options, xr.open_mfdataset(paths) as ds:
        assert ds.sizes["time"] == 3 * 3 * 1440
        assert ds["ghi_flags"].dtype == np.int32
        assert ds["time"].to_index().is_monotonic_increasing
        assert int((ds["ghi_flags"] != 0).sum()) == 6


def test_a_digest_that_is_not_its_own_stops_the_file(tmp_path: Path) -> None:
    """What is said to be known is held against what is read back, as what is computed is."""
    spec = minute_file(rows=3)
    with pytest.raises(ArchiveError, match="differs from what was written"):
        write_file(tmp_path / "x.nc", spec, "0" * 64)
    assert list(tmp_path.iterdir()) == []
    assert write_file(tmp_path / "x.nc", spec, content_digest(spec)) == content_digest(spec)
