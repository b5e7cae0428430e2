"""Bringing files in with several hands: the same archive as with one, whoever ends on the way."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from small_project import products
from sunledger.archive import netcdf
from sunledger.archive.changes import Made, read_record
from sunledger.archive.manifest import Manifest
from sunledger.archive.specification import FileSpec, VariableSpec
from sunledger.run import archivist as module
from sunledger.run.archivist import Archivist, brought
from sunledger.run.publish import Outcome, Publication

NAMES = "edcbagf"


def publication(folder: Path, name: str, values: int = 5000) -> Publication:
    """A file with some numbers."""
    data = np.arange(values, dtype=np.float64) * ord(name)
    variable = VariableSpec("x", ("time",), data, {"units": "1", "long_name": "x"}, "f8")
    made = Made(name, "2031-06", "", "2031-08-01", "sunledger 0", "test")
    return Publication(
        name,
        FileSpec({"title": name}, {"time": values}, (variable,)),
        folder / name / f"{name}.nc",
        folder / "changes.jsonl",
        made,
        Manifest(name, "tst", "2031-06", f"key of {name}"),
    )


def one_by_one(folder: Path) -> dict[str, bytes]:
    """All files of an archive that one hand made."""
    for name in NAMES:
        assert brought(publication(folder, name), 1.0).done == "written"
    return products(folder)


HANDS = """
import sys
from pathlib import Path
from run.test_archivist import NAMES, publication
from sunledger.run import archivist
folder, way = Path(sys.argv[1]), sys.argv[2]
here = []
complete = archivist.completed
archivist.completed = lambda file: here.append(file.publication.unit) or complete(file)
with archivist.Archivist(len(NAMES) if way != "thread" else 1) as hands:
    side = hands._beside
    told = []
    for number, name in enumerate(NAMES):
        if way == "killed" and number == 3:
            import os
            os.kill(side._process, 9)
        told.append(hands.bring(publication(folder, name), 1.0))
    lent = 0
    while hands.lend_a_hand(1):
        lent += 1
    outcomes = [future.result(30) for future in told]
assert [o.unit for o in outcomes] == list(NAMES)
assert {o.done for o in outcomes} == {"written"}, outcomes
assert all(1.0 < o.seconds < 30 for o in outcomes)
print(way, side is not None, lent, len(here))
"""


def with_hands(folder: Path, way: str) -> tuple[bool, int, int]:
    """Files brought in by an interpreter without threads: copied, lent, written there itself."""
    done = subprocess.run(
        [sys.executable, "-c", HANDS, str(folder), way],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    _, copied, lent, here = done.stdout.split()
    return copied == "True", int(lent), int(here)


@pytest.mark.skipif(sys.platform != "linux", reason="forks where that is safe")
@pytest.mark.parametrize("way", ["copy", "thread", "killed"])
def test_any_hands_make_the_same_archive(tmp_path: Path, way: str) -> None:
    """Bytes and order of entries; with a copy killed on the way, this process does the rest."""
    copied, lent, here = with_hands(tmp_path / "hands", way)
    assert products(tmp_path / "hands") == one_by_one(tmp_path / "one")
    entries = read_record(tmp_path / "hands" / "changes.jsonl").entries
    assert [e.product for e in entries] == list(NAMES)
    assert copied == (way != "thread")
    if way == "copy":
        assert 0 < lent == here < len(NAMES)
    elif way == "thread":
        assert (lent, here) == (0, len(NAMES))
    else:
        assert here >= len(NAMES) - 3


WATCHED = """
import sys
from pathlib import Path
import small_project
from sunledger.run import archivist
begin = archivist.Archivist.__init__
def begun(hands, files):
    begin(hands, files)
    print("copied:", hands._beside is not None, file=sys.__stdout__, flush=True)
archivist.Archivist.__init__ = begun
plan = small_project.write_project(Path(sys.argv[1]) / "p", ("2031-06-29", "2031-07-01"), 30)
from sunledger.cli import app
sys.argv[1:] = ["run", str(plan), "--workers", "1"]
app()
"""


@pytest.mark.skipif(sys.platform != "linux", reason="forks where that is safe")
@pytest.mark.parametrize("terminal", [False, True])
def test_a_run_copies_its_process(tmp_path: Path, terminal: bool) -> None:
    """As it is started by a person or by the clock: nothing before it may leave a thread."""
    watcher, told = pty.openpty()
    done = subprocess.run(
        [sys.executable, "-c", WATCHED, str(tmp_path)],
        env={
            **os.environ,
            "TERM": "xterm",
            "PYTHONPATH": os.pathsep.join(p for p in sys.path if p),
        },
        stdout=subprocess.PIPE,
        stderr=told if terminal else subprocess.DEVNULL,
        text=True,
        check=False,
        timeout=120,
    )
    os.close(told)
    os.close(watcher)
    assert done.returncode == 0
    assert "copied: True" in done.stdout


def test_what_has_no_file_is_told_at_once(tmp_path: Path) -> None:
    with Archivist(1) as hands:
        told = hands.bring(Outcome("u", "empty"), 2.0)
        assert told.done()
    assert replace(told.result(), seconds=0.0) == Outcome("u", "empty")
    assert told.result().seconds >= 2.0


def test_what_cannot_be_entered_or_written_fails_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With its cause; the next is brought in."""
    bad = replace(publication(tmp_path, "a"), record_path=tmp_path)
    wrong = publication(tmp_path, "b")
    wrong = replace(wrong, spec=replace(wrong.spec, dimensions={"time": 3}))
    with Archivist(1) as hands:
        told = [hands.bring(p, 0.0) for p in (bad, wrong, publication(tmp_path, "c"))]
    assert [t.result().done for t in told] == ["failed", "failed", "written"]
    assert "Is a directory" in told[0].result().error
    assert "is declared with length 3" in told[1].result().error
    assert [e.product for e in read_record(tmp_path / "changes.jsonl").entries] == ["b", "c"]


def test_without_another_process_a_thread_does_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Where the system refuses one, the run goes on."""

    def refused() -> int:
        raise BlockingIOError(11, "too many processes")

    monkeypatch.setattr(module, "can_be_copied", lambda: True)
    monkeypatch.setattr("sunledger.run.side_process.os.fork", refused)
    with Archivist(5) as hands:
        told = hands.bring(publication(tmp_path, "a"), 0.0)
    assert told.result().done == "written"
    assert "too many processes" in caplog.text


def test_a_large_file_stays_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is not handed over, which would hold it twice."""

    class Beside:
        def ask(self, file: Any) -> Outcome:
            return Outcome(file.publication.unit, "written", "there")

        def close(self) -> None:
            pass

    with Archivist(1) as hands:
        monkeypatch.setattr(hands, "_beside", Beside())
        monkeypatch.setattr(module, "LARGEST", 8 * 4000)
        told = [
            hands.bring(publication(tmp_path, n, v), 0.0)
            for n, v in zip("ab", (4000, 4001), strict=True)
        ]
    assert [t.result().path == "there" for t in told] == [True, False]


def test_interrupted_while_lending_a_hand(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C goes through to the run, which ends; nothing partial stays."""

    def interrupted(partial: Path, _: FileSpec) -> None:
        partial.write_bytes(b"half")
        raise KeyboardInterrupt

    with Archivist(1) as hands:
        monkeypatch.setattr(hands, "_beside", object())
        monkeypatch.setattr(hands._thread, "submit", lambda *_: None)
        told = hands.bring(publication(tmp_path, "a"), 0.0)
        monkeypatch.setattr(netcdf, "_write", interrupted)
        with pytest.raises(KeyboardInterrupt):
            hands.lend_a_hand(0)
        assert isinstance(told.exception(), KeyboardInterrupt)
        assert not hands.lend_a_hand(0)
        monkeypatch.setattr(hands, "_beside", None)
    assert list((tmp_path / "a").iterdir()) == []
