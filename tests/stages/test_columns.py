"""Fields, header lines, and columns found by name."""

from __future__ import annotations

import csv

import pytest
from hypothesis import given
from hypothesis import strategies as st

import raw_tables
from sunledger.stages.columns import find_columns, header_names, split_fields

QUOTED = raw_tables.layout(quote='"')


@pytest.mark.parametrize(
    ("separator", "text", "fields"),
    [
        ("comma", "a, b ,,c", ["a", "b", "", "c"]),
        ("semicolon", "a;1,5;", ["a", "1,5", ""]),
        ("tab", "a\tb c\t", ["a", "b c", ""]),
        ("blanks", "  a \t b   c ", ["a", "b", "c"]),
    ],
)
def test_fields_lose_the_blanks_around_them(separator: str, text: str, fields: list[str]) -> None:
    """Every separator of a layout."""
    assert split_fields(text, raw_tables.layout(separator=separator)) == fields


def test_quoted_fields() -> None:
    """Separators and doubled quotes inside, and quotes that are never closed."""
    assert split_fields('"a,b", "c""d" ,e', QUOTED) == ["a,b", 'c"d', "e"]
    assert split_fields('"a,b', QUOTED) is None
    assert split_fields('"a"b,c', QUOTED) is None
    blanks = raw_tables.layout(quote='"', separator="blanks")
    assert split_fields(' "a b"  c ', blanks) == ["a b", "c"]


@given(st.lists(st.text('ab1",.', max_size=4), min_size=1, max_size=5))
def test_quoted_fields_as_the_standard_library_writes_them(fields: list[str]) -> None:
    """Python's csv module is the outside check."""

    class Taker(list):
        write = list.append

    taken = Taker()
    csv.writer(taken, quoting=csv.QUOTE_ALL, lineterminator="").writerow(fields)
    assert split_fields(taken[0], QUOTED) == fields


def test_a_header_line_names_every_time_column() -> None:
    """A line without them is no header, whatever it holds."""
    two = raw_tables.layout(columns=("date", "time"), encoding="latin-1")
    assert header_names("﻿date,time,Länge".encode("latin-1", "replace"), two) is None
    assert header_names("date,time,Länge".encode("latin-1"), two) == ("date", "time", "Länge")
    assert header_names(b"date,a", two) is None
    assert header_names(b"\xef\xbb\xbfstamp,a", raw_tables.layout()) == ("stamp", "a")


def test_columns_are_found_by_name() -> None:
    """In whatever order, with others between."""
    logger = raw_tables.logger()
    found = find_columns(("b", "x", "stamp", "a"), raw_tables.layout(), logger.channels)
    assert found.time == (2,)
    assert [place for _, place, _ in found.channels] == [3, 0]


def test_a_missing_or_doubled_column_is_named_with_those_found() -> None:
    """All faults at once."""
    logger = raw_tables.logger(columns=("a", "b", "c"))
    with pytest.raises(
        ValueError, match="no column 'c', column 'a' stands there twice; columns found: stamp, a"
    ):
        find_columns(("stamp", "a", "b", "a"), raw_tables.layout(), logger.channels)
