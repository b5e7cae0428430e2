"""The run log: one whole line an event, whatever ends the run."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sunledger.run import runlog
from sunledger.run.publish import Outcome
from sunledger.run.runlog import log_paths, read_log, run_log
from sunledger.run.unit import Unit

UNITS = (
    Unit("voltage", "osr", "voltage", "2031-03", "", {}, logger="main"),
    Unit("minute", "osr", "minute", "2031-03", "", {}),
)


def test_what_is_logged(tmp_path: Path) -> None:
    """Start with what there is to do, each unit with time and cause, the end with counts."""
    with run_log(tmp_path, UNITS, 2, {"workflow": "w.yaml"}) as log:
        log.unit(Outcome("osr voltage main 2031-03", "written", version=1, seconds=1.25))
        bad = Outcome("osr minute 2031-03", "failed", error="no room", cause="out of disk")
        log.unit(bad)
    (path,) = log_paths(tmp_path)
    assert all(json.loads(line) for line in path.read_text().splitlines())
    started, first, second, ended = read_log(path)
    assert (started["event"], started["workflow"], started["workers"]) == ("started", "w.yaml", 2)
    assert {(r["station"], r["stage"], r["total"]) for r in started["totals"]} == {
        ("osr", "ingest", 1),
        ("osr", "minutes", 1),
    }
    assert (first["unit"], first["stage"], first["seconds"]) == (
        "osr voltage main 2031-03",
        "ingest",
        1.25,
    )
    assert (second["done"], second["cause"], second["error"]) == (
        "failed",
        "out of disk",
        "no room",
    )
    assert (ended["how"], ended["counts"]) == ("some failed", {"written": 1, "failed": 1})
    times = [e["elapsed"] for e in (started, first, second, ended)]
    assert times == sorted(times)


@pytest.mark.parametrize(
    ("error", "how"),
    [(KeyboardInterrupt(), "interrupted"), (OSError("gone"), "stopped by an error")],
)
def test_an_end_before_the_end(tmp_path: Path, error: BaseException, how: str) -> None:
    """Is logged, and goes on upwards."""
    with pytest.raises(type(error)), run_log(tmp_path, UNITS, 1, {}):
        raise error
    assert read_log(log_paths(tmp_path)[-1])[-1]["how"] == how


def test_a_line_not_yet_whole_is_left_out(tmp_path: Path) -> None:
    """A reader may look while a line is being written."""
    with run_log(tmp_path, UNITS, 1, {}):
        path = log_paths(tmp_path)[-1]
        with path.open("a") as handle:
            handle.write('{"event": "un')
        assert [e["event"] for e in read_log(path)] == ["started"]


def test_old_logs_go(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The newest stay, and numbers go on."""
    monkeypatch.setattr(runlog, "KEPT", 2)
    for _ in range(4):
        with run_log(tmp_path, (), 1, {}):
            pass
    assert [p.name for p in log_paths(tmp_path)] == ["000003.jsonl", "000004.jsonl"]
