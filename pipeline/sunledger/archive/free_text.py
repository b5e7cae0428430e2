"""Free text that people wrote, made harmless for tables, pages and attributes."""

from __future__ import annotations

import html
import math
import re

_CONTROLS = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]+")
_FORMULA = ("=", "+", "-", "@")


def one_line(text: str) -> str:
    """
    Text on one line, without control characters and without marks that turn its direction.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    line : str
        Each run of them as one blank.
    """
    return _CONTROLS.sub(" ", text).strip()


def csv_cell(value: object) -> object:
    """
    A value that no spreadsheet takes for a formula.

    Parameters
    ----------
    value : object
        Text, number or None.

    Returns
    -------
    cell : object
        Numbers unchanged, missing ones empty; text on one line, with an apostrophe in front where
        it begins as a formula would.
    """
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if not isinstance(value, str):
        return value
    line = one_line(value)
    return f"'{line}" if line.startswith(_FORMULA) else line


def html_text(text: object) -> str:
    """
    Text for an HTML page, in an element or in a quoted attribute.

    Parameters
    ----------
    text : object
        Anything that has a text.

    Returns
    -------
    escaped : str
        On one line.
    """
    return html.escape(one_line(str(text)), quote=True)
