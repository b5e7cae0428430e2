"""Free text stays text: no formula, no markup, no second line."""

from __future__ import annotations

import math

import pytest

from sunledger.archive.free_text import csv_cell, html_text, one_line


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r\n@x", " =1"])
def test_no_cell_begins_as_a_formula(text: str) -> None:
    """OWASP, "CSV Injection": = + - @, tab and carriage return begin formulas."""
    cell = str(csv_cell(text))
    assert cell.startswith("'")
    assert cell.isprintable()


def test_numbers_and_plain_text_stay() -> None:
    assert csv_cell(-1.5) == -1.5
    assert csv_cell(3) == 3
    assert csv_cell("dew on dome") == "dew on dome"
    assert csv_cell(math.nan) == csv_cell(None) == ""


def test_lines_controls_and_turned_direction() -> None:
    assert one_line("a\n\tb\u202ec\x00d\u2028e") == "a b c d e"


def test_markup_is_escaped() -> None:
    text = "<script>alert('x')</script> & \"q\"\n"
    escaped = html_text(text)
    assert not set("<>\"'") & set(escaped)
    assert escaped.startswith("&lt;script&gt;")
