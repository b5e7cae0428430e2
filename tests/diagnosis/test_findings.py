"""Findings: identifiers, order, rows."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from sunledger.diagnosis.findings import NAMES, Finding, finding_of, ordered, plain_row

LEAN = Finding(
    *("osr", "2031-03", "level_step", "global_1", 0.9, "degree", 0.7, 1.1),
    action="level the global pyranometer",
    onset=1931385600,
    evidence={"minutes": 4012, "correlation": 1 / 3},
    effect=2.5,
    cannot_tell=("a change of responsivity",),
)


def test_identifier_does_not_hang_on_the_size() -> None:
    """The same fault found again with more data keeps its name; another day's onset is another."""
    assert replace(LEAN, size=0.8, effect=1.0).id == LEAN.id
    assert replace(LEAN, onset=LEAN.onset + 3600).id == LEAN.id
    assert replace(LEAN, onset=LEAN.onset + 86400).id != LEAN.id
    assert replace(LEAN, target="global_2").id != LEAN.id
    assert LEAN.id == "osr-2031-03-level_step-" + LEAN.id[-8:]


def test_costliest_first() -> None:
    """By effect, whatever its sign; then severity."""
    small, minus = replace(LEAN, effect=0.1), replace(LEAN, effect=-5.0)
    urgent = replace(LEAN, effect=0.1, severity="act", target="global_2")
    assert ordered([small, urgent, LEAN, minus]) == (minus, LEAN, urgent, small)


def test_row_and_back() -> None:
    """JSON keeps everything but the digits beyond the eighth."""
    row = json.loads(json.dumps(plain_row(LEAN)))
    assert row["id"] == LEAN.id
    assert row["evidence"]["correlation"] == 0.33333333
    back = finding_of(row)
    assert plain_row(back) == row
    assert back.cannot_tell == LEAN.cannot_tell


def test_names_are_a_closed_list() -> None:
    """An unknown name is refused with those allowed."""
    with pytest.raises(ValueError, match=f"allowed: {next(iter(NAMES))}.*got 'ghost'"):
        replace(LEAN, name="ghost")


def test_interval_holds_the_size() -> None:
    """Otherwise it is no interval of it."""
    with pytest.raises(ValueError, match=r"must hold the size 2.0 \(got 0.7 to 1.1\)"):
        replace(LEAN, size=2.0)
