"""Tables and pictures of pages."""

from __future__ import annotations

import base64
import re

import numpy as np

from sunledger.report.axes import new_axes
from sunledger.report.parts import CLOSE_DPI, DPI, cell, form, keep, picture, table


def size_of(html: str) -> tuple[int, int]:
    """Width and height of the picture inside the page, from the header of the PNG."""
    found = re.search(r"base64,([^\"]+)", html)
    assert found is not None
    content = base64.b64decode(found.group(1))
    width, height = np.frombuffer(content[16:24], ">u4")
    return int(width), int(height)


def test_a_table_without_rows_is_a_sentence() -> None:
    """What there is not is said."""
    assert table("Gaps", ("a",), [], "No gap.") == "<p>No gap.</p>\n"


def test_cells_are_escaped_and_times_are_not_broken() -> None:
    html = table("A & B", ("<x>", "y"), [("2031-04-01 09:00", "<b>"), ("two words", 1)], "none")
    assert "A &amp; B" in html
    assert "&lt;b&gt;" in html
    assert '<th scope="row" class="when">2031-04-01 09:00</th>' in html
    assert '<th scope="row">two words</th>' in html


def test_pictures_to_be_looked_at_closely_are_finer_and_grow() -> None:
    """Only these have a box to tick; both name what they show."""
    figure, _ = new_axes(2.0, 1.0)
    plain, close = picture(figure, "a < b"), picture(figure, "a < b", close=True)
    assert (size_of(plain), size_of(close)) == ((2 * DPI, DPI), (2 * CLOSE_DPI, CLOSE_DPI))
    assert 'class="zoom"' in close
    assert 'class="zoom"' not in plain
    assert plain.count("a &lt; b") == 3


def test_cells() -> None:
    assert cell("<a>") == "<td>&lt;a&gt;</td>"
    assert keep("a") == '<td class="keep">a</td>'
    assert 'aria-label="A &amp; B"' in form("A & B", ("x",), [(cell(1),)])
