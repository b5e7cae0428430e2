"""How far out of level the record allows an instrument to have been."""

from __future__ import annotations

from typing import Any

from invented import MARCH, station_config
from sunledger.config.models.base import parse_utc
from sunledger.config.tilts import tilts

END = MARCH + 100 * 86400


def check(day: str, found: float, **rest: Any) -> dict[str, Any]:
    return {
        "id": f"lv-{day}",
        "type": "level_check",
        "time": day,
        "position": "global_1",
        "found": {"size": found},
        "role": "keeper",
        **rest,
    }


def rows(*entries: dict[str, Any]) -> tuple[tuple[str, int, int, float], ...]:
    return tilts(station_config(entries=list(entries)), 0.1, MARCH, END)


def test_good_checks_leave_no_row() -> None:
    assert rows() == ()
    assert rows(check("2031-04-01", 0.1), check("2031-05-01", 0.05)) == ()


def test_doubt_runs_back_to_the_check_before() -> None:
    """Found 1 degree off in May: since April, not since March; put right then."""
    got = rows(check("2031-04-01", 0.1), check("2031-05-01", 1.0, left={"size": 0.0}))
    assert got == (("global_1", parse_utc("2031-04-01"), parse_utc("2031-05-01"), 1.0),)


def test_what_was_left_holds_until_the_next_check() -> None:
    """Not put right, or worse after tightening."""
    got = rows(
        check("2031-04-01", 0.1, left={"size": 0.0}, after_tightening={"size": 0.4}),
        check("2031-05-01", 0.2, left={"size": 0.0}),
    )
    assert got == (("global_1", parse_utc("2031-04-01"), parse_utc("2031-05-01"), 0.4),)


def test_not_before_the_installation_and_clipped() -> None:
    """Before the first check since the deployment; the period's start is as far as it is told."""
    assert rows(check("2031-04-01", 0.5, left={"size": 0.0})) == (
        ("global_1", MARCH, parse_utc("2031-04-01"), 0.5),
    )
    assert rows(check("2030-06-01", 0.5)) == ()
