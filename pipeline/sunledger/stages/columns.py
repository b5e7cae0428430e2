"""Which column of a table is which: header lines, and channels found by name."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sunledger.config.models.station import Channel, Layout

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "blanks": " "}
_BLANKS = re.compile(r"[ \t]+")


@dataclass(frozen=True)
class Columns:
    """
    The columns of a table as its header, or its layout, names them.

    Parameters
    ----------
    names : tuple of str
        All columns in order.
    time : tuple of int
        Places of the time columns.
    channels : tuple of (str, int, str)
        Name of the channel, place of its column, and the column's name.
    """

    names: tuple[str, ...]
    time: tuple[int, ...]
    channels: tuple[tuple[str, int, str], ...]


def split_fields(text: str, layout: Layout) -> list[str] | None:
    """
    Fields of one line, without quotes and surrounding blanks.

    Parameters
    ----------
    text : str
        The line without its end.
    layout : Layout
        Separator and quote.

    Returns
    -------
    fields : list of str or None
        None when a quote is not closed at the end of its field.
    """
    separator = SEPARATORS[layout.separator]
    if layout.separator == "blanks":
        text = text.strip(" \t")
    if layout.quote and layout.quote in text:
        return _split_quoted(text, separator, layout.quote)
    if layout.separator == "blanks":
        return _BLANKS.split(text)
    return [field.strip(" \t") for field in text.split(separator)]


def _split_quoted(text: str, separator: str, quote: str) -> list[str] | None:
    """Fields where some are quoted; a doubled quote inside a quoted field stands for one."""
    mark, parted = re.escape(quote), "[ \t]+" if separator == " " else re.escape(separator)
    plain = "[^ \t]*?" if separator == " " else f"[^{parted}]*?"
    field = re.compile(
        f"[ \t]*(?:{mark}((?:[^{mark}]|{mark}{mark})*){mark}[ \t]*|({plain}))({parted}|$)"
    )
    fields: list[str] = []
    at = 0
    while match := field.match(text, at):
        quoted, bare, end = match.groups()
        if quoted is None and bare.startswith(quote):
            return None
        fields.append(
            bare.strip(" \t") if quoted is None else quoted.replace(quote * 2, quote).strip(" \t")
        )
        if not end:
            return fields
        at = match.end()
    return None


def header_names(line: bytes, layout: Layout) -> tuple[str, ...] | None:
    """
    Column names of a line, if it is the header line that holds them.

    Parameters
    ----------
    line : bytes
        A line without its end.
    layout : Layout
        Layout that the line may be the header of.

    Returns
    -------
    names : tuple of str or None
        None unless every time column of the layout is named.
    """
    text = line.removeprefix(b"\xef\xbb\xbf").decode(layout.encoding, errors="replace")
    fields = split_fields(text, layout)
    if fields is None or not set(layout.time.columns) <= set(fields):
        return None
    return tuple(fields)


def find_columns(names: tuple[str, ...], layout: Layout, channels: tuple[Channel, ...]) -> Columns:
    """
    Find the time columns and the channels among a table's columns.

    Parameters
    ----------
    names : tuple of str
        All columns in order.
    layout : Layout
        Names the time columns.
    channels : tuple of Channel
        The channels that the table must hold.

    Returns
    -------
    columns : Columns
        Places of all that is needed.

    Raises
    ------
    ValueError
        If a column is not there, or stands there twice; the columns found are listed.
    """
    needed = (*layout.time.columns, *(c.column for c in channels))
    missing = [name for name in dict.fromkeys(needed) if name not in names]
    twice = [name for name in dict.fromkeys(needed) if names.count(name) > 1]
    if missing or twice:
        faults = [f"no column {name!r}" for name in missing]
        faults += [f"column {name!r} stands there twice" for name in twice]
        raise ValueError(f"{', '.join(faults)}; columns found: {', '.join(names)}")
    place = {name: i for i, name in enumerate(names)}
    return Columns(
        names,
        tuple(place[name] for name in layout.time.columns),
        tuple((c.name, place[c.column], c.column) for c in channels),
    )
