"""The index of raw files: opened once, changes noticed."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import raw_tables
from sunledger.config.models.station import Logger, Station
from sunledger.run import file_index
from sunledger.run.file_index import (
    FileIndex,
    IndexedFile,
    files_for,
    layout_digest,
    load_index,
    matching_files,
    save_index,
    still_there,
    unmatched_files,
    update_index,
)
from sunledger.stages.ingest import month_bounds

START, END = month_bounds("2031-03")


def _station(*patterns: str) -> Station:
    return raw_tables.station(main=raw_tables.logger(files=patterns or ("**/*.txt",)))


def _store(root: Path, name: str, labels: list[int]) -> None:
    lines = raw_tables.table(labels, np.ones((len(labels), 2)))
    raw_tables.stored(root, name, raw_tables.joined(lines))


def _paths(files: list[IndexedFile]) -> list[str]:
    return [file.path for file in files]


def test_what_an_entry_says(tmp_path: Path) -> None:
    """Labels, months with their lines, digests and problems."""
    _store(tmp_path, "a/x.txt", [END - 60, END, END + 60])
    (tmp_path / "bad.txt").write_bytes(b"")
    index = update_index(tmp_path, _station(), "main")
    first, bad = index.files
    assert (first.path, first.first_label, first.last_label) == ("a/x.txt", END - 60, END + 60)
    assert first.months == {"2031-03": 1, "2031-04": 2}
    assert first.data_lines == 3
    assert first.size == (tmp_path / "a/x.txt").stat().st_size
    assert len(first.sha256) == len(first.layout) == 64
    assert bad.problems == ("the file is empty",)
    assert bad.first_label is None


def test_files_for_a_period(tmp_path: Path) -> None:
    """Those with lines accounted to one of its months."""
    _store(tmp_path, "march.txt", [START, END - 60])
    _store(tmp_path, "both.txt", [END - 60, END])
    _store(tmp_path, "april.txt", [END])
    index = update_index(tmp_path, _station(), "main")
    assert _paths(files_for(index, START, END)) == ["both.txt", "march.txt"]
    assert _paths(files_for(index, END, END + 1)) == ["april.txt", "both.txt"]
    assert files_for(index, END, END) == []
    assert files_for(index, START - 86400, START) == []


def test_only_new_and_changed_files_are_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Grown, touched and vanished files, and a new layout."""
    raw, saved = tmp_path / "raw", tmp_path / "archive" / ".sunledger" / "index.json"
    for name in ("a.txt", "b.txt", "c.txt"):
        _store(raw, name, [START])
    save_index(saved, update_index(raw, _station(), "main"))
    opened: list[str] = []
    read = file_index._read_entry

    def counting(shared: Any, file: Any) -> IndexedFile:
        opened.append(file[0])
        return read(shared, file)

    monkeypatch.setattr(file_index, "_read_entry", counting)
    same = update_index(raw, _station(), "main", load_index(saved))
    assert (opened, same.added, same.changed, same.vanished) == ([], (), (), ())
    _store(raw, "a.txt", [START, START + 60])
    os.utime(raw / "b.txt", ns=(1, 1))
    (raw / "c.txt").unlink()
    _store(raw, "d.txt", [START])
    new = update_index(raw, _station(), "main", load_index(saved))
    assert opened == ["a.txt", "b.txt", "d.txt"]
    assert (new.added, new.changed, new.vanished) == (("d.txt",), ("a.txt", "b.txt"), ("c.txt",))
    assert new.files[0].data_lines == 2
    other = raw_tables.station(main=raw_tables.logger(utc_offset="+02:00"))
    assert len(update_index(raw, other, "main", new).changed) == 3


def test_a_saved_index_comes_back(tmp_path: Path) -> None:
    """A broken or foreign one is made anew, and no part file is left."""
    _store(tmp_path / "raw", "a.txt", [START])
    index = update_index(tmp_path / "raw", _station(), "main")
    path = tmp_path / "index.json"
    save_index(path, index)
    loaded = load_index(path)
    assert loaded is not None
    assert loaded.files == index.files
    assert [item.name for item in tmp_path.iterdir() if item.is_file()] == ["index.json"]
    path.write_text('{"version": 0}')
    assert load_index(path) is None
    path.write_text("{")
    assert load_index(path) is None
    assert load_index(tmp_path / "none.json") is None


@pytest.mark.parametrize(
    ("patterns", "names"),
    [
        (["*.txt"], ["a.txt"]),
        (["**/*.txt"], ["a.txt", "x/b.txt", "x/y/c.txt"]),
        (["x/*.txt", "**/b.*"], ["x/b.txt"]),
        (["x/**"], ["x/b.txt", "x/y/c.txt", "x/y/d.dat"]),
        (["**/[!ab].???"], ["x/y/c.txt", "x/y/d.dat"]),
    ],
)
def test_patterns(tmp_path: Path, patterns: list[str], names: list[str]) -> None:
    """As in shells; a file that two patterns name counts once."""
    for name in ("a.txt", "x/b.txt", "x/y/c.txt", "x/y/d.dat"):
        raw_tables.stored(tmp_path, name, b"")
    assert [path for path, _, _ in matching_files(tmp_path, patterns)] == names


def test_links_do_not_lead_astray(tmp_path: Path) -> None:
    """Circles and ways out of the raw folder are problems of that file alone."""
    root = tmp_path / "raw"
    _store(root, "good.txt", [START])
    _store(tmp_path, "outside.txt", [START])
    (root / "out.txt").symlink_to(tmp_path / "outside.txt")
    (root / "circle.txt").symlink_to(root / "circle.txt")
    (root / "up").symlink_to(root)
    index = update_index(root, _station(), "main")
    problems = {file.path: file.problems for file in index.files}
    assert problems["good.txt"] == ()
    assert "leads outside the raw folder" in problems["out.txt"][0]
    assert problems["circle.txt"] == ("its symbolic links run in a circle",)
    assert _paths(files_for(index, START, END)) == ["good.txt"]


def test_files_of_no_station(tmp_path: Path) -> None:
    """Named, so that a wrong pattern is noticed."""
    for name in ("a.txt", "b.dat"):
        raw_tables.stored(tmp_path, name, b"")
    assert unmatched_files(tmp_path, [_station("*.txt")]) == ["b.dat"]


def test_the_layout_digest_follows_what_decides_the_reading() -> None:
    """Not the serial number."""
    plain = layout_digest(raw_tables.logger())
    assert plain == layout_digest(raw_tables.logger(serial_number="NL-2"))
    changed: list[Logger] = [
        raw_tables.logger(raw_tables.layout(separator="tab")),
        raw_tables.logger(columns=("a", "c")),
    ]
    assert plain not in [layout_digest(logger) for logger in changed]


def test_ten_thousand_unchanged_files_are_not_opened(tmp_path: Path) -> None:
    """Only their size and time of change are looked at: an opened file would lose its digest.

    How long it takes is printed by tests/benchmarks/bench_index.py.
    """
    entries = []
    layout = layout_digest(raw_tables.logger())
    for i in range(10_000):
        name = f"{i // 400:03d}/{i:05d}.txt"
        path = tmp_path / "raw" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x")
        state = path.stat()
        entries.append(IndexedFile(name, state.st_size, state.st_mtime_ns, "0" * 64, layout))
    saved = tmp_path / "index.json"
    save_index(saved, FileIndex(tuple(entries)))
    index = update_index(tmp_path / "raw", _station(), "main", load_index(saved))
    assert index.files == tuple(entries)
    assert (len(index.files), index.added, index.changed) == (10_000, (), ())


def test_files_that_vanished_since(tmp_path: Path) -> None:
    """The first that is not there is named; a folder of its name is none."""
    (tmp_path / "a.txt").write_text("x")
    still_there(tmp_path, ["a.txt"])
    (tmp_path / "b.txt").mkdir()
    for gone in ("b.txt", "c.txt"):
        with pytest.raises(FileNotFoundError, match=f"vanished since it was indexed: '{gone}'"):
            still_there(tmp_path, ["a.txt", gone])


def test_many_new_bytes_are_read_by_workers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same index; few bytes, a single file or nobody to help are read here."""
    for number in range(3):
        _store(tmp_path, f"{number}.txt", [START + number * 60])
    given: list[int] = []

    class Helpers:
        alone = False

        def each(self, function: Any, shared: Any, items: Any) -> list[Any]:
            given.append(len(items))
            return [function(shared, item) for item in items]

    alone = update_index(tmp_path, _station(), "main")
    assert update_index(tmp_path, _station(), "main", None, Helpers()) == alone
    assert given == []
    monkeypatch.setattr(file_index, "MUCH", 1)
    assert update_index(tmp_path, _station(), "main", None, Helpers()) == alone
    assert given == [3]
    _store(tmp_path, "2.txt", [START, START + 60])
    assert update_index(tmp_path, _station(), "main", alone, Helpers()).changed == ("2.txt",)
    Helpers.alone = True
    assert update_index(tmp_path, _station(), "main", None, Helpers()).files != alone.files
    assert given == [3]
