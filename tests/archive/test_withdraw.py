"""A withdrawn file stays where it is, says so everywhere, and is not brought back by a rerun."""

from __future__ import annotations

from pathlib import Path

import netCDF4
import numpy as np
import pytest

import small_project
from archive.samples import monthly_file
from archive.small import SOFTWARE, put, scaled, small_archive
from sunledger.archive.change_pages import months_affected
from sunledger.archive.changes import Made, read_record
from sunledger.archive.manifest import read_manifest
from sunledger.archive.verify import verify
from sunledger.archive.withdraw import withdraw
from sunledger.errors import ArchiveError
from sunledger.run.job import Choice, prepare, run

REASON = "instrument mixed up\nwith its neighbour"
MONTHLY = Made("monthly", "2031", "", "2031-12-05", SOFTWARE, "a certificate came",
               parts={"2031-01": "a", "2031-02": "b", "2031-03": "c"})  # fmt: skip


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The station of a small archive."""
    return small_archive(tmp_path) / "ossel"


def test_file_stays_and_record_manifest_file_and_pages_say_so(folder: Path) -> None:
    path = folder / "monthly" / "ossel_monthly_2031.nc"
    before = netCDF4.Dataset(path)["ghi"][:]
    entry = withdraw(folder, "monthly", "2031", REASON, "2031-11-02")
    assert (entry.status, entry.version, entry.action) == ("withdrawn", 1, "restated")
    assert entry.cause == "instrument mixed up with its neighbour"
    manifest = read_manifest(path)
    assert manifest is not None
    assert (manifest.status, manifest.version) == ("withdrawn", 1)
    with netCDF4.Dataset(path) as ds:
        assert ds.product_status == "withdrawn"
        assert "2031-11-02" in ds.history
        assert "mixed up with its neighbour" in ds.history
        np.testing.assert_array_equal(ds["ghi"][:], before)
    assert "monthly 2031: restated (version 1, withdrawn" in (folder / "CHANGES.txt").read_text()
    assert verify(folder.parent) == ()


def test_second_call_changes_nothing(folder: Path) -> None:
    first = withdraw(folder, "monthly", "2031", REASON, "2031-11-02")
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    assert withdraw(folder, "monthly", "2031", "another reason", "2031-12-24") == first
    assert {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()} == before


def test_rerun_with_the_same_values_leaves_it_withdrawn_and_rebuild_gives_the_same_bytes(
    folder: Path,
) -> None:
    withdraw(folder, "monthly", "2031", REASON, "2031-11-02")
    path = folder / "monthly" / "ossel_monthly_2031.nc"
    before = path.read_bytes()
    outcome = put(folder.parent, monthly_file(), MONTHLY, key="other")
    assert (outcome.done, outcome.status) == ("unchanged", "withdrawn")
    path.unlink()
    outcome = put(folder.parent, monthly_file(), MONTHLY, key="other")
    assert outcome.status == "withdrawn"
    assert path.read_bytes() == before


def test_other_values_are_a_revision_and_the_withdrawn_file_is_kept(folder: Path) -> None:
    withdraw(folder, "monthly", "2031", REASON, "2031-11-02")
    outcome = put(folder.parent, scaled(monthly_file(), ("ghi",), 1.1), MONTHLY)
    assert (outcome.version, outcome.status) == (2, "provisional")
    kept = read_manifest(folder / "monthly" / "superseded" / "ossel_monthly_2031_v1.nc")
    assert kept is not None
    assert kept.status == "withdrawn"


@pytest.mark.parametrize(
    ("product", "period", "reason", "day", "why"),
    [
        ("daily", "2031", "x", "2031-11-02", "there are: minute 2031-03, monthly 2031"),
        ("monthly", "2031", " \n", "2031-11-02", "a reason must be given"),
        ("monthly", "2031", "x", "2.11.2031", "must be YYYY-MM-DD"),
        ("monthly", "2031", "x", "2031-01-02", "was issued on 2031-04-05"),
        ("../../x", "2031", "x", "2031-11-02", "no such published file"),
    ],
)
def test_refused(folder: Path, product: str, period: str, reason: str, day: str, why: str) -> None:
    with pytest.raises(ArchiveError, match=why):
        withdraw(folder, product, period, reason, day)
    assert len(read_record(folder / "changes.jsonl").entries) == 3


def test_altered_file_is_not_given_a_new_manifest(folder: Path) -> None:
    path = folder / "monthly" / "ossel_monthly_2031.nc"
    with netCDF4.Dataset(path, "a") as ds:
        ds["ghi"][0] = 7.0
    with pytest.raises(ArchiveError, match="was altered; restore it first"):
        withdraw(folder, "monthly", "2031", "x", "2031-11-02")


def test_means_leave_a_withdrawn_month_out_and_then_all_is_fresh(
    tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    made = small_project.made_once(tmp_path_factory.getbasetemp())
    workflow = small_project.copy_of(made, tmp_path / "project")
    folder = workflow.parent / "archive" / small_project.STATION
    withdraw(folder, "minute", "2031-06", "x", "2031-11-02")
    _, outcomes = run(workflow, Choice(), lambda *_: None)
    written = {o.unit.split()[1] for o in outcomes if o.done == "written"}
    assert written == {"hourly", "daily", "monthly"}
    with netCDF4.Dataset(folder / "daily" / f"{small_project.STATION}_daily_2031.nc") as ds:
        assert ds.product_version == "2"
        assert np.ma.min(ds["time"][:]) == np.datetime64("2031-07-01", "s").astype(int)
    assert prepare(workflow, Choice()).plan.stale() == ()
    assert verify(folder.parent) == ()
    months = {e.period: m for e, m in months_affected(read_record(folder / "changes.jsonl"))
              if (e.product, e.version) == ("daily", 2)}  # fmt: skip
    assert months == {"2031": ("2031-06",)}
