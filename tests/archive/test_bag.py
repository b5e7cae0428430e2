"""A bag is valid for another library, whole or not there, and finds what was altered in it."""

from __future__ import annotations

from pathlib import Path

import bagit
import pytest

from sunledger.archive.bag import write_bag
from sunledger.errors import ArchiveError

INFO = {"Source-Organization": "Northmere\r\nBagging-Date: 1900-01-01", "Contact-Email": "x@y.org"}


def made(folder: Path) -> Path:
    """A bag of two files."""
    source = folder / "source.nc"
    source.write_bytes(b"\x89HDF" * 100)
    write_bag(folder / "bag", {"a/b/data.nc": source, "README.txt": "ö\n".encode()}, INFO)
    return folder / "bag"


def test_valid_by_rfc_8493_for_an_independent_library(tmp_path: Path) -> None:
    bag = bagit.Bag(str(made(tmp_path)))
    bag.validate()
    assert bag.version_info == (1, 0)
    assert bag.info["Payload-Oxum"] == "403.2"
    assert bag.info["Source-Organization"] == "Northmere Bagging-Date: 1900-01-01"
    assert set(bag.algorithms) == {"sha256", "sha512"}
    assert "Bagging-Date" not in bag.info


@pytest.mark.parametrize("name", ["data/a/b/data.nc", "bag-info.txt", "manifest-sha256.txt"])
def test_altered_byte_is_found(tmp_path: Path, name: str) -> None:
    path = made(tmp_path) / name
    path.write_bytes(path.read_bytes()[:-2] + b"#\n")
    with pytest.raises(bagit.BagError):
        bagit.Bag(str(tmp_path / "bag")).validate()


def test_same_content_gives_the_same_bag(tmp_path: Path) -> None:
    bags = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        bag = made(tmp_path / name)
        bags.append({p.relative_to(bag): p.read_bytes() for p in bag.rglob("*") if p.is_file()})
    assert bags[0] == bags[1]


@pytest.mark.parametrize("name", ["../x", "a//b", "a b", "a%b", "/x", ".x", "a/../../x"])
def test_names_that_lead_elsewhere_or_need_escaping(tmp_path: Path, name: str) -> None:
    with pytest.raises(ArchiveError, match="names in a bag"):
        write_bag(tmp_path / "bag", {name: b""}, {})
    assert list(tmp_path.iterdir()) == []


def test_bag_is_never_changed_and_a_broken_one_never_stays(tmp_path: Path) -> None:
    made(tmp_path)
    with pytest.raises(ArchiveError, match="is there already"):
        made(tmp_path)
    with pytest.raises(ArchiveError, match="cannot be written: No such file"):
        write_bag(tmp_path / "other", {"x.nc": tmp_path / "nowhere.nc"}, {})
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bag", "source.nc"]
