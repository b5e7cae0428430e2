"""One raw file: labels, runs, and where a rejected line is accounted."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pytest

import raw_tables
from sunledger.stages import streams
from sunledger.stages.rawfiles import FileReadings, months_of_labels, read_file
from sunledger.stages.streams import CUT

ALL = (-(2**40), 2**40)
MIDNIGHT = raw_tables.MARCH  # 2031-03-08


def _read(tmp_path: Path, data: bytes, span: tuple[int, int] = ALL) -> FileReadings:
    raw = raw_tables.stored(tmp_path, "day.txt", data)
    return read_file(raw, raw_tables.logger(), *span)


def test_labels_runs_and_counts(tmp_path: Path) -> None:
    """Of the whole file, whatever period is asked for."""
    labels = MIDNIGHT + np.array([0, 60, 120, 60, 120, 180])
    data = raw_tables.joined(raw_tables.table(labels, np.ones((6, 2))))
    found = _read(tmp_path, data, (MIDNIGHT + 60, MIDNIGHT + 120))
    assert (found.first, found.last, found.least, found.greatest) == (
        MIDNIGHT, MIDNIGHT + 180, MIDNIGHT, MIDNIGHT + 180,
    )  # fmt: skip
    assert (found.runs, found.data_lines) == (2, 6)
    assert found.label.tolist() == [MIDNIGHT + 60] * 2
    assert (found.run.tolist(), found.line.tolist()) == ([0, 1], [3, 5])
    assert found.label_counts == {MIDNIGHT // 86400: 6}


def test_spans_of_months_that_alternate(tmp_path: Path) -> None:
    """Earliest and latest label of each month, in whatever order its days come."""
    march, april = (int(np.datetime64(m, "s").astype(np.int64)) for m in ("2031-03", "2031-04"))
    labels = np.array([march + 120, april + 60, march + 60, april, april + 86400, march + 180])
    found = _read(tmp_path, raw_tables.joined(raw_tables.table(labels, np.ones((6, 2)))))
    assert found.spans == {
        "2031-03": (march + 60, march + 180),
        "2031-04": (april, april + 86400),
    }
    assert months_of_labels(labels) == {"2031-03", "2031-04"}
    assert months_of_labels(labels[:0]) == set()


@pytest.mark.parametrize("size", [8 << 20, 30])
def test_where_rejected_lines_are_accounted(
    tmp_path: Path, size: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Own label if it is near, else the good line before, else the first good line."""
    lines = ["stamp,a,b", "garbled", "2031-03-08 00:00,1,2", "garbled", "2031-03-08 00:05,?,2",
             "2931-03-08 00:06,?,2", "2031-03-08 00:07,1,2", "x"]  # fmt: skip
    monkeypatch.setattr(read_file.__globals__["read_pieces"], "__defaults__", (size,))
    monkeypatch.setattr(streams, "READ_BYTES", 16)
    found = _read(tmp_path, raw_tables.joined(lines))
    placed = [(r.line, label - MIDNIGHT) for label, r in found.rejected]
    assert placed == [(2, 0), (4, 0), (5, 300), (6, 0), (8, 420)]
    assert sum(found.label_counts.values()) == found.data_lines == 7


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    """Each with its reason; none stops the run."""
    assert _read(tmp_path, b"").fault == "the file is empty"
    missing = _read(tmp_path, b"stamp,a,c\n2031-03-08 00:00,1,2\n")
    assert missing.fault == "no column 'b'; columns found: stamp, a, c"
    assert missing.data_lines == 1
    assert missing.label.size == 0
    bad = _read(tmp_path, b"stamp,a,b\nx\n")
    assert bad.fault.startswith("no line can be read; line 2: ")
    bomb = _read(tmp_path, gzip.compress(b"0" * (66 << 20)))
    assert "1000 times its size" in bomb.fault


def test_a_cut_gzip_keeps_what_it_holds(tmp_path: Path) -> None:
    """And one rejected line stands for the cut."""
    labels = MIDNIGHT + 60 * np.arange(2000)
    values = np.random.default_rng(1).normal(size=(2000, 2))
    packed = gzip.compress(raw_tables.joined(raw_tables.table(labels, values)))
    found = _read(tmp_path, packed[: len(packed) // 2])
    assert found.label.size > 500
    assert np.array_equal(found.values["a"], values[: found.label.size, 0])
    assert [r.reason for _, r in found.rejected] == [CUT]
    assert found.data_lines == found.label.size + 1


def test_a_header_alone_is_no_fault(tmp_path: Path) -> None:
    """A logger that has just started its file."""
    found = _read(tmp_path, b"stamp,a,b\n")
    assert (found.fault, found.data_lines, found.first) == ("", 0, None)
