"""Counts of a run by station and stage, and the time that is left."""

from __future__ import annotations

import pytest

from sunledger.run.tally import Tally, duration, tally_from, tally_of
from sunledger.run.unit import Kind, Unit


def unit(kind: Kind, station: str, period: str) -> Unit:
    """A unit that is only counted."""
    return Unit(kind, station, kind, period, "", {})


UNITS = (
    *(unit("voltage", "osr", f"2031-0{m}") for m in range(1, 5)),
    *(unit("minute", "osr", f"2031-0{m}") for m in range(1, 5)),
    unit("voltage", "kpn", "2031-01"),
    unit("aggregate", "kpn", "2031"),
)


def test_counts_by_station_and_stage() -> None:
    """In the order of the plan; failures are named."""
    tally = tally_of(UNITS, 1)
    tally.add(("osr", "ingest"), False, 2.0)
    tally.add(("osr", "ingest"), True, 2.0)
    assert tally.lines() == [
        "osr: ingest 2/4 (1 failed), minutes 0/4",
        "kpn: ingest 0/1, means 0/1",
    ]


def test_time_that_is_left() -> None:
    """Each stage at its own mean, one not begun at the mean of all; two workers halve it."""
    tally = tally_of(UNITS, 1)
    assert tally.remaining() is None
    tally.add(("osr", "ingest"), False, 1.0)
    tally.add(("osr", "minutes"), False, 5.0)
    # ingest: 3 + 1 left at 1 s; minutes: 3 at 5 s; means: 1 at the mean of 3 s
    assert tally.remaining() == pytest.approx(4 + 15 + 3)
    tally.workers = 2
    assert tally.remaining() == pytest.approx(11)


def test_nothing_is_left_in_the_end() -> None:
    """And never less than nothing."""
    tally = tally_of(UNITS[:1], 1)
    tally.add(("osr", "ingest"), False, 7.0)
    assert tally.remaining() == 0


def test_counts_as_they_were_noted() -> None:
    """From totals in plain data."""
    totals = [
        {"station": s, "stage": w, "total": c.total}
        for (s, w), c in tally_of(UNITS, 3).counts.items()
    ]
    assert tally_from(totals, 3) == tally_of(UNITS, 3)
    assert tally_from([], 1) == Tally()


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (40.4, "40 s"), (90, "2 min"), (5370, "1 h 30 min"), (12_000, "3 h 20 min")],
)
def test_times_in_words(seconds: float, words: str) -> None:
    """Seconds, minutes, hours."""
    assert duration(seconds) == words
