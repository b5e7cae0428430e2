"""From raw files to readings: the same whatever way the raw folder is filled."""

from __future__ import annotations

import gzip
import random
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

import raw_tables
from sunledger.stages.ingest import RawFile, ingest, ingest_months, month_bounds

STATION = raw_tables.station(main=raw_tables.logger())
START, END = month_bounds("2031-03")


def _stored(root: Path, files: dict[str, list[str]]) -> list[RawFile]:
    return [raw_tables.stored(root, n, raw_tables.joined(lines)) for n, lines in files.items()]


def _ingest(root: Path, files: dict[str, list[str]], *span: int) -> xr.Dataset:
    return ingest(_stored(root, files), STATION, "main", *(span or (START, END)))


def _rows(ds: xr.Dataset) -> list[tuple[Any, ...]]:
    names = ("logger_time_main", "line_status_main", "a", "b")
    return [tuple(row) for row in np.column_stack([ds[n].values for n in names]).tolist()]


def test_month_bounds() -> None:
    """First label of a month and of the next."""
    assert month_bounds("2031-12") == (1953849600, 1956528000)


def test_the_readings_dataset(tmp_path: Path) -> None:
    """Dimensions, variables, units, accounting and quarantine."""
    lines = ["stamp,a,b", "2031-03-08 00:01,1,2", "2031-03-08 00:01,1,2", "2031-03-08 00:01,1,3",
             "rubbish", "2031-03-08 00:02,gone,beyond"]  # fmt: skip
    ds = _ingest(tmp_path, {"x/day.txt": lines})
    assert ds.attrs["accounting"] == {
        "data_lines": 5, "kept": 2, "repeated": 1, "conflicting": 1, "rejected": 1,
    }  # fmt: skip
    assert ds.attrs["source_files"] == ["x/day.txt"]
    assert len(ds.attrs["source_sha256"][0]) == 64
    assert ds["line_status_main"].values.tolist() == [0, 1, 0]
    assert ds["source_line_main"].values.tolist() == [2, 4, 6]
    assert ds["logger_time_main"].dtype == np.int64
    assert ds["line_status_main"].dtype == np.int8
    assert ds["source_file_main"].dtype == ds["source_line_main"].dtype == np.int32
    assert np.isnan(ds["a"].values[2])
    assert ds["b"].values[2] == np.inf
    assert ds["a"].dims == ("reading_main",)
    assert ds["a"].attrs["units"] == "1"
    assert ds["quarantine_line_main"].values.tolist() == [4, 5]
    assert ds["quarantine_text_main"].values.tolist() == [
        "2031-03-08T00:01:00 a=1.0 b=3.0",
        "rubbish",
    ]
    assert "other values" in str(ds["quarantine_reason_main"].values[0])
    assert "1 fields where 3" in str(ds["quarantine_reason_main"].values[1])


def test_no_file_and_no_reading(tmp_path: Path) -> None:
    """An empty dataset of the right shape, and nothing goes unsaid."""
    ds = _ingest(tmp_path, {})
    assert ds.sizes["reading_main"] == 0
    assert ds.attrs["accounting"]["data_lines"] == 0
    ds = _ingest(tmp_path, {"bad.txt": ["stamp,a,c", "2031-03-08 00:01,1,2"]})
    assert ds.attrs["unreadable_files"][0]["why"].startswith("no column 'b'")
    assert ds.attrs["unreadable_files"][0]["data_lines"] == 1


def test_the_clock_set_back_gives_two_true_readings(tmp_path: Path) -> None:
    """File order, not label order."""
    labels = raw_tables.MARCH + 60 * np.array([0, 1, 2, 3, 1, 2, 3, 4])
    ds = _ingest(tmp_path, {"d.txt": raw_tables.table(labels, np.arange(16).reshape(8, 2))})
    assert ds["logger_time_main"].values.tolist() == labels.tolist()
    assert not ds["line_status_main"].values.any()


@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seed=st.integers(0, 10**6))
def test_shuffled_split_and_merged_folders_give_the_same(
    seed: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Same rows in the same order, with overlapping deliveries; only the file lists differ."""
    rng = random.Random(seed)
    labels = START + 60 * np.arange(300)
    values = np.random.default_rng(seed).normal(size=(300, 2))
    lines = raw_tables.table(labels, values)
    head, body = lines[0], lines[1:]
    body[rng.randrange(1, 300)] = "garbled"
    at = rng.randrange(1, 299)
    body.insert(at + 1, body[at].rsplit(",", 1)[0] + ",77.0")
    whole = _ingest(tmp_path_factory.mktemp("w"), {"all.txt": [head, *body]})
    cuts = sorted(rng.sample(range(1, 300), rng.randint(1, 6)))
    # A copy delivered between the two would make labels run backwards between them: by the rule
    # the second is then a second true reading, not a conflict.
    assume(at + 1 not in cuts)
    pieces = [body[a:b] for a, b in zip([0, *cuts], [*cuts, len(body)], strict=True)]
    names = rng.sample("abcdefghijk", len(pieces) + 1)
    files = {f"{n}.txt": [head, *piece] for n, piece in zip(names, pieces, strict=False)}
    parts = _ingest(tmp_path_factory.mktemp("p"), files)
    assert _rows(parts) == _rows(whole)
    assert parts.attrs["accounting"] == whole.attrs["accounting"]
    again = sorted(rng.sample(range(300), 2))
    twice = [line for line in body[again[0] : again[1]] if line != "garbled" and "77.0" not in line]
    files[f"{names[-1]}.txt"] = [head, *twice]
    overlapping = _ingest(tmp_path_factory.mktemp("o"), files)
    assert sorted(_rows(overlapping)) == sorted(_rows(whole))
    assert overlapping.attrs["accounting"]["repeated"] == len(twice)
    shuffled = dict(rng.sample(list(files.items()), len(files)))
    renamed = {f"{i}.txt": content for i, content in enumerate(shuffled.values())}
    assert _rows(_ingest(tmp_path_factory.mktemp("s"), renamed)) == _rows(overlapping)


def test_compression_changes_nothing(tmp_path: Path) -> None:
    """A file and its compressed copy are one delivery and its repeat."""
    lines = raw_tables.table(START + 60 * np.arange(9), np.ones((9, 2)))
    plain = raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(lines))
    packed = raw_tables.stored(tmp_path, "b.txt", gzip.compress(raw_tables.joined(lines)))
    both = ingest([plain, packed, plain], STATION, "main", START, END)
    assert _rows(both) == _rows(ingest([packed], STATION, "main", START, END))
    assert both.attrs["accounting"]["repeated"] == 9


def test_months_add_up_to_the_files(tmp_path: Path) -> None:
    """Each month as if it were asked for alone, and no line in none or two of them."""
    labels = END - 86400 + 600 * np.arange(288)
    lines = raw_tables.table(labels, np.arange(576).reshape(288, 2))
    lines[1], lines[150], lines[288] = "first", "middle", "last"
    files = _stored(tmp_path, {"a.txt": lines, "b.txt": [*lines[:1], *lines[200:]]})
    months = dict(ingest_months(files, STATION, "main", ["2031-04", "2031-03"]))
    assert list(months) == ["2031-03", "2031-04"]
    for month, ds in months.items():
        xr.testing.assert_identical(ds, ingest(files, STATION, "main", *month_bounds(month)))
    counts = [ds.attrs["accounting"] for ds in months.values()]
    assert sum(count["data_lines"] for count in counts) == 288 + 89
    assert sum(count["rejected"] for count in counts) == 4
    for ds in months.values():
        total = {k: sum(f[k] for f in ds.attrs["file_accounting"]) for k in ds.attrs["accounting"]}
        assert total == ds.attrs["accounting"]
    assert months["2031-03"].attrs["source_files"] == ["a.txt"]
    assert list(ingest_months(files, STATION, "main", [])) == []


def test_files_are_opened_once_for_all_months(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A growing file of years is not read again for every month."""
    opened: list[str] = []
    read = ingest.__globals__["read_file"]

    def counting(raw: RawFile, *others: Any) -> Any:
        opened.append(raw.name)
        return read(raw, *others)

    monkeypatch.setitem(ingest.__globals__, "read_file", counting)
    files = _stored(tmp_path, {"a.txt": raw_tables.table([START, END], np.ones((2, 2)))})
    assert len(list(ingest_months(files, STATION, "main", ["2031-03", "2031-04"]))) == 2
    assert opened == ["a.txt"]


def test_rising_runs_go_through_the_files(tmp_path: Path) -> None:
    """A file that begins earlier than the last one ended starts a run, another goes on with it."""
    minutes = {"a": [0, 5, 1, 2], "b": [3, 4, 5], "c": [3, 5]}
    files = {
        f"{name}.txt": raw_tables.table(START + 60 * np.array(m), np.full((len(m), 2), float(i)))
        for i, (name, m) in enumerate(minutes.items())
    }
    ds = _ingest(tmp_path, {"a.txt": files["a.txt"], "b.txt": files["b.txt"]})
    assert not ds["line_status_main"].values.any()
    three = _ingest(tmp_path, files)
    assert three.attrs["accounting"]["kept"] == 9
    # Within one run the same labels do conflict.
    joined = {
        "d.txt": ["stamp,a,b", "2031-03-01 00:07,1,1"],
        "e.txt": ["stamp,a,b", "2031-03-01 00:07,2,2"],
    }
    assert _ingest(tmp_path / "x", joined)["line_status_main"].values.tolist() == [0, 1]
