"""Findings files: one form in bytes, every altered byte seen."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from sunledger.archive.findings_file import (
    TABLE_COLUMNS,
    FindingsFile,
    findings_bytes,
    findings_contradict,
    findings_faults,
    findings_files,
    findings_path,
    findings_told,
    read_findings,
    table_bytes,
    write_findings,
)
from sunledger.archive.manifest import Manifest
from sunledger.errors import ArchiveError

ROW = {
    "id": "osr-2031-03-x",
    "name": "x",
    "size": 0.5,
    "action": "=level it",
    "cannot_tell": ["a", "b"],
    "evidence": {"days": 9, "between": ["x", "y"]},
}
FILE = FindingsFile({"station": "osr", "period": "2031-03", "key": "k", "verdicts": {}}, (ROW,))


@pytest.fixture
def written(tmp_path: Path) -> Path:
    """A findings file in a station's folder."""
    path = findings_path(tmp_path / "osr", "2031-03")
    write_findings(path, FILE)
    return path


def test_read_back_as_written(written: Path) -> None:
    """And the same content gives the same bytes."""
    assert read_findings(written) == FILE
    assert findings_bytes(read_findings(written)) == written.read_bytes()
    assert list(findings_faults(written.parent.parent)) == []


def test_findings_alone_are_those_of_the_whole_file(written: Path) -> None:
    """And a line that is cut, a file that is empty or missing, is told with its path."""
    assert findings_told(written) == FILE.rows
    whole = written.read_bytes()
    for content in (whole[:-5], b"", b"\xff\n{}\n"):
        written.write_bytes(content)
        with pytest.raises(ArchiveError, match=r"osr_findings_2031-03\.jsonl: was altered"):
            findings_told(written)
    written.unlink()
    with pytest.raises(ArchiveError, match="cannot be read: No such file"):
        findings_told(written)


def test_cells_are_one_line_of_text() -> None:
    """Numbers, truth, nothing, lists and names within; what opens like a formula is quoted."""
    row = {
        "id": 1.5e-7,
        "station": True,
        "period": None,
        "name": ["a", 2],
        "size": {"b": 1, "a": [2]},
    }
    row |= {"target": "+x", "onset": -3, "action": ("y", None)}
    (cells,) = csv.reader(table_bytes([row]).decode().splitlines()[1:])
    told = dict(zip(TABLE_COLUMNS, cells, strict=True))
    assert {n: told[n] for n in row} == {
        "id": "1.5e-07",
        "station": "True",
        "period": "",
        "name": "a; 2",
        "size": "a: [2]; b: 1",
        "target": "'+x",
        "onset": "-3",
        "action": "y; None",
    }


def test_table_of_nested_evidence_stays_the_same(tmp_path: Path) -> None:
    """Names within names come back from JSON in order, whatever order they were given in."""
    path = findings_path(tmp_path / "osr", "2031-03")
    nested = {"misfits": {"lean": 2.5, "clock": 1.5}, "parts": [{"b": 1, "a": 2}]}
    write_findings(path, replace(FILE, rows=({**ROW, "evidence": nested},)))
    assert path.with_suffix(".csv").read_bytes() == table_bytes(read_findings(path).rows)
    assert list(findings_faults(path.parents[1])) == []


def test_every_altered_byte_is_seen(written: Path) -> None:
    """Each byte changed in turn; none goes unnoticed."""
    content = written.read_bytes()
    for at in range(len(content)):
        written.write_bytes(content[:at] + bytes([content[at] ^ 1]) + content[at + 1 :])
        with pytest.raises(ArchiveError, match=r"2031-03.jsonl: was altered"):
            read_findings(written)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    """With the system's reason."""
    with pytest.raises(ArchiveError, match="cannot be read: No such file"):
        read_findings(tmp_path / "none.jsonl")


def test_an_emptied_file_is_altered(written: Path) -> None:
    """An empty file is no findings file."""
    written.write_bytes(b"")
    with pytest.raises(ArchiveError, match="was altered"):
        read_findings(written)


def test_table_says_the_same(written: Path) -> None:
    """One row a finding; no cell that a spreadsheet would compute."""
    with written.with_suffix(".csv").open(newline="") as stream:
        (row,) = csv.DictReader(stream)
    assert (row["id"], row["size"], row["action"]) == (ROW["id"], "0.5", "'=level it")
    assert row["cannot_tell"] == "a; b"
    assert row["onset"] == ""
    assert row["evidence"] == "between: ['x', 'y']; days: 9"
    asked_for = {"station", "period", "name", "size", "lower", "upper", "action", "severity"}
    assert asked_for < set(row)
    assert table_bytes(()).count(b"\n") == 1


def test_faults_are_named(written: Path) -> None:
    """A table that says something else, a file under another month's name, an altered file."""
    station = written.parent.parent
    written.with_suffix(".csv").write_text("other")
    ((path, why),) = findings_faults(station)
    assert path.suffix == ".csv"
    assert "does not say what" in why
    moved = findings_path(station, "2031-04")
    written.rename(moved)
    written.with_suffix(".csv").unlink()
    faults = {p.name: w for p, w in findings_faults(station)}
    assert "name of its month" in faults[moved.name]
    moved.write_bytes(moved.read_bytes()[:-2])
    assert "was altered" in dict(findings_faults(station))[moved]
    assert findings_files(station) == {moved, moved.with_suffix(".csv")}


def test_what_a_manifest_tells_is_compared(written: Path) -> None:
    """The same rows agree; others, or a file that is gone, do not; an altered one is not judged."""
    product = written.parent.parent / "minute" / "osr_minute_2031-03.nc"
    manifest = Manifest("minute", "osr", "2031-03", "k", findings=(ROW,))
    assert findings_contradict(product, manifest) == ""
    assert findings_contradict(product, replace(manifest, findings=None)) == ""
    assert "are not those of" in findings_contradict(product, replace(manifest, findings=()))
    written.write_bytes(written.read_bytes()[:-3])
    assert findings_contradict(product, replace(manifest, findings=())) == ""
    written.unlink()
    assert "is missing" in findings_contradict(product, manifest)
    assert findings_contradict(product, replace(manifest, findings=None)) == ""
