"""How far a run is: plain lines where nobody watches, a bar on a terminal."""

from __future__ import annotations

import io
import sys
import threading

import pytest

from sunledger.run.progress import progress_of
from sunledger.run.publish import Outcome
from sunledger.run.unit import Unit


class Terminal(io.StringIO):
    """Text that claims to be a terminal."""

    def isatty(self) -> bool:
        """Yes."""
        return True


def test_plain_lines_elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    """One line a unit, with its cause where there is one; no control characters."""
    written = io.StringIO()
    monkeypatch.setattr(sys, "stderr", written)
    with progress_of() as tell:
        tell(Outcome("tst minute 2031-06", "written"), 1, 2)
        tell(Outcome("tst daily 2031", "failed", error="no space"), 2, 2)
    assert written.getvalue().splitlines() == [
        "1/2 tst minute 2031-06: written",
        "2/2 tst daily 2031: failed (no space)",
    ]


def test_a_bar_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """The unit in hand and how many are done; the bar is taken away in the end."""
    written = Terminal()
    monkeypatch.setattr(sys, "stderr", written)
    monkeypatch.setenv("TERM", "xterm")
    with progress_of() as tell:
        tell(Outcome("tst minute 2031-06", "written"), 1, 2)
    text = written.getvalue()
    assert "tst minute 2031-06" in text
    assert "1/2" in text
    assert "\x1b[" in text
    assert "1/2 tst minute 2031-06: written" not in text


def test_no_thread_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """A run copies its process only while it has no threads, and people watch runs."""
    monkeypatch.setattr(sys, "stderr", Terminal())
    monkeypatch.setenv("TERM", "xterm")
    before = threading.active_count()
    with progress_of() as tell:
        tell(Outcome("tst minute 2031-06", "written"), 1, 2)
        assert threading.active_count() == before


UNITS = tuple(Unit("minute", "tst", "minute", f"2031-0{m}", "", {}) for m in range(1, 4))


def test_time_remaining_in_plain_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    """From the second unit of three on: what is left at the pace so far; not after the last."""
    written = io.StringIO()
    monkeypatch.setattr(sys, "stderr", written)
    with progress_of() as tell:
        tell.planned(UNITS, 1)
        for number, unit in enumerate(UNITS, 1):
            tell(Outcome(unit.name, "written", seconds=30.0), number, 3)
    assert written.getvalue().splitlines() == [
        "1/3 tst minute 2031-01: written; about 60 s left",
        "2/3 tst minute 2031-02: written; about 30 s left",
        "3/3 tst minute 2031-03: written",
    ]


def test_bars_by_station_and_stage(monkeypatch: pytest.MonkeyPatch) -> None:
    """The station's stage has a bar of its own and the time left is shown."""
    written = Terminal()
    monkeypatch.setattr(sys, "stderr", written)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "120")
    with progress_of() as tell:
        tell.planned(UNITS, 1)
        tell(Outcome(UNITS[0].name, "written", seconds=30.0), 1, 3)
    assert "tst minutes" in written.getvalue()
    assert "about 60 s left" in written.getvalue()


def test_an_error_within_is_not_swallowed(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a terminal and off it."""
    for stream in (io.StringIO(), Terminal()):
        monkeypatch.setattr(sys, "stderr", stream)
        with pytest.raises(KeyError, match="within"), progress_of():
            raise KeyError("within")
