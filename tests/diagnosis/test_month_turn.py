"""Steps over the turn of a month."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

import invented
from checks_on_record import level
from invented_months import DAY, Month, month_of, step_at
from sunledger.diagnosis.findings import Finding
from sunledger.diagnosis.month import DiagnosedMonth
from sunledger.diagnosis.month_turn import over_turn, steps_within
from sunledger.diagnosis.selection import Components

MAY, JUNE = (float(np.datetime64(t, "s").astype(np.int64)) for t in ("2031-05-01", "2031-06-01"))
BOTH = Month(start="2031-05-01", days=61, seed=6, cloudiness=0.3)
PARTS = month_of(BOTH)


def part(parts: Components, start: float, days: int) -> Components:
    """Some days of it."""
    inside = (parts.middle >= start) & (parts.middle < start + days * DAY)
    names = ("ghi", "dhi", "dni", "usable")
    values = (getattr(parts, name)[inside] for name in names)
    place = (parts.latitude, parts.longitude, parts.altitude)
    return Components(parts.middle[inside], 60, *values, *place)


def two_months(
    parts: Components, entries: list[dict[str, Any]] | None = None, **earlier: Any
) -> tuple[list[Finding], list[Finding], dict[str, Any]]:
    """What May and June say alone, and what June says of their turn."""
    site = {"latitude": BOTH.latitude, "longitude": BOTH.longitude, "altitude": BOTH.altitude}
    config = invented.station_config(entries=entries, **site)
    may, june = (
        DiagnosedMonth(name, config, invented.period(config, int(start), days), part(*where))
        for name, start, days, where in (
            ("2031-05", MAY, 31, (parts, MAY, 31)),
            ("2031-06", JUNE, 30, (parts, JUNE, 30)),
        )
    )
    said, told = steps_within(may)
    june = replace(june, told_before={"2031-05": {"steps": {"series": told["series"] | earlier}}})
    own, verdict = steps_within(june)
    found, verdict = over_turn(june, verdict)
    return [*said, *own], found, verdict


def with_more(name: str, when: float, factor: float) -> Components:
    """One component reads more from an instant on."""
    values = getattr(PARTS, name)
    return replace(PARTS, **{name: np.where(PARTS.middle >= when, factor * values, values)})


@pytest.mark.parametrize("days", [-1.3, 0.0, 1.4])
def test_a_sensitivity_that_steps_at_the_turn_is_found(days: float) -> None:
    """Two percent at midnight, in the last two days, in the first two: neither month sees it."""
    when = JUNE + days * DAY
    alone, (found,), verdict = two_months(with_more("dni", when, 0.98))
    assert alone == []
    assert (found.name, found.target, found.period) == ("sensitivity_changed", "dni", "2031-06")
    assert found.lower < -2.0 < found.upper
    assert abs(found.onset - when) < 2 * DAY
    assert found.effect < 0.0
    assert verdict["verdict"] == "no change"
    assert "direct" in verdict["over_turn"]["verdict"]


def test_a_lean_at_the_turn_is_found_with_its_size() -> None:
    """Slanted, so that no clock explains it."""
    lean = step_at(JUNE, 0.6)
    parts = month_of(replace(BOTH, east=lean, north=lean))
    _, (found,), _ = two_months(parts)
    assert (found.name, found.target) == ("level_step", "global_1")
    assert found.size == pytest.approx(0.85, abs=0.25)
    assert found.evidence["azimuth_degree"] == pytest.approx(45.0, abs=15.0)
    assert found.effect != 0.0


def test_months_without_a_step_say_nothing() -> None:
    """Nor does the first month of a series."""
    alone, found, verdict = two_months(PARTS)
    assert (alone, found) == ([], [])
    assert verdict["over_turn"]["verdict"] == "no change"
    assert over_turn(DiagnosedMonth("2031-05", *_of_may()), {"verdict": "x"}) == (
        [],
        {"verdict": "x"},
    )


def _of_may() -> tuple[Any, ...]:
    config = invented.station_config()
    return config, invented.period(config, int(MAY), 31), part(PARTS, MAY, 31)


def test_a_step_in_the_middle_is_the_months_own_and_ends_what_is_compared() -> None:
    """Found once, in May; June is compared with the days of May behind it."""
    when = MAY + 15 * DAY
    (own,), found, verdict = two_months(with_more("dni", when, 0.96))
    assert (own.name, own.period, found) == ("sensitivity_changed", "2031-05", [])
    assert verdict["over_turn"]["verdict"] == "no change"


def test_what_the_record_parts_is_not_compared() -> None:
    """An exchange, another certificate, a global that was levelled."""
    ends = two_months(PARTS)[2]["series"]["ends"]
    for at, other, words in ((2, "NR-9", "exchanged"), (3, ends[0][0][3] * 1.05, "certificates")):
        row = [*ends[0][0][:at], other, *ends[0][0][at + 1 :]]
        changed = [ends[0], [row, *ends[1][1:]]]
        _, found, verdict = two_months(with_more("dni", JUNE, 0.96), ends=changed)
        assert found == []
        assert words in verdict["over_turn"]["verdict"]
    moved = level("lv-turn", "2031-06-01 00:30", 0.9, 0.0)
    _, found, verdict = two_months(PARTS, [moved])
    assert found == []
    assert "moved" in verdict["over_turn"]["verdict"]


def test_too_little_clear_sky_is_not_enough() -> None:
    """None of June."""
    few = replace(PARTS, usable=PARTS.middle < JUNE)
    assert two_months(few)[2]["over_turn"]["verdict"] == "not enough evidence"
