"""Which instrument moved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sunledger.diagnosis.ratios import sky_ratios
from sunledger.diagnosis.selection import Components
from sunledger.diagnosis.separation import (
    SINGLE,
    Cause,
    Pair,
    change_between,
    judge,
    pair_of_month,
    with_calibrations,
)

SHARE = np.array([0.15, 1.0])


def pair(clear: float, dull: float, days: int = 5) -> Pair:
    """A pair known to 0.15 and 0.3 %."""
    spread = np.diag([0.0015**2, 0.003**2])
    return Pair(np.array([clear, dull]), spread, SHARE, 2000, days, 1e6)


@pytest.mark.parametrize(
    ("name", "clear", "dull"),
    [("ghi", 0.02, 0.02), ("dhi", -0.003, -0.02), ("dni", -0.017, 0.0)],
)
def test_the_signature_of_each_instrument(name: str, clear: float, dull: float) -> None:
    """
    An error of +2 % of one instrument shows as (+2, +2), (-0.3, -2), (-1.7, 0).

    By arithmetic: of G / (D + B cos z) with a diffuse share of 0.15.
    """
    errors = {"ghi": 0.0, "dhi": 0.0, "dni": 0.0} | {name: 0.02}
    exact = (1 + errors["ghi"]) / (0.15 * (1 + errors["dhi"]) + 0.85 * (1 + errors["dni"])) - 1
    assert clear == pytest.approx(exact, abs=0.0005)
    verdict = judge(pair(clear, dull))
    assert (verdict.cause, verdict.candidates) == (name, (name,))
    assert verdict.size == pytest.approx(0.02, abs=0.0005)
    assert 0 < verdict.half_width < 0.006


def test_two_faults_at_once_are_not_separable() -> None:
    """Global and direct both 3 % off: no single instrument explains it."""
    verdict = judge(pair(0.03 + 0.85 * 0.03, 0.03))
    assert verdict.changed
    assert (verdict.cause, verdict.candidates) == ("", ())


def test_without_dull_hours_nothing_is_laid_to_one() -> None:
    """The clear ratio alone fits every instrument."""
    verdict = judge(pair(0.02, np.nan))
    assert verdict.changed
    assert verdict.cause == ""
    assert set(verdict.candidates) == {"ghi", "dhi", "dni"}


def test_noise_and_small_changes_are_no_change() -> None:
    """Within its scatter, or below what matters."""
    assert not judge(pair(0.003, -0.004)).changed
    assert judge(pair(0.006, 0.006)).changed
    assert not judge(pair(0.006, 0.006), SINGLE, 0.008).changed


def test_a_fixed_cause_must_meet_the_numbers() -> None:
    """A mix-up of known size is named where it agrees, and not where it does not."""
    swap = Cause("swapped ghi dhi", {"ghi": 0.05, "dhi": -0.05}, free=False)
    assert judge(pair(0.0577, 0.10), (*SINGLE, swap)).cause == "swapped ghi dhi"
    assert judge(pair(0.02, 0.02), (*SINGLE, swap)).cause == "ghi"


def test_certificates_widen_the_pair_along_their_instruments() -> None:
    """An error of the global's certificate bears on both ratios alike."""
    wide = with_calibrations(pair(0.02, 0.02), {"ghi": 0.01, "dhi": 0.0, "dni": 0.0})
    assert wide.variance[0, 1] == pytest.approx(0.01**2)
    assert not judge(wide).changed
    narrow = with_calibrations(pair(0.05, 0.05), {"ghi": 0.01, "dhi": 0.0, "dni": 0.0})
    assert judge(narrow).changed


@pytest.mark.parametrize("name", ["ghi", "dhi", "dni"])
def test_a_generated_month_names_the_instrument(dry_month: Components, name: str) -> None:
    """Two percent in the second half, clouds and imperfections included."""
    late = dry_month.middle >= dry_month.middle[0] + 15 * 86400
    values = getattr(dry_month, name)
    changed = {name: np.where(late, 0.98 * values, values)}
    clear, dull = sky_ratios(replace(dry_month, **changed))
    cut = dry_month.middle[late][0]
    before = clear.where(clear.middle < cut), dull.where(dull.middle < cut)
    after = clear.where(clear.middle >= cut), dull.where(dull.middle >= cut)
    found = change_between(before, after)
    assert found.enough
    verdict = judge(found, SINGLE, 0.008)
    assert verdict.cause == name
    assert abs(verdict.size - np.log(0.98)) < verdict.half_width


def test_a_month_against_itself_has_not_changed(dry_month: Components) -> None:
    """Nor does an empty stretch say anything."""
    clear, dull = sky_ratios(dry_month)
    assert not judge(change_between((clear, dull), (clear, dull))).changed
    nothing = clear.where(np.zeros(clear.day.size, bool))
    assert not pair_of_month(nothing, dull.where(dull.day < 0)).enough
