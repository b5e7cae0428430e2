"""A deposit holds data, manifests, provenance, licence and metadata, and is a valid bag."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import bagit
import netCDF4
import pytest
from datacite import schema45
from prov.model import ProvDocument

from archive.samples import minute_file
from archive.small import SOFTWARE, put, small_archive
from sunledger.archive.changes import Made
from sunledger.archive.deposit import deposit
from sunledger.archive.withdraw import withdraw
from sunledger.errors import ArchiveError


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    """A small archive."""
    return small_archive(tmp_path / "archive")


def test_whole_and_valid(archive: Path, tmp_path: Path) -> None:
    bag = tmp_path / "bag"
    assert len(deposit(archive, "ossel", bag, doi="10.5072/x.1")) == 2
    read = bagit.Bag(str(bag))
    read.validate()
    assert read.info["External-Identifier"] == "10.5072/x.1"
    assert read.info["Bagging-Date"] == "2031-09-01"
    payload = {str(p.relative_to(bag / "data")) for p in bag.glob("data/**/*") if p.is_file()}
    assert payload == {
        "LICENCE.txt",
        "README.txt",
        "changes.jsonl",
        "datacite.json",
        "provenance.json",
        "ossel/minute/ossel_minute_2031-03.nc",
        "ossel/minute/ossel_minute_2031-03.nc.json",
        "ossel/monthly/ossel_monthly_2031.nc",
        "ossel/monthly/ossel_monthly_2031.nc.json",
    }
    schema45.validator.validate(json.loads((bag / "data" / "datacite.json").read_text()))
    document = (bag / "data" / "provenance.json").read_text()
    assert ProvDocument.deserialize(content=document, format="json").get_records()
    assert "creativecommons.org" in (bag / "data" / "LICENCE.txt").read_text(encoding="utf-8")


def test_products_and_period(archive: Path, tmp_path: Path) -> None:
    (file,) = deposit(archive, "ossel", tmp_path / "bag", ("2031-03", "2031-03"), ["minute"])
    assert file.path.name == "ossel_minute_2031-03.nc"
    with pytest.raises(ArchiveError, match="holds nothing of ossel that fits"):
        deposit(archive, "ossel", tmp_path / "other", ("2032", ""))


def test_open_and_withdrawn_files_are_never_deposited(archive: Path, tmp_path: Path) -> None:
    made = Made("minute", "2031-04", "", "2031-04-05", SOFTWARE, "x", "open")
    put(archive, minute_file("2031-04", days=1), made)
    withdraw(archive / "ossel", "monthly", "2031", "x", "2031-10-01")
    names = [f.path.name for f in deposit(archive, "ossel", tmp_path / "bag")]
    assert names == ["ossel_minute_2031-03.nc"]
    with pytest.raises(ArchiveError, match="open or withdrawn"):
        deposit(archive, "ossel", tmp_path / "two", ("2031-04", "2031-04"))


def test_altered_file_is_not_packed(archive: Path, tmp_path: Path) -> None:
    with netCDF4.Dataset(archive / "ossel" / "monthly" / "ossel_monthly_2031.nc", "a") as ds:
        ds["ghi"][0] = 7.0
    with pytest.raises(ArchiveError, match=r"altered since it was written: ossel_monthly_2031\.nc"):
        deposit(archive, "ossel", tmp_path / "bag")
    assert not (tmp_path / "bag").exists()


def test_same_archive_gives_the_same_bag(archive: Path, tmp_path: Path) -> None:
    other = Path(shutil.copytree(archive, tmp_path / "elsewhere"))
    bags = []
    for name, source in (("a", archive), ("b", other)):
        deposit(source, "ossel", tmp_path / name)
        bags.append({p.relative_to(tmp_path / name): p.read_bytes()
                     for p in (tmp_path / name).rglob("*") if p.is_file()})  # fmt: skip
    assert bags[0] == bags[1]


@pytest.mark.parametrize("station", ["../ossel", "Ossel", "/"])
def test_names_that_lead_elsewhere(archive: Path, tmp_path: Path, station: str) -> None:
    with pytest.raises(ArchiveError, match="is no name in an archive"):
        deposit(archive, station, tmp_path / "bag")
