"""The state of an archive: before, during and after runs, however they end."""

from __future__ import annotations

from pathlib import Path

import pytest

from small_project import mtimes
from sunledger.errors import ArchiveError
from sunledger.run.lock import archive_lock
from sunledger.run.publish import Outcome
from sunledger.run.runlog import log_paths, run_log
from sunledger.run.state import archive_state, state_lines
from sunledger.run.unit import Unit

UNITS = tuple(Unit("minute", "osr", "minute", f"2031-0{m}", "", {}) for m in range(1, 4))


def test_after_a_run(made: Path) -> None:
    """What the archive holds by product and status; looking changes nothing."""
    archive = made.parent / "archive"
    before = mtimes(archive)
    state = archive_state(archive)
    assert mtimes(archive) == before
    assert state.run is not None
    assert (state.run.how, state.run.failed) == ("done", ())
    minutes = next(h for h in state.held if h.product == "minute")
    assert (minutes.station, minutes.first, minutes.last) == ("tst", "2031-06", "2031-07")
    assert minutes.statuses == {"provisional": 2}
    lines = state_lines(state)
    assert lines[0].startswith("Last run: done after ")
    assert "  tst: ingest 4/4, minutes 2/2, means 3/3" in lines
    assert "tst minute: 2031-06 to 2031-07: 2 provisional" in lines
    assert "tst daily: 2031: 1 provisional" in lines


def test_while_a_run_is_going_on(tmp_path: Path) -> None:
    """Who runs, how far, and how long it will still take."""
    with archive_lock(tmp_path), run_log(tmp_path, UNITS, 1, {}) as log:
        log.unit(Outcome("osr minute 2031-01", "written", seconds=60.0))
        lines = state_lines(archive_state(tmp_path))
    assert lines[0].startswith("Running (process ")
    assert lines[0].endswith("about 2 min left")
    assert lines[1] == "  osr: minutes 1/3"


def test_a_failure_is_shown_with_its_cause(tmp_path: Path) -> None:
    """By the unit's name."""
    with run_log(tmp_path, UNITS, 1, {}) as log:
        bad = Outcome("osr minute 2031-01", "failed", error="no room left", cause="out of disk")
        log.unit(bad)
    lines = state_lines(archive_state(tmp_path))
    assert lines[0].startswith("Last run: some failed")
    assert lines[1] == "  osr: minutes 1/3 (1 failed)"
    assert lines[2] == "  Failed: osr minute 2031-01: no room left [out of disk]"


def test_a_killed_run(tmp_path: Path) -> None:
    """Its log has no end and nobody holds the archive."""
    with run_log(tmp_path, UNITS, 1, {}):
        pass
    path = log_paths(tmp_path)[-1]
    path.write_text(path.read_text().splitlines()[0] + "\n")
    run = archive_state(tmp_path).run
    assert run is not None
    assert (run.how, run.remaining) == ("killed", None)
    assert state_lines(archive_state(tmp_path))[0].startswith("The last run was killed; ")


def test_no_run_and_no_archive(tmp_path: Path) -> None:
    """An empty folder has no state; a missing one is refused."""
    assert state_lines(archive_state(tmp_path)) == ["No run was logged"]
    with pytest.raises(ArchiveError, match="no such folder"):
        archive_state(tmp_path / "nowhere")
