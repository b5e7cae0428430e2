"""Guessing how a table is written; whole round trips are in test_look.py."""

from __future__ import annotations

import pytest

import raw_tables
from sunledger.errors import RawFileError
from sunledger.stages.guess_layout import Guess, guess_layout

STAMPS = [raw_tables.written(raw_tables.MARCH + 60 * i) for i in range(40)]


def _guess(lines: list[str], encoding: str = "utf-8", end: str = "\n") -> Guess:
    return guess_layout(end.join([*lines, ""]).encode(encoding), "a.txt")


def test_kinds_of_header_lines() -> None:
    """Names have most different words; statistics are known by theirs; the rest are units."""
    head = ["made by NL-1", ",mV,W", "stamp,a,b", ",avg,max"]
    guess = _guess([*head, *(f"{s},1.5,2" for s in STAMPS)])
    assert guess.layout.header == ("file", "units", "names", "statistics")
    assert guess.columns == ("stamp", "a", "b")
    assert guess.units == {"stamp": "", "a": "mV", "b": "W"}
    assert guess.numeric == ("a", "b")


def test_the_separator_that_makes_numbers_wins() -> None:
    """Decimal commas split as regularly as separators do."""
    guess = _guess(["stamp;a;b", *(f"{s};1,5;2,25" for s in STAMPS)])
    assert (guess.layout.separator, guess.layout.decimal) == ("semicolon", "comma")
    assert guess.columns == ("stamp", "a", "b")


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_marks_and_encodings(end: str) -> None:
    """A byte-order mark, Latin-1, comment lines, any line end."""
    lines = ["# température", "stamp,é", *(f"{s},1.5" for s in STAMPS)]
    plain = _guess(lines, end=end)
    assert (plain.layout.encoding, plain.layout.comment) == ("utf-8", "#")
    assert plain.columns == ("stamp", "é")
    assert _guess(lines, "latin-1", "\n").layout.encoding == "latin-1"
    assert _guess(lines, "utf-8-sig", end).columns == ("stamp", "é")


def test_tokens() -> None:
    """Words and filler numbers are missing; what says too much is over-range."""
    words = ["NAN", "-9999", "OVR", "", "-", "INF", "1e3", "-6999.0"]
    rows = [f"{s},1.5,2" for s in STAMPS]
    rows[5:13] = [f"{s},{w},2" for s, w in zip(STAMPS[5:13], words, strict=True)]
    layout = _guess(["stamp,a,b", *rows]).layout
    assert layout.missing == ("", "-", "-6999.0", "-9999", "NAN")
    assert layout.over_range == ("INF", "OVR")


def test_a_column_of_words_is_no_channel() -> None:
    """It is among the columns all the same."""
    guess = _guess(["stamp,a,word", *(f"{s},1.5,fine" for s in STAMPS)])
    assert guess.columns == ("stamp", "a", "word")
    assert guess.numeric == ("a",)


def test_without_a_header() -> None:
    """Names are invented, a record code is found."""
    layout = _guess([f"7,{s},1.5,2,3,4" for s in STAMPS] + ["8,1"] * 5).layout
    assert layout.names == ("code", "stamp", *(f"column_{i}" for i in range(3, 7)))
    assert layout.record_code == "7"
    plain = _guess([f"{s},1.5" for s in STAMPS]).layout
    assert (plain.header, plain.names, plain.record_code) == ((), ("stamp", "column_2"), None)


def test_nothing_to_guess() -> None:
    """The file is named."""
    with pytest.raises(RawFileError, match=r"a\.txt: nothing that looks like rows with a time"):
        _guess(["some words", "and some more"])
