"""Reading back what was written: whole, in part, with little memory; and what cannot be read."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import h5py
import numpy as np
import pytest

from archive.samples import minute_file, monthly_file, voltage_file
from sunledger.archive import netcdf, netcdf_reading
from sunledger.archive.netcdf import read_file, read_tables, write_file
from sunledger.errors import ArchiveError


def test_slice_of_some_variables(tmp_path: Path) -> None:
    spec = minute_file()
    write_file(tmp_path / "x.nc", spec)
    part = read_file(tmp_path / "x.nc", ["ghi", "latitude", "time_bounds"], {"time": (100, 110)})
    assert [v.name for v in part.variables] == ["ghi", "latitude", "time_bounds"]
    assert dict(part.dimensions) == {"time": 10, "bound": 2}
    assert np.array_equal(part["ghi"].data, spec["ghi"].data[100:110])
    assert part["time_bounds"].data.shape == (10, 2)
    assert part.groups == ()


def test_tables_by_group_and_column(tmp_path: Path) -> None:
    write_file(tmp_path / "x.nc", minute_file(rows=3))
    tables = read_tables(tmp_path / "x.nc")
    assert list(tables) == ["metadata/deployment"]
    columns = tables["metadata/deployment"]
    assert columns["serial_number"].tolist() == ["N-000", "N-001", "N-002"]
    assert columns["sensitivity"].tolist() == [8.5, 9.5, 10.5]
    assert np.isnan(columns["deployment_end"]).all()


def test_a_large_variable_is_written_alike(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its chunks go to the disk as they are packed; what the HDF5 library reads is the same."""
    spec = voltage_file()
    digest = write_file(tmp_path / "small.nc", spec)
    monkeypatch.setattr(netcdf_reading, "MANY", 10_000)
    assert write_file(tmp_path / "large.nc", spec) == digest
    with h5py.File(tmp_path / "small.nc") as one, h5py.File(tmp_path / "large.nc") as other:
        for variable in spec.variables:
            assert one[variable.name][()].tobytes() == other[variable.name][()].tobytes()
        assert other["global_1"].chunks == one["global_1"].chunks == (netcdf.CHUNK,)


PEAK = """
import sys; from pathlib import Path
import numpy as np
from sunledger.archive import netcdf, netcdf_reading
from sunledger.archive.specification import FileSpec, Packing, VariableSpec
values = np.arange(3_000_000) / 10.0
variables = tuple(
    VariableSpec(f"v{n}", ("time",), values, {}, packing=Packing(1)) for n in range(20)
)
netcdf_reading.MANY = int(sys.argv[2])
netcdf.write_file(Path(sys.argv[1]), FileSpec({}, {"time": values.size}, variables))
# of this program alone: what `resource` tells starts with the peak of the one that started it
status = dict(line.split(":") for line in Path("/proc/self/status").read_text().splitlines())
print(int(status["VmHWM"].split()[0]) // 1024)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="reads the peak where the system tells it")
def test_large_variables_are_not_held_packed(tmp_path: Path) -> None:
    """Of twenty variables of 12 MB the library would hold 240 MB until the file is closed."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    peaks = []
    for many in (netcdf_reading.MANY, 1 << 40):
        words = [sys.executable, "-c", PEAK, str(tmp_path / "x.nc"), str(many)]
        done = subprocess.run(words, env=environment, capture_output=True, text=True, check=True)
        peaks.append(int(done.stdout))
    assert peaks[0] < peaks[1] - 50


def test_reading_what_is_no_file_of_ours(tmp_path: Path) -> None:
    (tmp_path / "x.nc").write_bytes(b"rubbish")
    with pytest.raises(ArchiveError, match=r"x\.nc: cannot be read"):
        read_file(tmp_path / "x.nc")
    with pytest.raises(ArchiveError, match=r"absent\.nc: cannot be read"):
        read_tables(tmp_path / "absent.nc")
    write_file(tmp_path / "x.nc", monthly_file())
    with pytest.raises(ArchiveError, match=r"x\.nc: has no variable dhi, dni$"):
        read_file(tmp_path / "x.nc", ["ghi", "dhi", "dni"])


def test_cut_file_is_an_archive_error(tmp_path: Path) -> None:
    write_file(tmp_path / "x.nc", minute_file())
    whole = (tmp_path / "x.nc").read_bytes()
    (tmp_path / "x.nc").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(ArchiveError, match=r"x\.nc: cannot be read"):
        read_file(tmp_path / "x.nc")
