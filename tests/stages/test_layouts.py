"""Blocks read by one layout: headers, sections, record types, periods."""

from __future__ import annotations

from typing import Any

import numpy as np

import raw_tables
from sunledger.stages.blocks import Block, Judged, State
from sunledger.stages.layouts import LayoutReader


def _read(lines: list[str], valid_to: int | None = None, **changes: Any) -> Judged:
    reader = LayoutReader(raw_tables.layout(**changes), raw_tables.logger(), valid_to)
    return reader.read(Block.of(raw_tables.joined(lines)), None)


def _states(judged: Judged) -> str:
    return "".join("-+!o"[state] for state in judged.state)


ROW = "2031-03-08 00:01,1,2"


def test_header_lines_in_any_order() -> None:
    """A file line, names, units, statistics."""
    order = ("file", "units", "names", "statistics")
    lines = ["made by NL-1", "-,mV,mV", "stamp,a,b", "-,mean,mean", ROW]
    assert _states(_read(lines, header=order)) == "----+"


def test_a_header_repeated_in_the_file_takes_its_neighbours_along() -> None:
    """But a neighbour that bears a time label is a data line, good or bad."""
    lines = ["stamp,a,b", "-,mV,mV", ROW, "stamp,a,b", "-,mV,mV", ROW, "stamp,a,b", ROW]
    assert _states(_read(lines, header=("names", "units"))) == "--+--+-+"
    lines[-1] = "2031-03-08 00:01,?,2"
    assert _states(_read(lines, header=("names", "units"))) == "--+--+-!"


def test_a_new_header_maps_columns_anew() -> None:
    """By name; the lines before keep the old columns."""
    judged = _read(["stamp,a,b", ROW, "b,stamp,x,a", "5,2031-03-08 00:02,9,6"])
    assert _states(judged) == "-+-+"
    assert [column[3] for column in judged.values] == [6.0, 5.0]
    assert [column[1] for column in judged.values] == [1.0, 2.0]


def test_lines_before_the_header_and_under_one_without_the_columns() -> None:
    """They are rejected, and say why."""
    judged = _read([ROW, ROW, "stamp,a,b", ROW, "stamp,a,c", ROW])
    assert _states(judged) == "!!-+-!"
    assert (
        judged.reasons[0] == "no header line that names the time column(s) 'stamp' before this line"
    )
    assert judged.reasons[5] == "no column 'b'; columns found: stamp, a, c"


def test_columns_are_remembered_from_block_to_block() -> None:
    """A file is read piece by piece."""
    reader = LayoutReader(raw_tables.layout(), raw_tables.logger(), None)
    reader.read(Block.of(b"stamp,a,b\n"), None)
    assert _states(reader.read(Block.of(ROW.encode()), None)) == "+"


def test_headerless_record_types() -> None:
    """Told apart by a leading code; a garbled code is no other record type."""
    names = ("code", "stamp", "a", "b")
    lines = [f"7,{ROW}", "12,5", f"7,{ROW}", "", "12,5", f"\x7f,{ROW}", "7,5"]
    judged = _read(lines, header=(), names=names, record_code="7")
    assert _states(judged) == "+o+-o!!"
    assert judged.reasons[1] == "12"


def test_headerless_files_with_title_lines() -> None:
    """As many as the layout says, unless they bear a label."""
    changes = {"header": ("file", "units"), "names": ("stamp", "a", "b")}
    assert _states(_read(["title", "-,V,V", ROW], **changes)) == "--+"
    assert _states(_read(["title", ROW, ROW], **changes)) == "-++"


def test_quoted_fields_comments_and_damage() -> None:
    """Each line for itself: a stray quote swallows no other line."""
    lines = [
        '"stamp","a","b"',
        '"2031-03-08 00:01","1","gone"',
        '"2031-03-08 00:02,1,2',
        ROW,
        "# x",
    ]
    judged = _read(lines, quote='"', comment="#")
    assert _states(judged) == "-+!+-"
    assert np.isnan(judged.values[1][1])


def test_labels_outside_the_period_of_a_layout() -> None:
    """They wait for the layout that applies."""
    judged = _read(["stamp,a,b", ROW, "2031-03-08 00:02,1,2"], raw_tables.MARCH + 120)
    assert judged.state.tolist() == [State.NO_DATA, State.GOOD, State.BAD]
    assert "outside the period" in judged.reasons[2]


def test_a_damaged_copy_of_the_header_does_not_map_columns_anew() -> None:
    """The lines after it still have the old columns; the copy itself is rejected."""
    judged = _read(["stamp,x,a,b", "2031-03-08 00:01,9,1,2", "stamp,x,a", "2031-03-08 00:02,9,1,2"])
    assert _states(judged) == "-+!+"


def test_a_separator_that_closes_every_row() -> None:
    """It is passed over, of headers without it and of rows without a header; blocks remember it."""
    rows = [f"{ROW},", "2031-03-08 00:02,3,4,", "2031-03-08 00:03,5,,", f"{ROW},,", ROW]
    judged = _read(["stamp,a,b", *rows])
    assert _states(judged) == "-+++!!"
    assert [column[2] for column in judged.values] == [3.0, 4.0]
    assert np.isnan(judged.values[1][3])
    assert judged.reasons[5] == "3 fields where 4 are expected"
    named = _read(rows, header=(), names=("stamp", "a", "b"))
    assert _states(named) == "+++!!"
    coded = {"header": (), "names": ("code", "stamp", "a", "b"), "record_code": "7"}
    assert _states(_read(["8,1,", f"7,{ROW},", "8,1,2,3,"], **coded)) == "o+o"
    reader = LayoutReader(raw_tables.layout(), raw_tables.logger(), None)
    reader.read(Block.of(raw_tables.joined(["stamp,a,b", f"{ROW},"])), None)
    assert _states(reader.read(Block.of(raw_tables.joined([ROW, f"{ROW},"])), None)) == "!+"


def test_a_separator_that_closes_the_header_alone() -> None:
    """The name it would open has no column; a row that has one all the same is the odd one."""
    judged = _read(["stamp,a,b,", ROW, "2031-03-08 00:02,3,4", f"{ROW},", "2031-03-08 00:04,5,6"])
    assert _states(judged) == "-++!+"
    assert [column[2] for column in judged.values] == [3.0, 4.0]
    both = _read(["stamp,a,b,", f"{ROW},", "2031-03-08 00:02,3,4,", ROW])
    assert _states(both) == "-++!"


def test_one_row_with_a_separator_too_many_is_rejected() -> None:
    """Where the other rows have none, it is damage."""
    judged = _read(["stamp,a,b", ROW, f"{ROW},", ROW])
    assert _states(judged) == "-+!+"


def test_a_new_header_over_closed_rows() -> None:
    """Fewer columns than before are still a new header, not a remnant of the old one."""
    judged = _read(["stamp,x,a,b", "2031-03-08 00:01,9,1,2,", "stamp,b,a", "2031-03-08 00:02,5,6,"])
    assert _states(judged) == "-+-+"
    assert [column[3] for column in judged.values] == [6.0, 5.0]
