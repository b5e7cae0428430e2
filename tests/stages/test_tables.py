"""Whole tables: written by the tests, damaged at random, and read back."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import raw_tables
from sunledger.config.models.station import Layout
from sunledger.errors import RawFileError
from sunledger.stages import tables
from sunledger.stages.streams import CUT, RawText
from sunledger.stages.tables import Table, TableReader, join_tables, read_table


def _read(data: bytes | RawText, *layouts: Layout) -> Table:
    layouts = layouts or (raw_tables.layout(),)
    return read_table(data, layouts, raw_tables.logger(*layouts), "day.txt")


NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "blanks": "  "}


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(NUMBERS, NUMBERS), min_size=1, max_size=12),
    st.sampled_from(list(SEPARATORS)),
    st.sampled_from(["point", "comma"]),
    st.sampled_from([None, '"']),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from(["", "\ufeff"]),
)
def test_what_is_written_is_read_bit_for_bit(
    rows: list[tuple[float, float]], separator: str, decimal: str, quote: str | None,
    end: str, mark: str,
) -> None:  # fmt: skip
    """Round trip over separators, decimal marks, quotes, line ends and byte-order marks."""
    if separator == "comma":
        decimal = "point"
    labels = raw_tables.MARCH + 60 * np.arange(len(rows))
    layout = raw_tables.layout(
        separator=separator, decimal=decimal, quote=quote, format="%Y-%m-%dT%H:%M"
    )
    fields = [["stamp", "a", "b"]]
    fields += [
        [raw_tables.written(t, "%Y-%m-%dT%H:%M"), repr(a), repr(b)]
        for t, (a, b) in zip(labels, rows, strict=True)
    ]
    if decimal == "comma":
        fields = [[field.replace(".", ",") for field in line] for line in fields]
    edge = quote or ""
    lines = [SEPARATORS[separator].join(f"{edge}{f}{edge}" for f in line) for line in fields]
    table = _read((mark + end.join(lines) + end).encode(), layout)
    assert table.label_time.tolist() == labels.tolist()
    assert table.line.tolist() == list(range(2, len(rows) + 2))
    assert list(zip(*(table.values[n].tolist() for n in ("a", "b")), strict=True)) == rows
    assert (table.rejected, table.data_lines) == ([], len(rows))
    assert table.columns == ("stamp", "a", "b")


def test_latin_names_and_unneeded_columns() -> None:
    """Encodings matter for names only; a text column may hold anything."""
    data = "stamp,größe,a,b\n2031-03-08 00:01,é,1,2\n".encode("latin-1")
    table = _read(data, raw_tables.layout(encoding="latin-1"))
    assert table.columns == ("stamp", "größe", "a", "b")
    assert table.values["a"].tolist() == [1.0]


def test_a_missing_column_lists_those_found() -> None:
    """File and names; the same for a file without any header."""
    with pytest.raises(RawFileError, match=r"day\.txt: no column 'b'; columns found: stamp, a, c"):
        _read(b"stamp,a,c\n2031-03-08 00:01,1,2\n")
    with pytest.raises(RawFileError, match="no header line that names the time column"):
        _read(random.Random(1).randbytes(5000))
    with pytest.raises(RawFileError, match="the file is empty"):
        _read(b"\r\n \n")


def test_layouts_by_period() -> None:
    """The label of a line decides, also within one file."""
    switch = raw_tables.MARCH + 180
    old = raw_tables.layout(format="%d.%m.%Y %H:%M", separator="semicolon", decimal="comma")
    new = raw_tables.layout(**{"from": switch})
    lines = ["stamp;a;b", "08.03.2031 00:01;1,5;2", "08.03.2031 00:02;1;2", "stamp,b,a"]
    lines += ["2031-03-08 00:03,3.5,4", "2031-03-08 00:04,3,?", "2031-03-08 00:02,3,4", "08.03"]
    table = _read(raw_tables.joined(lines), old, new)
    assert table.label_time.tolist() == [switch - 120, switch - 60, switch]
    assert table.values["a"].tolist() == [1.5, 1.0, 4.0]
    reasons = {rejection.line: rejection.reason for rejection in table.rejected}
    assert list(reasons) == [6, 7, 8]
    assert reasons[6] == "column a: not a number: '?'"
    assert "outside the period" in reasons[7]
    assert table.data_lines == 6


def test_layouts_of_the_same_writing_meet_at_the_switch() -> None:
    """No line is read twice and none is lost."""
    labels = raw_tables.MARCH + 60 * np.arange(10)
    layouts = (raw_tables.layout(), raw_tables.layout(**{"from": raw_tables.MARCH + 300}))
    table = _read(raw_tables.joined(raw_tables.table(labels, np.ones((10, 2)))), *layouts)
    assert table.label_time.tolist() == labels.tolist()
    assert table.rejected == []


def test_pieces_join_to_the_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    """Line numbers and columns go on from piece to piece."""
    data = raw_tables.joined(
        [*raw_tables.table(raw_tables.MARCH + 60 * np.arange(50), np.ones((50, 2))), "rubbish"]
    )
    whole = _read(data)
    monkeypatch.setattr(tables, "PIECE_BYTES", 100)
    parts = _read(data)
    assert parts.line.tolist() == whole.line.tolist()
    assert parts.rejected == whole.rejected
    assert parts.data_lines == 51


@pytest.mark.parametrize("tail", ["", "2031-03-08 00:09,1,2"])
def test_a_cut_compression_is_one_rejected_line(tail: str) -> None:
    """The last line is not to be trusted, even where it can be read."""
    lines = raw_tables.table(raw_tables.MARCH + 60 * np.arange(5), np.ones((5, 2)))
    table = _read(RawText(raw_tables.joined(lines) + tail.encode(), cut=True))
    assert len(table.label_time) == 5
    assert [(r.line, r.reason) for r in table.rejected] == [(7, CUT)]
    assert table.data_lines == 6


def test_other_record_types_are_counted() -> None:
    """Nothing goes unsaid."""
    layout = raw_tables.layout(header=(), names=("code", "stamp", "a", "b"), record_code="7")
    table = _read(b"7,2031-03-08 00:01,1,2\n8,1\n8,1\n", layout)
    assert (table.data_lines, table.other_records) == (1, {"8": 2})


# --- damage -----------------------------------------------------------------------------------


def _flip(rng: random.Random, lines: list[bytes]) -> list[bytes]:
    row = rng.randrange(1, len(lines))
    line = bytearray(lines[row])
    for _ in range(rng.randint(1, 3) if line else 0):
        line[rng.randrange(len(line))] = rng.randrange(256)
    return [*lines[:row], bytes(line), *lines[row + 1 :]]


def _cut(rng: random.Random, lines: list[bytes]) -> list[bytes]:
    row = rng.randrange(1, len(lines))
    return [*lines[:row], lines[row][: rng.randint(0, len(lines[row]))], *lines[row + 1 :]]


def _swap(rng: random.Random, lines: list[bytes]) -> list[bytes]:
    a, b = sorted(rng.sample(range(1, len(lines)), 2))
    return [lines[0], *lines[b:], *lines[a:b], *lines[1:a]]


def _repeat(rng: random.Random, lines: list[bytes]) -> list[bytes]:
    a, b = sorted(rng.sample(range(1, len(lines)), 2))
    return [*lines[:b], *lines[a:b], *lines[b:]]


def _interleave(rng: random.Random, lines: list[bytes]) -> list[bytes]:
    row = rng.randrange(1, len(lines) - 1)
    at = rng.randint(0, len(lines[row]))
    mixed = lines[row][:at] + lines[row + 1] + lines[row][at:]
    return [*lines[:row], mixed, *lines[row + 2 :]]


def _insert(rng: random.Random, lines: list[bytes]) -> list[bytes]:
    row = rng.randrange(1, len(lines))
    junk = rng.choice([b"\0" * 9, b"\r\r", b'"', b"stamp,a", rng.randbytes(40), b"stamp,a,b"])
    return [*lines[:row], junk, *lines[row:]]


DAMAGES = (_flip, _cut, _swap, _repeat, _interleave, _insert)


def mutated(seed: int, rows: int = 40) -> tuple[list[bytes], list[bytes]]:
    """An undamaged file and the same with one to four damages, as lines."""
    rng = random.Random(seed)
    labels = raw_tables.MARCH + 60 * np.arange(rows)
    values = np.random.default_rng(seed).normal(0, 5, (rows, 2)).round(4)
    sound = [line.encode() for line in raw_tables.table(labels, values)]
    damaged = sound
    for _ in range(rng.randint(1, 4)):
        damaged = rng.choice(DAMAGES)(rng, damaged)
    return sound, damaged


@pytest.mark.parametrize("first_seed", range(0, 500, 50))
def test_damaged_files_lose_no_undamaged_line(first_seed: int) -> None:
    """500 files: no crash, the sum holds, and every line that is still there is read."""
    for seed in range(first_seed, first_seed + 50):
        sound, damaged = mutated(seed)
        layout = raw_tables.layout(quote='"' if seed % 2 else None)
        end = (b"\n", b"\r\n")[seed % 3 == 0]
        table = _read(end.join(damaged) + end, layout)
        assert len(table.label_time) + len(table.rejected) == table.data_lines
        truth = {line: _row_of(line) for line in sound[1:]}
        kept = [truth[line] for line in damaged if line in truth]
        found = list(zip(
            table.label_time.tolist(), table.values["a"].tolist(), table.values["b"].tolist(),
            strict=True,
        ))  # fmt: skip
        left = list(found)
        for row in kept:
            assert row in left, seed
            left.remove(row)
        # What else was read comes from damaged lines that still are lines of a table.
        assert len(left) <= sum(line not in truth for line in damaged)


def _row_of(line: bytes) -> tuple[int, float, float]:
    stamp, a, b = line.decode().split(",")
    label = int(np.datetime64(stamp.replace(" ", "T"), "s").astype(np.int64))
    return label, float(a), float(b)


def test_every_bad_line_is_named_and_no_good_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """One bad line of every kind in a larger table read in pieces."""
    monkeypatch.setattr(tables, "PIECE_BYTES", 4000)
    lines = raw_tables.table(raw_tables.MARCH + 60 * np.arange(3000), np.ones((3000, 2)))
    bad: dict[int, Any] = {100: "2031-03-08 01:40,1", 700: "x,1,2", 1500: "2031-03-09 00:00,1,2,",
                           2000: "2031-03-09 00:00,1,--2", 2999: "\0"}  # fmt: skip
    for row, line in bad.items():
        lines[row] = line
    table = _read(raw_tables.joined(lines))
    assert [rejection.line for rejection in table.rejected] == [row + 1 for row in bad]
    assert len(table.label_time) == 3000 - len(bad)


def test_parts_carry_their_counts() -> None:
    """Joining adds up."""
    reader = TableReader((raw_tables.layout(),), raw_tables.logger(), "day.txt")
    parts = [
        reader.read(RawText(b"stamp,a,b\n2031-03-08 00:01,1,2\nx\n")),
        reader.read(RawText(b"y")),
    ]
    whole = join_tables(parts)
    assert (whole.data_lines, [r.line for r in whole.rejected]) == (3, [3, 4])
