"""The report on one raw file: where it may lie, and what comes back."""

from __future__ import annotations

from pathlib import Path

import pytest

import raw_tables
from sunledger.errors import RawFileError
from sunledger.run.looking import look_report

LINES = ["stamp,a,b", *(f"2031-03-08 00:{i:02},{i}.5,2" for i in range(30))]


def test_the_name_is_that_below_the_root(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a root, the folder of the file is it; relative paths will do."""
    path = raw_tables.stored(tmp_path, "x/a1.txt", raw_tables.joined(LINES)).path
    assert look_report(path)[0][0].startswith("a1.txt: 30 rows")
    lines, yaml = look_report(path, tmp_path)
    assert lines[0].startswith("x/a1.txt: 30 rows")
    assert 'files: ["x/a*.txt"]' in yaml
    monkeypatch.chdir(tmp_path)
    assert look_report(Path("x/a1.txt"), Path())[0] == lines


def test_a_file_outside_the_root_is_refused(tmp_path: Path) -> None:
    """Also where a link leads out."""
    path = raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(LINES)).path
    (tmp_path / "raw").mkdir()
    (tmp_path / "raw" / "b.txt").symlink_to(path)
    for wrong in (path, tmp_path / "raw" / "b.txt"):
        with pytest.raises(RawFileError, match="leads outside the raw folder"):
            look_report(wrong, tmp_path / "raw")
