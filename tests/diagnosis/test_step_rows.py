"""Days of a step's evidence as plain numbers."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from diagnosed_months import month
from invented_months import DAY, Month, step_at
from sunledger.diagnosis.ratios import DayValues
from sunledger.diagnosis.step_evidence import StepData, evidence_at, mornings
from sunledger.diagnosis.step_rows import joined_steps, rows_of_steps, steps_of_rows

FIRST = float(np.datetime64("2031-06-01", "s").astype(np.int64))
DATA = month(Month(days=24, cloudiness=0.3, seed=5, east=step_at(FIRST + 12 * DAY, 0.6))).step_data


def test_days_as_numbers_give_the_same_evidence() -> None:
    """Through JSON, cut at a night and joined again; to the nine digits that are kept."""
    rows = json.loads(json.dumps(rows_of_steps(DATA)))
    cut = FIRST + 12 * DAY
    parts = steps_of_rows(rows, -np.inf, cut), steps_of_rows(rows, cut, np.inf)
    assert parts[0] is not None
    assert parts[1] is not None
    joined = joined_steps(*parts)
    assert joined.days.tolist() == DATA.days.tolist()
    at = int(np.argmax(DATA.moments.first >= cut))
    again = int(np.argmax(joined.moments.first >= cut))
    a, b = evidence_at(DATA, at), evidence_at(joined, again)
    # dull days at the cut belong to neither side
    np.testing.assert_allclose(a.value[:3], b.value[:3], rtol=1e-5)
    np.testing.assert_allclose(a.variance[:3, :3], b.variance[:3, :3], rtol=1e-4)
    np.testing.assert_allclose(a.diffuse, b.diffuse, rtol=1e-5)


def test_whole_days_come_back_as_they_were() -> None:
    """Dull hours too; a stretch without a day is none."""
    rows = rows_of_steps(DATA)
    again = steps_of_rows(rows, -np.inf, np.inf)
    assert again is not None
    assert rows_of_steps(again) == rows
    assert again.dull.value == pytest.approx(DATA.dull.value, rel=1e-8)
    assert len(mornings(again.moments)) == len(mornings(DATA.moments))
    assert steps_of_rows(rows, FIRST + 90 * DAY, np.inf) is None
    few = steps_of_rows(rows, FIRST + 10 * DAY, FIRST + 15 * DAY)
    assert few is not None
    assert few.moments.first[0] >= FIRST + 10 * DAY
    assert few.moments.last[-1] < FIRST + 15 * DAY
    assert np.all((few.dull.day * DAY > FIRST + 10 * DAY) & (few.dull.day * DAY < FIRST + 14 * DAY))


def test_the_share_of_the_diffuse_is_weighed_by_hours() -> None:
    """0.8 over 10 hours and 0.9 over 30; a stretch without dull hours has none."""

    def with_hours(hours: int, share: float) -> StepData:
        days = DATA.days[:1]
        dull = DayValues(days, np.zeros(1), np.array([hours]), share)
        return replace(DATA, dull=dull)

    assert joined_steps(with_hours(10, 0.8), with_hours(30, 0.9)).dull.share == pytest.approx(0.875)
    assert joined_steps(with_hours(0, np.nan), with_hours(30, 0.9)).dull.share == 0.9
    assert np.isnan(joined_steps(with_hours(0, np.nan), with_hours(0, np.nan)).dull.share)
