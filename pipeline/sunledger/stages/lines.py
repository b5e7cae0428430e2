"""The rule for a line of a logger's table: read it, or say why not. Stated here and only here."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from enum import Enum

from sunledger.config.models.station import Layout
from sunledger.stages.columns import Columns, split_fields
from sunledger.stages.timestamps import StampFormat

MAX_LINE_BYTES = 1 << 16
NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_NUMBER = re.compile(NUMBER)
_RECORD_CODE = re.compile(r"[0-9A-Za-z_-]{1,16}")
_SWAP_MARKS = str.maketrans(",.", ".,")
BYTE_ORDER_MARK = b"\xef\xbb\xbf"


class Kind(Enum):
    """What a line is."""

    BLANK = "blank"
    COMMENT = "comment"
    OTHER_RECORD = "other record"
    GOOD = "good"
    BAD = "bad"


@dataclass(frozen=True)
class Verdict:
    """
    What the rule says about a line.

    Parameters
    ----------
    kind : Kind
        What the line is.
    label : int or None
        Label, where it can be read, also of a bad line. [s]
    values : tuple of float
        Values of the channels in order, of a good line.
    reason : str
        Why a line is bad; the code of a line of another record type.
    """

    kind: Kind
    label: int | None = None
    values: tuple[float, ...] = field(default=())
    reason: str = ""


def judge_line(line: bytes, layout: Layout, columns: Columns, stamp: StampFormat) -> Verdict:
    """
    Read one line of a table.

    Parameters
    ----------
    line : bytes
        The line without its end.
    layout : Layout
        How the table is written.
    columns : Columns
        Places of the time columns and channels.
    stamp : StampFormat
        How the time is written.

    Returns
    -------
    verdict : Verdict
        The label and the values, or why the line is not read.

    Notes
    -----
    NUL bytes and a byte-order mark before a line are what a power failure or the joining of
    files leaves, and are passed over; a NUL byte further in spoils the line. Blanks around a
    field do not count. A number is written in decimal digits with an optional exponent; other
    spellings that programming languages accept (``1_0``, ``inf``, ``nan``, ``0x1f``) are not
    numbers. A column that no channel uses may hold anything.
    """
    bare = line.lstrip(b"\0").removeprefix(BYTE_ORDER_MARK)
    if len(line) > MAX_LINE_BYTES:
        return Verdict(Kind.BAD, reason=f"line longer than {MAX_LINE_BYTES} bytes")
    if b"\0" in bare or (line and not bare):
        return Verdict(Kind.BAD, reason="NUL bytes in the line")
    text = bare.decode(layout.encoding, errors="replace")
    if not text.strip(" \t"):
        return Verdict(Kind.BLANK)
    if layout.comment and text.lstrip(" \t").startswith(layout.comment):
        return Verdict(Kind.COMMENT)
    fields = split_fields(text, layout)
    if fields is None:
        return Verdict(Kind.BAD, reason="a quote is not closed at the end of its field")
    if layout.record_code is not None and fields[0] != layout.record_code:
        if is_record_code(fields[0]):
            return Verdict(Kind.OTHER_RECORD, reason=fields[0])
        return Verdict(Kind.BAD, reason=f"not a record code: {fields[0][:60]!r}")
    return _judge_fields(fields, layout, columns, stamp)


def is_record_code(text: str) -> bool:
    """
    Whether a first field can be the code of a record type.

    Parameters
    ----------
    text : str
        First field of a line.

    Returns
    -------
    possible : bool
        False for what is garbled.
    """
    return _RECORD_CODE.fullmatch(text) is not None


def _judge_fields(
    fields: list[str], layout: Layout, columns: Columns, stamp: StampFormat
) -> Verdict:
    label = None
    if max(columns.time) < len(fields):
        label = stamp.label(" ".join(fields[i] for i in columns.time))
    if len(fields) != len(columns.names):
        why = f"{len(fields)} fields where {len(columns.names)} are expected"
        return Verdict(Kind.BAD, label, reason=why)
    if label is None:
        written = " ".join(fields[i] for i in columns.time)
        return Verdict(Kind.BAD, reason=f"not a time label: {written[:60]!r}")
    values = []
    for _, place, name in columns.channels:
        value = read_value(fields[place], layout)
        if value is None:
            why = f"column {name}: not a number: {fields[place][:60]!r}"
            return Verdict(Kind.BAD, label, reason=why)
        values.append(value)
    return Verdict(Kind.GOOD, label, tuple(values))


def read_value(text: str, layout: Layout) -> float | None:
    """
    Value of one field.

    Parameters
    ----------
    text : str
        Field without quotes and surrounding blanks.
    layout : Layout
        Decimal mark, missing and over-range tokens.

    Returns
    -------
    value : float or None
        NaN for a missing token, +inf for an over-range token, None when it is no number.
    """
    if text in layout.missing:
        return math.nan
    if text in layout.over_range:
        return math.inf
    plain = text.translate(_SWAP_MARKS) if layout.decimal == "comma" else text
    if not _NUMBER.fullmatch(plain):
        return None
    value = float(plain)
    return value if math.isfinite(value) else None
