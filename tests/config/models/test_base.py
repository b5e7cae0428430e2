"""Times, offsets, dates and names as people write them."""

from __future__ import annotations

import calendar
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from sunledger.config.models.base import (
    EntryError,
    EntryId,
    Model,
    Month,
    Name,
    StationId,
    parse_date,
    parse_offset,
    parse_utc,
)


# Seconds counted by calendar.timegm, which is outside the project.
@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("2031-03-25", (2031, 3, 25, 0, 0, 0)),
        ("2031-03-25 12:30", (2031, 3, 25, 12, 30, 0)),
        ("2031-03-25T12:30:15", (2031, 3, 25, 12, 30, 15)),
        ("2031-03-25T12:30:15Z", (2031, 3, 25, 12, 30, 15)),
        ("2031-03-25 12:30+01:00", (2031, 3, 25, 11, 30, 0)),
        (" 2032-02-29 ", (2032, 2, 29, 0, 0, 0)),
        ("1969-12-31 23:59:59", (1969, 12, 31, 23, 59, 59)),
    ],
)
def test_written_times(text: str, parts: tuple[int, ...]) -> None:
    """Without an offset a time is UTC, whatever the machine's zone."""
    assert parse_utc(text) == calendar.timegm((*parts, 0, 0, 0))


@pytest.mark.parametrize(
    "value", ["2031-02-29", "25.3.2031", "12:30", "", 7, 12.5, None, True, ["2031-03-25"]]
)
def test_what_is_no_time(value: object) -> None:
    """The message shows how a time is written."""
    with pytest.raises(ValueError, match=r'UTC time such as "2031-03-25 12:30" \(got'):
        parse_utc(value)


def test_times_are_whole_seconds() -> None:
    """Fractions are refused, not cut off."""
    with pytest.raises(ValueError, match="whole seconds"):
        parse_utc("2031-03-25 12:30:00.5")


@given(st.integers(10**7 + 1, 10**10))
def test_seconds_pass(seconds: int) -> None:
    """A time in seconds is taken as it is."""
    assert parse_utc(seconds) == seconds


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("+01:00", 3600), ("-03:30", -12600), ("+00:00", 0), ("+14:00", 50400), ("-14:00", -50400)],
)
def test_offsets(text: str, seconds: int) -> None:
    """Positive east, minutes with the sign of the hours."""
    assert parse_offset(text) == seconds


@pytest.mark.parametrize(
    ("value", "match"),
    [
        ("1h", 'quoted offset such as "\\+01:00"'),
        ("+1:00", "quoted offset"),
        (90, "quoted offset"),
        ("+14:01", "within 14 hours"),
        ("+01:60", "within 14 hours"),
    ],
)
def test_what_is_no_offset(value: object, match: str) -> None:
    """The message shows how an offset is written, or how far it may go."""
    with pytest.raises(ValueError, match=match):
        parse_offset(value)


def test_dates() -> None:
    """A date is checked and kept as text."""
    assert parse_date("2032-02-29") == "2032-02-29"
    with pytest.raises(ValueError, match=r'date such as "2031-03-25" \(got \'2031-02-29\'\)'):
        parse_date("2031-02-29")


@pytest.mark.parametrize(
    ("kind", "good", "bad"),
    [
        (Name, ["global_1", "a"], ["Global", "1a", "a-b", "a b", "", "a\n"]),
        (StationId, ["osr", "kp2"], ["x", "a_b", "OSR", "abcdefghijklm"]),
        (Month, ["2031-01", "2031-12"], ["2031-13", "2031-1", "2031-00", "2031"]),
        (EntryId, ["osr-0042", "R.1_b"], ["-a", "a b", ""]),
    ],
)
def test_names(kind: Any, good: list[str], bad: list[str]) -> None:
    """Names can stand in file names and variable names."""
    check: TypeAdapter[str] = TypeAdapter(kind)
    assert [check.validate_python(text) for text in good] == good
    for text in bad:
        with pytest.raises(ValidationError):
            check.validate_python(text)


def test_models_are_frozen_and_closed() -> None:
    """No field is added, unnoticed or later."""

    class Small(Model):
        size: int

    with pytest.raises(ValidationError, match="extra_forbidden"):
        Small.model_validate({"size": 1, "width": 2})
    with pytest.raises(ValidationError, match="frozen"):
        Small(size=1).size = 2


def test_entry_error_keeps_its_place_out_of_its_text() -> None:
    """The place is for the loader; the text is for the reader."""
    error = EntryError("is used twice", "entries", 3, "id")
    assert (str(error), error.loc) == ("is used twice", ("entries", 3, "id"))
