"""Guessing time columns: told by what reads most rows at the most regular steps."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from sunledger.stages.guess_time import TimeGuess, guess_time

START = datetime(2031, 3, 8, 23, 40, tzinfo=UTC)


def _guess(form: str, step: int = 60, count: int = 200, mark: str = ",") -> TimeGuess | None:
    times = [START + timedelta(seconds=step * i) for i in range(count)]
    return guess_time([[*t.strftime(form).split(mark), "12.5", "7"] for t in times])


@pytest.mark.parametrize(
    ("form", "columns", "found"),
    [
        ("%Y-%m-%d %H:%M:%S", (0,), "%Y-%m-%d %H:%M:%S"),
        ("%Y-%m-%dT%H:%M:%S", (0,), "%Y-%m-%dT%H:%M:%S"),
        ("%Y-%m-%dT%H:%MZ", (0,), "iso8601"),
        ("%d.%m.%Y,%H:%M", (0, 1), "%d.%m.%Y %H:%M"),
        ("%m/%d/%Y %I:%M:%S %p", (0,), "%m/%d/%Y %I:%M:%S %p"),
        ("%Y%m%d%H%M", (0,), "%Y%m%d%H%M"),
        ("%d-%b-%Y %H:%M:%S", (0,), "%d-%b-%Y %H:%M:%S"),
        ("101,%Y,%j,%H%M", (1, 2, 3), "year_day_hhmm"),
        ("%Y,%j,%H%M,%S", (0, 1, 2, 3), "year_day_hhmm"),
        ("%s", (0,), "epoch_seconds"),
    ],
)
def test_formats(form: str, columns: tuple[int, ...], found: str) -> None:
    """Columns and format; every row is read."""
    step = 10 if "%S" in form else 60
    guess = _guess(form, step)
    assert guess is not None
    assert (guess.columns, guess.format) == (columns, found)
    assert guess.share == 1.0
    assert guess.regularity > 0.99


def test_day_and_month_are_told_by_the_steps() -> None:
    """Both can be read until the 12th; the right one has no leap of a month at midnight."""
    day_first, month_first = _guess("%d/%m/%Y %H:%M"), _guess("%m/%d/%Y %H:%M")
    assert day_first is not None
    assert month_first is not None
    assert day_first.format == "%d/%m/%Y %H:%M"
    assert month_first.format == "%m/%d/%Y %H:%M"


def test_one_bad_row_in_ten_is_borne() -> None:
    """More is not the format."""
    rows = [[(START + timedelta(minutes=i)).strftime("%Y-%m-%d %H:%M"), "1"] for i in range(100)]
    for i in range(20, 30):
        rows[i][0] = "?"
    guess = guess_time(rows)
    assert guess is not None
    assert guess.share == 0.9
    rows[40][0] = "?"
    assert guess_time(rows) is None


def test_no_time_at_all() -> None:
    """Numbers that only look like seconds are none, and nothing is nothing."""
    assert guess_time([[str(i), str(2 * i)] for i in range(1, 50)]) is None
    assert guess_time([]) is None
