"""The last check of clock or level before an instant."""

from __future__ import annotations

from typing import Any

import numpy as np

import invented
from sunledger.diagnosis.last_checks import last_before, marks, since, told


def at(text: str) -> int:
    """Seconds of an instant."""
    return int(np.datetime64(text, "s").astype(np.int64))


def entry(name: str, kind: str, time: str, **more: Any) -> dict[str, Any]:
    """An entry of the field log."""
    return {"id": name, "type": kind, "time": time, "role": "technician", **more}


def level(name: str, time: str, position: str = "global_1", **more: Any) -> dict[str, Any]:
    """A level check."""
    return entry(name, "level_check", time, position=position, found={"size": 0.3}, **more)


def clock(name: str, time: str, logger: str = "main") -> dict[str, Any]:
    """A clock check."""
    return entry(name, "clock_check", time, logger=logger, found=2.0)


ENTRIES = [
    level("lc-2", "2031-06-10", left={"size": 0.0}),
    level("lc-1", "2031-05-10"),
    level("lc-of-another", "2031-06-01", "diffuse_1"),
    clock("cc-1", "2031-05-20"),
]


def of(entries: list[dict[str, Any]], month: str = "2031-06-01"):
    """Marks of a record, and the month."""
    config = invented.station_config(entries=entries)
    period = invented.period(config, at(month), 30)
    return marks(config, period), period


def test_marks_are_of_the_global_and_of_clocks_in_use() -> None:
    """By time, with the installation; a check that changed nothing moves nothing."""
    found, _ = of(ENTRIES)
    named = [(m.kind, m.id, m.moved) for m in found]
    assert named[1:] == [
        ("level check", "lc-1", False),
        ("clock check", "cc-1", False),
        ("level check", "lc-2", True),
    ]
    assert named[0][::2] == ("installation", True)


def test_a_logger_without_components_is_no_matter() -> None:
    """The clock of a weather logger says nothing of closure."""
    loggers = {"main": invented.logger(("global_1", "diffuse_1", "direct_1"))}
    loggers["weather"] = invented.logger(("sky_1",))
    config = invented.station_config(
        loggers, entries=[clock("w", "2031-05-02", "weather"), clock("m", "2031-05-03")]
    )
    found = marks(config, invented.period(config, at("2031-06-01"), 30))
    assert [m.id for m in found if m.kind == "clock check"] == ["m"]


def test_tightened_afterwards_counts_as_left() -> None:
    """What is read last decides whether the lean may have moved."""
    same = level("lc", "2031-06-02", after_tightening={"size": 0.3}, tightened=True)
    moved = level("lc", "2031-06-02", after_tightening={"size": 0.1}, tightened=True)
    assert [of([e])[0][-1].moved for e in (same, moved)] == [False, True]


def test_the_last_one_at_or_before() -> None:
    """An instant itself counts; before everything there is none."""
    found, period = of(ENTRIES)
    assert last_before(found, at("2031-05-20")).id == "cc-1"
    assert last_before(found, at("2031-05-20") - 1).id == "lc-1"
    assert last_before((), 0) is None
    assert since(found, period) == at("2031-05-20")
    assert told(None) == {}
    assert told(found[-1]) == {"kind": "level check", "id": "lc-2", "time": at("2031-06-10")}


def test_a_year_is_the_farthest() -> None:
    """A check of long ago does not take its years in; without a record, the month alone."""
    found, period = of([clock("old", "2029-01-01")])
    old = tuple(m for m in found if m.id == "old")
    assert since(old, period) == at("2031-06-01") - 366 * 86400
    assert since(found, period) == found[-1].time > at("2030-06-01")
    assert since((), period) == period.start
