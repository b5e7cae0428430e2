"""What changed at an instant: the four numbers, against the truth of generated months."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnosed_months import month
from invented_months import DAY, Month, step_at
from sunledger.diagnosis.closure_fit import EAST, NORTH, RESPONSIVITY
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.diagnosis.ratios import day_values
from sunledger.diagnosis.step_evidence import (
    DULL,
    StepEvidence,
    evidence_at,
    step_data,
    step_design,
    strongest,
)

WHEN = float(np.datetime64("2031-06-16", "s").astype(np.int64))
PLAIN = Month(start="2031-06-01", seed=3, cloudiness=0.4)


def evidence_of(given: DiagnosedMonth) -> StepEvidence | None:
    """The strongest of a month."""
    return strongest(given.step_data)


def test_a_lean_shows_in_two_numbers_and_leaves_the_dull_ratio() -> None:
    """0.6 degree to the east and 0.9 to the south, at its morning."""
    what = replace(PLAIN, east=step_at(WHEN, 0.6), north=step_at(WHEN, -0.9))
    given = month(what)
    found = evidence_of(given)
    assert found is not None
    assert np.degrees(found.value[[EAST, NORTH]]) == pytest.approx([0.6, -0.9], abs=0.3)
    assert abs(found.value[DULL]) < 0.006
    assert abs(given.moments.first[found.piece] - WHEN) < 2 * DAY
    assert found.strength > 50.0


def test_a_global_that_reads_more_shows_under_a_dull_sky_too() -> None:
    """Two percent in both, and what the diffuse looks like is small and positive."""
    found = evidence_of(month(replace(PLAIN, responsivity=step_at(WHEN, 0.02))))
    assert found is not None
    assert found.value[DULL] == pytest.approx(0.02, abs=0.006)
    seen = found.value[RESPONSIVITY] / (1.0 + found.diffuse[RESPONSIVITY])
    assert seen == pytest.approx(0.02, abs=0.01)
    assert found.share > 0.6


def test_without_dull_hours_the_fourth_number_is_not_known() -> None:
    """The other three still are."""
    given = month(replace(PLAIN, cloudiness=0.0))
    dull = day_values(given.skies[1].where(given.skies[1].middle < 0), None, 1)
    found = evidence_at(step_data(given.clear, dull), given.moments.day.size // 2)
    assert found.known.tolist() == [True, True, True, False]
    assert np.isfinite(found.strength)


def test_a_change_on_one_side_of_too_few_minutes_is_not_looked_for() -> None:
    """Three clear days have no morning with enough on both sides."""
    assert evidence_of(month(replace(PLAIN, days=3, cloudiness=-1.0))) is None


def test_an_offset_of_the_global_passes_for_no_lean() -> None:
    """Two W m-2 more all month, at the equinox, where they look like a lean to the north."""
    given = month(replace(PLAIN, start="2031-09-08", days=24, unrest=0.5))
    piece = given.moments.day.size // 2
    more = replace(given.parts, ghi=given.parts.ghi + 2.0)
    plain, offset = (evidence_at(m.step_data, piece) for m in (given, replace(given, parts=more)))
    spread = np.sqrt(np.diag(plain.variance))
    assert np.all(np.abs(offset.value - plain.value)[:3] < 0.3 * spread[:3])


def test_the_design_of_a_step() -> None:
    """Behind it the coefficients and the offset have their changes; the direction has none."""
    before, behind = step_design(np.array([0.0, 1.0]))
    assert before.sum() == 5.0
    assert (behind - before).sum() == 4.0
    assert behind[EAST, [1, 4]].tolist() == [1.0, 1.0]
    assert behind[4].tolist() == [0.0] * 8 + [1.0]
