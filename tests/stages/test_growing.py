"""Months of a growing file: given as soon as complete, the same as if each were asked for alone."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import raw_tables
from benchmarks import bench_growing
from sunledger.errors import RawFileError
from sunledger.stages import growing, streams
from sunledger.stages.growing import ingest_growing
from sunledger.stages.ingest import RawFile, ingest, month_bounds
from sunledger.stages.rawfiles import FileReadings, read_file
from sunledger.stages.tables import Table

STATION = raw_tables.station(main=raw_tables.logger())
LOGGER = STATION.loggers["main"]
START = month_bounds("2031-01")[0]


def _indexed(files: list[RawFile]) -> tuple[list[RawFile], dict[str, dict[str, int]]]:
    """Files in order of their first line, and the lines of each month, as an index knows them."""
    found: list[FileReadings] = [read_file(raw, LOGGER, 1, 0) for raw in files]
    expected: dict[str, dict[str, int]] = {}
    for raw, one in zip(files, found, strict=True):
        for day, lines in one.label_counts.items():
            month = str(np.datetime64(day, "D").astype("M8[M]"))
            counts = expected.setdefault(month, {})
            counts[raw.name] = counts.get(raw.name, 0) + lines
    good = [(f.first, f.sha256, raw) for f, raw in zip(found, files, strict=True) if f.first]
    return [raw for _, _, raw in sorted(good, key=lambda p: p[:2])], expected


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seed=st.integers(0, 10**6))
def test_each_month_is_as_if_asked_for_alone(
    seed: int, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Overlapping and repeated files, garbled lines, clocks set back, in small pieces."""
    rng = np.random.default_rng(seed)
    root = tmp_path_factory.mktemp("g")
    labels = START + 6 * 3600 * np.arange(600)
    files = []
    for number in range(int(rng.integers(1, 4))):
        first, last = sorted(rng.integers(0, 600, 2).tolist())
        chosen = labels[first : last + 1].copy()
        if len(chosen) > 20:
            chosen[10:15] = chosen[5:10]
        lines = raw_tables.table(chosen, rng.integers(0, 3, (len(chosen), 2)).astype(float))
        for row in rng.integers(1, len(lines), 3):
            lines[row] = str(rng.choice(["garbled", lines[row] + ",7", lines[row][:16] + ",?,1"]))
        files.append(raw_tables.stored(root, f"{number}.txt", raw_tables.joined(lines)))
    monkeypatch.setattr(growing.file_parts.__globals__["read_pieces"], "__defaults__", (2000,))
    monkeypatch.setattr(streams, "READ_BYTES", 500)
    order, expected = _indexed(files)
    months = dict(ingest_growing(order, STATION, "main", expected))
    assert sorted(months) == sorted(expected)
    for month, ds in months.items():
        bearing = [raw for raw in files if raw.name in expected[month]]
        alone = ingest(bearing, STATION, "main", *month_bounds(month))
        xr.testing.assert_identical(ds, alone)


def test_a_month_is_given_before_the_next_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that only what is not complete stays in memory, and the file is opened once."""
    labels = START + 3600 * np.arange(24 * 364)
    lines = raw_tables.table(labels, np.ones((len(labels), 2)))
    raw = raw_tables.stored(tmp_path, "year.txt", raw_tables.joined(lines))
    _, expected = _indexed([raw])
    opened, taken = [], []
    parts = growing.file_parts

    def counting(*words: object) -> object:
        opened.append(words[0])
        for part in parts(*words):  # type: ignore[arg-type]
            taken.append(int(part.table.label_time[-1]))
            yield part

    monkeypatch.setattr(growing, "file_parts", counting)
    monkeypatch.setattr(parts.__globals__["read_pieces"], "__defaults__", (4000,))
    monkeypatch.setattr(streams, "READ_BYTES", 4000)
    for month, ds in ingest_growing([raw], STATION, "main", expected):
        end = month_bounds(month)[1]
        assert int(ds["logger_time_main"].values[-1]) <= taken[-1] < end + 20 * 86400
    assert len(opened) == 1
    assert len(taken) > 40


def test_a_file_that_has_changed_is_refused(tmp_path: Path) -> None:
    """Its lines are no longer those that were counted."""
    lines = raw_tables.table(START + 86400 * np.arange(90), np.ones((90, 2)))
    raw = raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(lines))
    _, expected = _indexed([raw])
    changed = raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(lines[:50]))
    changed.sha256 = raw.sha256
    months = ingest_growing([changed], STATION, "main", expected)
    assert next(months)[0] == "2031-01"
    with pytest.raises(RawFileError, match=r"a\.txt.*has changed since it was indexed"):
        next(months)
    sound = raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(lines))
    sound.sha256 = raw.sha256
    more = {m: {k: n + 1 for k, n in c.items()} for m, c in expected.items()}
    with pytest.raises(RawFileError, match="fewer lines of 2031-01 than were indexed"):
        list(ingest_growing([sound], STATION, "main", more))


def test_pieces_of_a_month_are_not_held_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """They are put where they belong as they come; a month in one piece is taken as it is."""
    lines = raw_tables.table(START + 60 * np.arange(2000), np.arange(4000.0).reshape(-1, 2))
    raw = raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(lines))
    _, expected = _indexed([raw])
    seen: list[list[np.ndarray]] = []
    add = growing._Held.add

    def watched(held: growing._Held, table: Table, run: np.ndarray) -> None:
        add(held, table, run)
        seen.append([*held.values.values(), *table.values.values()])

    monkeypatch.setattr(growing._Held, "add", watched)
    whole = dict(ingest_growing([raw], STATION, "main", expected))
    assert len(seen) == 1
    assert all(
        np.shares_memory(mine, new) for mine, new in zip(seen[0][:2], seen[0][2:], strict=True)
    )
    seen.clear()
    monkeypatch.setattr(growing.file_parts.__globals__["read_pieces"], "__defaults__", (9000,))
    monkeypatch.setattr(streams, "READ_BYTES", 900)
    parts = dict(ingest_growing([raw], STATION, "main", expected))
    assert len(seen) > 5
    assert all(
        mine is first for held in seen for mine, first in zip(held[:2], seen[0], strict=False)
    )
    assert not any(np.shares_memory(held[0], held[2]) for held in seen)
    xr.testing.assert_identical(whole["2031-01"], parts["2031-01"])


@pytest.mark.parametrize("rejected", [1, 2, 30, 200])
def test_a_piece_may_hold_rejected_lines_of_a_month_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rejected: int
) -> None:
    """Wherever pieces end, beside the turn of the month too."""
    lines = raw_tables.table(
        month_bounds("2031-02")[0] + 60 * np.arange(-200, 200), np.ones((400, 2))
    )
    turn = len(lines) - 200
    lines[turn : turn + rejected] = [f"{line},7" for line in lines[turn : turn + rejected]]
    raw = raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(lines))
    _, expected = _indexed([raw])
    alone = {m: ingest([raw], STATION, "main", *month_bounds(m)) for m in expected}
    monkeypatch.setattr(streams, "READ_BYTES", 50)
    for size in range(300, 1000, 37):
        monkeypatch.setattr(growing.file_parts.__globals__["read_pieces"], "__defaults__", (size,))
        for month, ds in ingest_growing([raw], STATION, "main", expected):
            xr.testing.assert_identical(ds, alone[month])


@pytest.mark.slow
def test_memory_does_not_grow_with_the_file(tmp_path: Path) -> None:
    """60 MB of text with twenty columns, in a process of its own; the bound holds for any size."""
    told = bench_growing.measured(tmp_path, 60_000_000)
    assert told["peak"] < 300
