"""The raw line behind a reading: shown, or said why not."""

from __future__ import annotations

import bz2
import gzip
from hashlib import sha256
from pathlib import Path

import pytest

from sunledger.run.raw_lines import LONGEST, raw_line

TEXT = b"a,b\r\n1,2\n3,4\r\n5,6"


def write(folder: Path, name: str, content: bytes) -> str:
    """A raw file, and its digest."""
    (folder / name).parent.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(content)
    return sha256(content).hexdigest()


@pytest.mark.parametrize(
    ("name", "packed"),
    [("x/a.csv", TEXT), ("a.csv.gz", gzip.compress(TEXT)), ("a.csv.bz2", bz2.compress(TEXT))],
    ids=["plain", "gzip", "bzip2"],  # the packed bytes hold the time, and would name the test
)
def test_each_line_by_its_number(tmp_path: Path, name: str, packed: bytes) -> None:
    digest = write(tmp_path, name, packed)
    shown = [raw_line(tmp_path, name, digest, n)[-1] for n in (1, 2, 3, 4)]
    assert shown == ["a,b", "1,2", "3,4", "5,6"]
    assert raw_line(tmp_path, name, digest, 2)[0] == f"{name}, line 2"
    assert "no longer has that many lines" in raw_line(tmp_path, name, digest, 5)[-1]


def test_what_cannot_be_shown_says_why(tmp_path: Path) -> None:
    digest = write(tmp_path, "a.csv", TEXT)
    assert "no folder of raw files was given" in raw_line(None, "a.csv", digest, 2)[1]
    assert "is gone" in raw_line(tmp_path, "b.csv", digest, 2)[1]
    outside = raw_line(tmp_path / "inner", "../a.csv", digest, 2)
    assert "1,2" not in outside


def test_changed_file_is_said_to_be_changed(tmp_path: Path) -> None:
    digest = write(tmp_path, "a.csv", TEXT)
    write(tmp_path, "a.csv", TEXT.replace(b"1,2", b"1,9"))
    _, note, line = raw_line(tmp_path, "a.csv", digest, 2)
    assert "has changed since" in note
    assert line == "1,9"


def test_endless_line_is_cut(tmp_path: Path) -> None:
    digest = write(tmp_path, "a.csv", b"1" * 5000 + b"\n2\n")
    assert len(raw_line(tmp_path, "a.csv", digest, 1)[1]) == LONGEST
