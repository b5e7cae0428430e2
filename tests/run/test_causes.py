"""Kinds of failure are told apart."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest
from distributed.scheduler import KilledWorker

from sunledger.archive import netcdf
from sunledger.archive.atomic import replace_file
from sunledger.errors import ArchiveError, RawFileError
from sunledger.run.causes import cause_of


def wrapped(error: Exception) -> ArchiveError:
    """An error of the archive that another one led to."""
    out = ArchiveError("tst_minute_2031-06.nc: cannot be written")
    out.__cause__ = error
    return out


@pytest.mark.parametrize(
    ("error", "cause"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), "out of disk"),
        (wrapped(OSError(errno.EDQUOT, "Disk quota exceeded")), "out of disk"),
        (wrapped(OSError(errno.EACCES, "Permission denied")), "system"),
        (OSError(errno.EIO, "Input/output error"), "system"),
        (MemoryError(), "out of memory"),
        (FileNotFoundError(errno.ENOENT, "No such file", "raw/x.csv"), "raw file vanished"),
        (wrapped(FileNotFoundError(errno.ENOENT, "No such file", "y.nc")), "system"),
        (RawFileError("raw/x.csv", 3, "no such column"), "data"),
        (ArchiveError("z.nc: what was read back differs"), "data"),
        (ZeroDivisionError(), "bug"),
        (KilledWorker("task", None, 3), "worker lost"),
    ],
)
def test_causes(error: BaseException, cause: str) -> None:
    """By type and error number, through the errors that led to it."""
    assert cause_of(error) == cause


def test_a_full_disk_below_a_writer(tmp_path: Path) -> None:
    """What the system says is kept when the error is put in the archive's words."""

    def full(_: Path) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(ArchiveError) as caught:
        replace_file(tmp_path / "x", full)
    assert cause_of(caught.value) == "out of disk"


HDF_ERROR = RuntimeError("NetCDF: HDF error")
REFUSED = PermissionError(errno.EACCES, "Permission denied")


@pytest.mark.parametrize(
    ("error", "free", "cause"),
    [
        (HDF_ERROR, 0, "out of disk"),
        (HDF_ERROR, 10**10, "data"),
        (REFUSED, 0, "out of disk"),
        (REFUSED, 10**10, "system"),
    ],
)
def test_a_full_disk_below_the_netcdf_library(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception, free: int, cause: str
) -> None:
    """The library has one word for all faults and another as it begins; the room left tells."""
    from archive.samples import monthly_file

    def fault(*_: object) -> None:
        raise error

    class Usage:
        """What the system says of the disk."""

        def __init__(self, free: int) -> None:
            self.free = free

    monkeypatch.setattr(netcdf, "_write", fault)
    monkeypatch.setattr(netcdf.shutil, "disk_usage", lambda _: Usage(free))
    with pytest.raises(ArchiveError, match=r"HDF error|Permission denied") as caught:
        netcdf.write_file(tmp_path / "x.nc", monthly_file())
    assert cause_of(caught.value) == cause
