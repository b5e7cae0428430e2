"""Jumps of an hour: found where daylight saving makes them, and not elsewhere."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import raw_tables
from sunledger.stages.accounting import REPEATED
from sunledger.stages.ingest import ingest, month_bounds
from sunledger.stages.jumps import hour_jumps

MARCH = raw_tables.MARCH


def _found(labels: list[int], interval: int = 60, label: str = "end") -> list[tuple[int, int]]:
    rows, size = hour_jumps(
        np.array(labels),
        np.zeros(len(labels), np.int8),
        interval,
        label,  # type: ignore[arg-type]
    )
    return list(zip(rows.tolist(), size.tolist(), strict=True))


@pytest.mark.parametrize("interval", [1, 10, 60, 600])
@pytest.mark.parametrize("label", ["start", "end"])
def test_both_changes_of_the_year(interval: int, label: str) -> None:
    """2 h of local time is left out in spring and lived twice in autumn."""
    true = MARCH + interval * np.arange(4 * 3600 // interval) + (interval if label == "end" else 0)
    at = 2 * 3600 // interval
    spring, autumn = true.copy(), true.copy()
    spring[at:] += 3600
    autumn[at:] -= 3600
    assert _found(true.tolist(), interval, label) == []
    assert _found(spring.tolist(), interval, label) == [(at, 3600)]
    assert _found(autumn.tolist(), interval, label) == [(at, -3600)]


def test_a_pause_is_no_jump() -> None:
    """An hour without readings that does not begin at a full hour; a pause of any other length."""
    minutes = np.arange(30, 90) * 60
    for gap in (3599, 3600, 3661, 1800):
        labels = MARCH + minutes.copy()
        labels[17:] += gap
        assert _found(labels.tolist()) == []


def test_a_repeated_delivery_is_no_jump() -> None:
    """Labels that go back an hour to readings that were there already."""
    labels = MARCH + 60 * np.concatenate([np.arange(120), np.arange(60, 120) + 0])
    status = np.zeros(180, np.int8)
    assert hour_jumps(labels, status, 60, "end")[0].tolist() == [120]
    status[120:] = REPEATED
    assert hour_jumps(labels, status, 60, "end")[0].tolist() == []


def test_slow_loggers_say_little() -> None:
    """With half an hour and more, a missing reading looks like the change in spring."""
    labels = MARCH + 1800 * np.array([0, 1, 2, 5, 6])
    assert _found(labels.tolist(), 1800) == []
    back = [(3, -3600)]  # from 1:00 to 0:30
    assert _found((MARCH + 1800 * np.array([0, 1, 2, 1, 2])).tolist(), 1800) == back
    assert _found((MARCH + 3600 * np.array([0, 1, 1, 2])).tolist(), 3600) == []


def test_the_finding_has_its_place(tmp_path: Path) -> None:
    """Label, size, file and line of the reading after the jump."""
    labels = MARCH + 60 * np.arange(1, 241)
    labels[180:] -= 3600
    lines = raw_tables.table(labels, np.arange(480).reshape(240, 2))
    raw = raw_tables.stored(tmp_path, "a.txt", raw_tables.joined(lines))
    station = raw_tables.station(main=raw_tables.logger())
    ds = ingest([raw], station, "main", *month_bounds("2031-03"))
    assert ds.attrs["hour_jumps"] == [
        {"label": MARCH + 60 * 121, "seconds": -3600, "file": "a.txt", "line": 182}
    ]
    assert ds.attrs["accounting"]["kept"] == 240
