"""Time labels: one rule, and two faster ways that must agree with it."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunledger.config.models.station import TimeStamp
from sunledger.stages.timestamps import StampFormat, compile_format, left_to_the_rule

HOUR = 3600


def _compiled(text: str, utc_offset: int = HOUR) -> StampFormat:
    return compile_format(TimeStamp(columns=("t",), format=text), utc_offset)


def _seconds(*parts: int) -> int:
    return int(datetime(*parts, tzinfo=UTC).timestamp())


CASES = [
    ("%Y-%m-%d %H:%M", "2031-03-09 23:58", _seconds(2031, 3, 9, 23, 58)),
    ("%Y-%m-%d %H:%M", "2031-3-9  3:08", _seconds(2031, 3, 9, 3, 8)),
    ("%Y-%m-%d %H:%M", "2031-03-09 24:00", _seconds(2031, 3, 10)),
    ("%Y-%m-%d %H:%M", "2032-02-29 00:00", _seconds(2032, 2, 29)),
    ("%Y-%m-%d %H:%M", "2031-02-29 00:00", None),
    ("%Y-%m-%d %H:%M", "2031-03-09 24:01", None),
    ("%Y-%m-%d %H:%M", "2031-03-09 12:60", None),
    ("%Y-%m-%d %H:%M", "2031-13-09 12:00", None),
    ("%Y-%m-%d %H:%M", "2031-03-09T12:00", None),
    ("%Y-%m-%d %H:%M", "2031-03-09 12:00 ", None),
    ("%d.%m.%y %H:%M:%S", "09.03.31 01:02:03", _seconds(2031, 3, 9, 1, 2, 3)),
    ("%d.%m.%y", "01.01.69", _seconds(1969, 1, 1)),
    ("%Y %j %H%M", "2031 068 0005", _seconds(2031, 3, 9, 0, 5)),
    ("%Y %j %H%M", "2031 366 0005", None),
    ("%d-%b-%Y %I:%M %p", "09-Mar-2031 12:05 am", _seconds(2031, 3, 9, 0, 5)),
    ("%d-%b-%Y %I:%M %p", "09-MAR-2031 1:05 PM", _seconds(2031, 3, 9, 13, 5)),
    ("%d-%b-%Y %I:%M %p", "09-Mai-2031 1:05 PM", None),
    ("%d-%b-%Y %I:%M %p", "09-Mar-2031 0:05 PM", None),
    ("%B %d %Y %H", "March 09 2031 7", _seconds(2031, 3, 9, 7)),
    ("%Y-%m-%dT%H:%M:%S.%f", "2031-03-09T00:00:01.000", _seconds(2031, 3, 9, 0, 0, 1)),
    ("%Y-%m-%dT%H:%M:%S.%f", "2031-03-09T00:00:01.5", None),
    ("%Y-%m-%d %H:%M%z", "2031-03-09 12:00+0200", _seconds(2031, 3, 9, 11)),
    ("iso8601", "2031-03-09T12:00:00", _seconds(2031, 3, 9, 12)),
    ("iso8601", "2031-03-09 12:00", _seconds(2031, 3, 9, 12)),
    ("iso8601", "2031-03-09T12:00:00Z", _seconds(2031, 3, 9, 13)),
    ("iso8601", "2031-03-09T12:00:00+01:00", _seconds(2031, 3, 9, 12)),
    ("iso8601", "2031-03-09T12:00:00-03:30", _seconds(2031, 3, 9, 16, 30)),
    ("iso8601", "2031-03-09T12:00:00.000", _seconds(2031, 3, 9, 12)),
    ("iso8601", "2031-03-09T24:00:00", _seconds(2031, 3, 10)),
    ("iso8601", "2031-03-09", None),
    ("iso8601", "2031-03-09T12:00+15:00", None),
    ("epoch_seconds", "1930694400", 1930694400),
    ("epoch_seconds", "1930694400.0", 1930694400),
    ("epoch_seconds", "1930694400.5", None),
    ("year_day_hhmm", "2031 68 2400", _seconds(2031, 3, 10)),
    ("year_day_hhmm", "2031 68 5", _seconds(2031, 3, 9, 0, 5)),
    ("year_day_hhmm", "2031 365 2400", _seconds(2032, 1, 1)),
    ("year_day_hhmm", "2031 68 1234 56", _seconds(2031, 3, 9, 12, 34, 56)),
    ("year_day_hhmm", "2031 68 2401", None),
    ("year_day_hhmm", "2031 0 1200", None),
]


@pytest.mark.parametrize(("form", "text", "expected"), CASES)
def test_written_times(form: str, text: str, expected: int | None) -> None:
    """Labels as written; only an explicit offset brings a label to the logger's zone."""
    assert _compiled(form).label(text) == expected


@pytest.mark.parametrize("form", sorted({form for form, _, _ in CASES}))
@pytest.mark.parametrize("times", [1, 300])
def test_the_faster_ways_follow_the_rule(form: str, times: int) -> None:
    """Few odd texts are left to the rule, many go through one regular expression."""
    rule = _compiled(form)
    texts = [t for f, t, _ in CASES if f == form] + ["", "rubbish", "2031-03-09 12:0x", "٢٠٣١"]
    texts = texts * times
    labels, read = rule.labels(pl.Series(texts))
    for text, label, is_read in zip(texts, labels.tolist(), read.tolist(), strict=True):
        assert not is_read or rule.label(text) == label
    if times > 1:
        plain = [rule.label(text) is not None for text in texts]
        assert read.tolist() == plain


@pytest.mark.parametrize("form", sorted({form for form, _, _ in CASES}))
def test_times_at_the_beginning_of_lines_follow_the_rule(form: str) -> None:
    """What is read from the bytes is read alike, and only where the separator follows."""
    rule = _compiled(form)
    cases = {t: label for f, t, label in CASES if f == form}
    texts = [*cases, "", "rubbish", "2031-03-09 12:0x"]
    lines = [f"{t}{after}" for t in texts for after in (",1", ";1", "0,1", ",", "")]
    body = "\n".join([*lines, ""]).encode()
    buffer = np.frombuffer(body, np.uint8)
    ends = np.flatnonzero(buffer == 10)
    starts = np.concatenate([[0], ends[:-1] + 1])
    labels, read = rule.leading_labels(buffer, starts, ends, ord(","))
    for line, label, is_read in zip(lines, labels.tolist(), read.tolist(), strict=True):
        assert not is_read or rule.label(line.split(",")[0]) == label
        assert not is_read or "," in line
    # what is padded with zeros, by the length of it, for each form that is numbers alone
    widths = {"%Y-%m-%d %H:%M": (16,), "%d.%m.%y %H:%M:%S": (17,), "%d.%m.%y": (8,)}
    widths |= {"%Y %j %H%M": (13,), "iso8601": (16, 19)}
    plain = [cases.get(text) is not None and len(text) in widths.get(form, ()) for text in texts]
    assert read[::5].tolist() == plain
    assert any(plain) == bool(rule.templates)
    known = [cases[text] for text, is_read in zip(texts, plain, strict=True) if is_read]
    assert labels[::5][plain].tolist() == known


def test_few_texts_are_left_to_the_rule() -> None:
    """A hundred, or one in a hundred."""
    assert left_to_the_rule(np.arange(1000) >= 100)
    assert not left_to_the_rule(np.arange(1000) >= 101)
    assert left_to_the_rule(np.arange(20_000) >= 200)


@given(
    st.lists(st.datetimes(datetime(1900, 1, 1), datetime(2150, 1, 1)), min_size=1, max_size=20),
    st.sampled_from(["%Y-%m-%d %H:%M:%S", "%d/%m/%Y %H%M", "%Y%j%H%M", "%b %d %Y %I:%M:%S %p"]),
)
def test_labels_are_those_of_the_standard_library(moments: list[datetime], form: str) -> None:
    """What Python's own strftime writes and strptime reads."""
    texts = [moment.strftime(form) for moment in moments]
    expected = [int(datetime.strptime(t, form).replace(tzinfo=UTC).timestamp()) for t in texts]
    rule = _compiled(form)
    assert [rule.label(text) for text in texts] == expected
    labels, read = rule.labels(pl.Series(texts * 150))
    assert read.all()
    assert labels.tolist() == expected * 150


@given(st.text("0123456789-: .T", max_size=17))
def test_any_text_is_judged_alike(text: str) -> None:
    """What the fast way reads, it reads as the rule does."""
    rule = _compiled("%Y-%m-%d %H:%M")
    labels, read = rule.labels(pl.Series([text, "2031-03-09 12:00"]))
    assert read[1]
    assert not read[0] or labels[0] == rule.label(text)


def test_an_unknown_directive_is_named() -> None:
    """All allowed directives are listed."""
    with pytest.raises(ValueError, match=r"unknown %Q; allowed: %Y %y %m"):
        _compiled("%Y-%Q")
    with pytest.raises(ValueError, match="redefinition of group name"):
        _compiled("%Y-%Y")
