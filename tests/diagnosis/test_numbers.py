"""A month judged from its numbers says what it says with its minutes at hand."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from diagnosed_months import month
from invented_months import Month, step_at
from sunledger.archive.digest import plain_data
from sunledger.diagnosis.checks import compared, diagnosed
from sunledger.diagnosis.closure_days import moments_of_rows, rows_of
from sunledger.diagnosis.findings import plain_row
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.diagnosis.numbers import KeptMonth, numbers_of, restored_numbers

JUNE = int(np.datetime64("2031-06-01", "s").astype(np.int64))
CHECK = {
    "id": "ck-1",
    "type": "clock_check",
    "logger": "main",
    "role": "technician",
    "found": 0.0,
    "left": 0.0,
}


def stepped() -> DiagnosedMonth:
    """A clock 180 s off from the sixth of June on, with May before it and a check in its middle."""
    entries = [CHECK | {"time": "2031-04-20"}, CHECK | {"id": "ck-2", "time": "2031-06-16"}]
    before = month(Month(start="2031-05-01", days=31, cloudiness=0.2, seed=8), entries)
    wrong = Month(seed=4, cloudiness=0.2, clock=step_at(JUNE + 5 * 86400, 180.0))
    alone = diagnosed(before)[1]
    quiet = {f"2031-0{n}": alone for n in (2, 3, 4, 5)}
    days = moments_of_rows(rows_of(before.moments))
    return replace(month(wrong, entries), told_before=quiet, days_before=days)


@pytest.fixture(scope="module")
def given() -> DiagnosedMonth:
    """Made once."""
    return stepped()


def test_numbers_say_what_the_minutes_say(given: DiagnosedMonth) -> None:
    """Through the text of JSON too: the same verdicts, the same findings with their effects."""
    arrays, plain = numbers_of(given)
    numbers = restored_numbers(arrays, json.loads(json.dumps(plain)))
    shared = (given.period, given.config, given.resolved)
    kept = KeptMonth(*shared, numbers, given.told_before, given.days_before)
    found, verdicts = diagnosed(given)
    again, said = compared(kept, numbers.told)
    assert plain_data(said) == plain_data(verdicts)
    assert [plain_data(plain_row(f)) for f in again] == [plain_data(plain_row(f)) for f in found]
    names = [f.name for f in found]
    assert names == ["level_step", "clock_check_contradicted"]
    assert found[1].effect != 0.0
    assert verdicts["recorded_settings"].keys() == {"ck-2"}


def test_what_is_kept_needs_no_minutes(given: DiagnosedMonth) -> None:
    """Plain data of a few kilobytes, and one row of numbers a piece of a day."""
    arrays, plain = numbers_of(given)
    assert plain_data(plain) == plain
    assert len(json.dumps(plain)) < 50_000
    pieces = given.moments.day.size
    assert {len(a) for a in arrays.values()} == {pieces, pieces + 1}
    assert plain["minutes"] == given.parts.middle.size
