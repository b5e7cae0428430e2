"""The rule for one line."""

from __future__ import annotations

import math

import pytest

import raw_tables
from sunledger.config.models.station import Layout
from sunledger.stages.columns import find_columns
from sunledger.stages.lines import Kind, Verdict, judge_line, read_value
from sunledger.stages.timestamps import compile_format


def _judge(line: bytes, layout: Layout | None = None) -> Verdict:
    layout = layout or raw_tables.layout()
    names = ("code", "stamp", "a", "b") if layout.record_code else ("stamp", "a", "text", "b")
    columns = find_columns(names, layout, raw_tables.logger().channels)
    return judge_line(line, layout, columns, compile_format(layout.time, 0))


def test_a_good_line() -> None:
    """Label and values; a column that no channel uses may hold anything."""
    verdict = _judge(b"2031-03-08 00:01, 1.5 ,\xff\xfe,-2e-3")
    assert verdict == Verdict(Kind.GOOD, raw_tables.MARCH + 60, (1.5, -0.002))


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"2031-03-08 00:01,1,x", "3 fields where 4 are expected"),
        (b"2031-03-08 00:01,1,x,2,", "5 fields where 4 are expected"),
        (b"2031-03-08 00:61,1,x,2", "not a time label: '2031-03-08 00:61'"),
        (b"2031-03-08 00:01,1_0,x,2", "column a: not a number: '1_0'"),
        (b"2031-03-08 00:01,1,x,inf", "column b: not a number: 'inf'"),
        (b"2031-03-08 00:01,1,x,1e999", "column b: not a number: '1e999'"),
        (b"2031-03-08 00:01,\x00,x,2", "NUL bytes in the line"),
        (b"\0\0\0", "NUL bytes in the line"),
        (b"x" * 70000, "line longer than 65536 bytes"),
    ],
)
def test_a_bad_line_says_why(line: bytes, reason: str) -> None:
    """One reason a line."""
    verdict = _judge(line)
    assert (verdict.kind, verdict.reason) == (Kind.BAD, reason)


def test_the_label_of_a_bad_line_is_kept_where_it_can_be_read() -> None:
    """A garbled number leaves the label alone."""
    assert _judge(b"2031-03-08 00:01,1,x,?").label == raw_tables.MARCH + 60


def test_what_a_power_failure_or_joining_leaves_before_a_line_is_passed_over() -> None:
    """NUL padding and a byte-order mark."""
    assert _judge(b"\0\0\xef\xbb\xbf2031-03-08 00:01,1,x,2").kind is Kind.GOOD


def test_lines_that_are_no_data() -> None:
    """Blank lines, comments, and other record types."""
    assert _judge(b" \t ").kind is Kind.BLANK
    assert _judge(b"  # note", raw_tables.layout(comment="#")).kind is Kind.COMMENT
    coded = raw_tables.layout(record_code="7", header=(), names=("code", "stamp", "a", "b"))
    assert _judge(b"8,1,2", coded) == Verdict(Kind.OTHER_RECORD, reason="8")
    assert _judge(b"7,2031-03-08 00:01,1,2", coded).kind is Kind.GOOD


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1.5", 1.5), ("+1.", 1.0), ("-.5E+2", -50.0), ("gone", math.nan), ("", math.nan),
        ("beyond", math.inf), ("nan", None), ("Infinity", None), ("0x1f", None), ("1,5", None),
        ("1 5", None), ("\u0661", None), ("--1", None), (".", None), ("e5", None),
    ],
)  # fmt: skip
def test_numbers_are_decimal_digits(text: str, value: float | None) -> None:
    """Spellings that programming languages accept are no numbers; tokens stay apart."""
    found = read_value(text, raw_tables.layout())
    assert found == value or (value is not None and math.isnan(value) and math.isnan(found))


def test_a_decimal_comma_does_not_let_points_pass() -> None:
    """A number of the other writing is an error, not a guess."""
    layout = raw_tables.layout(separator="semicolon", decimal="comma")
    assert read_value("1,5", layout) == 1.5
    assert read_value("1.5", layout) is None
    assert read_value("1.234,5", layout) is None
