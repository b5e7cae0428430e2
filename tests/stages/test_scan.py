"""The fast way reads nothing that the rule would not read, and reads it alike."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import raw_tables
from sunledger.stages.columns import find_columns
from sunledger.stages.lines import Kind, judge_line
from sunledger.stages.scan import Rows, Scan, scan_rows
from sunledger.stages.timestamps import compile_format

LAYOUTS = {
    "comma": {},
    "semicolon": {"separator": "semicolon", "decimal": "comma", "missing": ("", "-99,9")},
    "tab": {"separator": "tab", "missing": ("gone",)},
    "blanks": {"separator": "blanks", "columns": ("stamp", "time"), "format": "%d.%m.%Y %H:%M"},
    "dotted": {"separator": "semicolon", "decimal": "comma", "format": "%d.%m.%Y %H:%M"},
}
GOOD_LINES = {
    "comma": "2031-03-08 00:01,1.5,x,2",
    "semicolon": "2031-03-08 00:01;1,5;x;2",
    "tab": "2031-03-08 00:01\t1.5\tx\t2",
    "blanks": "08.03.2031 00:01 1.5 x 2",
    "dotted": "08.03.2031 00:01;1,5;x;2",
}


def _scan(lines: list[bytes], **changes: Any) -> tuple[Scan, list[Any]]:
    """Both ways over the same lines."""
    layout = raw_tables.layout(**changes)
    names = (*layout.time.columns, "a", "text", "b")
    columns = find_columns(names, layout, raw_tables.logger().channels)
    stamp = compile_format(layout.time, 0)
    body = b"".join(line + b"\n" for line in lines)
    ends = np.flatnonzero(np.frombuffer(body, np.uint8) == 10)
    rule = [judge_line(line, layout, columns, stamp) for line in lines]
    return scan_rows(Rows(body, ends), layout, columns, stamp), rule


def _agree(scan: Scan, rule: list[Any]) -> None:
    for row, verdict in enumerate(rule):
        if scan.read[row]:
            assert verdict.kind is Kind.GOOD
            assert scan.labels[row] == verdict.label
            found = tuple(float(column[row]) for column in scan.values)
            assert np.array_equal(found, verdict.values, equal_nan=True)


@pytest.mark.parametrize("kind", LAYOUTS)
def test_plain_lines_need_no_rule(kind: str) -> None:
    """Otherwise the fast way would be slow."""
    scan, rule = _scan([GOOD_LINES[kind].encode()] * 3, **LAYOUTS[kind])
    assert scan.read.all()
    assert all(verdict.kind is Kind.GOOD for verdict in rule)
    _agree(scan, rule)


def test_tokens_need_no_rule() -> None:
    """Missing and over-range tokens are told apart from garbled numbers by the fast way."""
    lines = [b"2031-03-08 00:01,gone,,beyond", b"2031-03-08 00:02,, ,1", b"2031-03-08 00:03,?,,1"]
    scan, _ = _scan(lines)
    assert scan.read.tolist() == [True, True, False]
    assert np.isnan(scan.values[0][:2]).all()
    assert scan.values[1][0] == np.inf


@pytest.mark.parametrize("kind", LAYOUTS)
def test_lines_before_the_first_do_not_count(kind: str) -> None:
    """A header in front, with separators of its own, changes nothing."""
    layout = raw_tables.layout(**LAYOUTS[kind])
    names = (*layout.time.columns, "a", "text", "b")
    columns = find_columns(names, layout, raw_tables.logger().channels)
    stamp = compile_format(layout.time, 0)
    head, line = b"any,thing;at\tall\n\nnames\n", GOOD_LINES[kind].encode() + b"\n"
    ends = np.array([len(line) - 1, 2 * len(line) - 1])
    alone = scan_rows(Rows(2 * line, ends), layout, columns, stamp)
    rows = Rows(head + 2 * line, ends + len(head), len(head), 3)
    after = scan_rows(rows, layout, columns, stamp)
    assert after.read.tolist() == [True, True]
    assert np.array_equal(after.labels, alone.labels)
    assert np.array_equal(after.values, alone.values)


def test_times_of_changing_width_need_no_rule() -> None:
    """Many of them: then the bytes are not looked at place by place."""
    lines = [f"2031-3-8 {i // 60}:{i % 60},1.5,x,2".encode() for i in range(300)]
    scan, rule = _scan(lines)
    assert scan.read.all()
    _agree(scan, rule)


def test_surplus_and_lacking_fields_are_seen() -> None:
    """Even where they are empty, and where one line makes up for the other."""
    lines = [b"2031-03-08 00:01,1,x,2,", b"2031-03-08 00:02,1,x", b"2031-03-08 00:03,1,x,"]
    assert _scan(lines)[0].read.tolist() == [False, False, True]


@pytest.mark.parametrize("kind", LAYOUTS)
@settings(max_examples=60)
@given(data=st.data())
def test_damaged_lines_are_judged_as_the_rule_does(kind: str, data: st.DataObject) -> None:
    """Bytes exchanged, put in and taken out at random."""
    lines = []
    for _ in range(data.draw(st.integers(1, 4))):
        line = bytearray(GOOD_LINES[kind].encode())
        for _ in range(data.draw(st.integers(0, 3))):
            at = data.draw(st.integers(0, max(len(line) - 1, 0)))
            byte = data.draw(st.sampled_from(list(b"0123456789.,;:- \teExinfa_+\x7f\xe9\xff\x0b")))
            line[at : at + data.draw(st.integers(0, 1))] = bytes([byte])
        lines.append(bytes(line))
    scan, rule = _scan(lines, **LAYOUTS[kind])
    _agree(scan, rule)
