"""Garbled years: quarantined, while clocks that are set and files in any order are left alone."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import raw_tables
from sunledger.stages import streams
from sunledger.stages.ingest import ingest, month_bounds
from sunledger.stages.rawfiles import read_file
from sunledger.stages.strays import REASON, ends_in_doubt, stray_rows, without_strays
from sunledger.stages.tables import read_table

NONE = np.zeros(0, np.int64)
MARCH = raw_tables.MARCH
START, END = month_bounds("2031-03")


def _labels(*moved: tuple[int, int]) -> np.ndarray:
    """Twelve minutes, some of them moved by years."""
    labels = MARCH + 60 * np.arange(12)
    for row, years in moved:
        labels[row] += years * 365 * 86400
    return labels


@pytest.mark.parametrize(
    ("moved", "stray"),
    [
        ([], []),
        ([(5, 100)], [5]),
        ([(5, -20)], [5]),
        ([(4, 100), (5, 100), (6, -9)], []),  # no three that agree: too doubtful to judge
        ([(5, 1), (6, 1), (7, 1)], [5, 6, 7]),
        ([(5, 1), (6, 1), (7, 1), (8, 1)], []),  # a clock, not a letter
        ([(i, 1) for i in range(6, 12)], []),  # set forward for good
        ([(i, 1) for i in range(0, 12, 2)], []),  # two years interleaved
        ([(1, 100)], []),  # nothing steady before it
        ([(10, 100)], []),  # nor after it
    ],
)
def test_which_rows_are_stray(moved: list[tuple[int, int]], stray: list[int]) -> None:
    """Up to three rows between steady neighbours."""
    assert stray_rows(_labels(*moved), NONE).tolist() == stray


def test_less_than_a_year_is_no_stray() -> None:
    """Files in any order and pauses of months are left alone, to the second."""
    labels = _labels()
    labels[5] += 300 * 86400
    assert stray_rows(labels, NONE).tolist() == []
    labels[5] += 1000
    assert stray_rows(labels, NONE).tolist() == [5]


def test_the_rows_before_count() -> None:
    """A part that begins with a stray row is judged by the rows of the part before."""
    labels = _labels((3, 9))
    assert stray_rows(labels[3:], labels[:3]).tolist() == [0]
    assert ends_in_doubt(labels[:4])
    assert ends_in_doubt(labels[:9])
    assert not ends_in_doubt(labels)


def test_without_strays_keeps_the_count() -> None:
    """A stray line is rejected with its label and its values, in the order of lines."""
    lines = raw_tables.table(_labels((5, 100)), np.arange(24).reshape(12, 2))
    lines[3] = lines[9] = "garbled"
    table = read_table(
        raw_tables.joined(lines), (raw_tables.layout(),), raw_tables.logger(), "a.txt"
    )
    clean = without_strays(table, NONE, {"a": "a", "b": "b"})
    assert len(clean.label_time) + len(clean.rejected) == clean.data_lines == 12
    assert [r.line for r in clean.rejected] == [4, 7, 10]
    assert clean.rejected[1].reason == REASON
    assert clean.rejected[1].text.endswith("a=10.0 b=11.0")
    assert clean.rejected[1].text.startswith("2131-02-12T00:05:00")


@pytest.mark.parametrize("size", [8 << 20, 400, 60, 25])
@pytest.mark.parametrize("row", [0, 3, 20, 21, 95, 99])
def test_a_garbled_year_in_a_file(
    tmp_path: Path, size: int, row: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same line is quarantined in the month of its neighbours, however the file is cut."""
    labels = START + 60 * np.arange(100)
    lines = raw_tables.table(labels, np.ones((100, 2)))
    lines[row + 1] = lines[row + 1].replace("2031", "2131", 1)
    monkeypatch.setattr(read_file.__globals__["read_pieces"], "__defaults__", (size,))
    monkeypatch.setattr(streams, "READ_BYTES", 16)
    raw = raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(lines))
    station = raw_tables.station(main=raw_tables.logger())
    ds = ingest([raw], station, "main", START, END)
    judged = 3 <= row < 97
    assert ds.attrs["accounting"]["rejected"] == judged
    assert ds.attrs["accounting"]["kept"] == 99
    assert ds["quarantine_line_main"].values.tolist() == ([row + 2] if judged else [])
    found = read_file(raw, raw_tables.logger(), 1, 0)
    assert found.runs == (1 if judged or row == 99 else 2)
    assert sorted(found.spans) == (["2031-03"] if judged else ["2031-03", "2131-03"])
