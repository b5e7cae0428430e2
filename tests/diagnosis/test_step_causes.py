"""Which single cause explains a change."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sunledger.diagnosis.step_causes import (
    CLOCK,
    LEAN,
    SENSITIVITIES,
    explained,
    is_change,
    possible,
    signature,
)
from sunledger.diagnosis.step_evidence import StepEvidence

PLAIN = StepEvidence(
    5,
    np.zeros(4),
    np.diag(np.square([0.002, np.radians(0.05), np.radians(0.2), 0.003])),
    np.array([0.15, 0.0, 0.02]),
    0.9,
)


def seen(cause: str, *size: float) -> StepEvidence:
    """Evidence of exactly one cause."""
    return replace(PLAIN, value=signature(cause, PLAIN) @ np.array(size))


def test_signatures_are_those_of_a_component_sum() -> None:
    """By hand from log(global) - log(diffuse + direct): a share of 0.9 diffuse under a dull sky."""
    assert signature("ghi", PLAIN)[:, 0] == pytest.approx([1.15, 0.0, 0.02, 1.0])
    assert signature("dhi", PLAIN)[:, 0] == pytest.approx([-0.15, 0.0, -0.02, -0.9])
    assert signature("dni", PLAIN)[:, 0] == pytest.approx([-1.0, 0.0, 0.0, -0.1])
    assert signature(CLOCK, PLAIN)[:, 0].tolist() == [0.0, 1.0, 0.0, 0.0]


@pytest.mark.parametrize("name", SENSITIVITIES)
@pytest.mark.parametrize("size", [0.02, -0.02])
def test_each_sensitivity_is_told_from_all_others(name: str, size: float) -> None:
    """Alone, with its size inside its interval."""
    (only,) = possible(seen(name, size))
    assert only.cause == name
    assert only.size[0] == pytest.approx(size)
    assert only.misfit == pytest.approx(0.0, abs=1e-9)
    assert 0 < only.half_width[0] < 0.01


def test_a_lean_to_the_east_may_be_a_clock_and_a_slanted_one_may_not() -> None:
    """Unless the record rules the clock out."""
    east = seen(LEAN, np.radians(0.8), 0.0)
    assert {c.cause for c in possible(east)} == {LEAN, CLOCK}
    assert {c.cause for c in possible(east, (CLOCK,))} == {LEAN}
    slanted = seen(LEAN, np.radians(0.6), np.radians(0.8))
    assert {c.cause for c in possible(slanted)} == {LEAN}


def test_a_clock_is_ruled_out_by_less_than_other_causes() -> None:
    """It is the lean without its north part: from 2.1 standard deviations of that on, not 2.6."""
    spread = float(np.sqrt(PLAIN.variance[2, 2]))
    for north, names in ((2.0, {LEAN, CLOCK}), (2.2, {LEAN})):
        slanted = seen(LEAN, np.radians(0.8), north * spread)
        assert {c.cause for c in possible(slanted)} == names


def test_where_the_sun_cannot_part_north_from_responsivity_both_are_named() -> None:
    """At the equinox the north column is a multiple of the other: only their mixture is known."""
    mixed = np.array([[1.0, 0.0, -0.94], [0.0, 1.0, 0.0], [-0.94, 0.0, 1.0]])
    wide = np.array([0.02, np.radians(0.05), 0.02])
    variance = np.diag([0.0, 0.0, 0.0, 0.003**2])
    variance[:3, :3] = 0.9999 * (mixed * np.outer(wide, wide)) + 1e-8 * np.eye(3)
    north = replace(PLAIN, variance=variance, value=np.array([0.0, 0.0, 0.014, 0.0]))
    assert {LEAN, "dni"} <= {c.cause for c in possible(north)}


def test_two_causes_at_once_are_no_single_one() -> None:
    """A global up by 3 % and a lean of a degree."""
    both = replace(
        PLAIN, value=seen("ghi", 0.03).value + seen(LEAN, np.radians(1.0), np.radians(0.9)).value
    )
    assert possible(both) == ()
    assert is_change(both)


def test_nothing_is_no_change() -> None:
    """
    Nor is what chance makes.

    14.86 is the 0.995 point of chi-squared with four degrees, 10.83 the 0.999 point with one, and
    13.82 with two: tables of the distribution, as in any handbook.
    """
    assert not is_change(PLAIN)
    spread = np.sqrt(np.diag(PLAIN.variance))
    for cause, most in (("dhi", 10.83), ("ghi", 10.83), (LEAN, 13.82)):
        size = [0.01] if cause != LEAN else [0.01, 0.01]
        one = seen(cause, *size)
        to_limit = np.sqrt(most / one.strength)
        assert not is_change(replace(one, value=one.value * to_limit * 0.999))
        assert is_change(replace(one, value=one.value * to_limit * 1.001))
    apart = np.array([1.0, 0.0, 0.0, 1.0]) * spread / np.sqrt(2.0)
    no_cause = replace(PLAIN, value=apart, share=0.0)
    assert not is_change(replace(no_cause, value=apart * np.sqrt(10.0)))
    assert is_change(replace(no_cause, value=apart * np.sqrt(14.9)))


def test_a_size_more_has_its_price() -> None:
    """A lean leaves never more than a clock, and costs one size more."""
    east = seen(CLOCK, 0.01)
    lean, clock = explained(LEAN, east), explained(CLOCK, east)
    assert lean.misfit <= clock.misfit + 1e-12
    assert lean.price == pytest.approx(clock.price + 2.0)
