"""The scripts of workflows/: what a scheduler calls unattended."""

from __future__ import annotations

import os
import stat
import subprocess
from pathlib import Path

import pytest

MONTHLY = Path(__file__).resolve().parent.parent / "workflows" / "monthly.sh"
PRETENDED = """#!/usr/bin/env bash
echo "$*" >> "$CALLS"
echo "1/2 tst minute 2031-05: written"
echo "words of $1"
[ "$1" = "$BAD" ] && exit "$CODE"
exit 0
"""


def routine(folder: Path, bad: str = "", code: int = 0) -> tuple[int, str, list[str]]:
    """Exit code, text, and the commands called, of a routine in which one step may fail."""
    command, calls = folder / "sunledger", folder / "calls"
    command.write_text(PRETENDED)
    command.chmod(command.stat().st_mode | stat.S_IXUSR)
    told = {"SUNLEDGER": str(command), "CALLS": str(calls), "BAD": bad, "CODE": str(code)}
    words = ["bash", str(MONTHLY), "w.yaml", "archive"]
    minutes = folder / "archive" / "tst" / "minute"
    minutes.mkdir(parents=True)
    for month in ("2031-05", "2031-04"):
        (minutes / f"tst_minute_{month}.nc").touch()
    done = subprocess.run(
        words, cwd=folder, env={**os.environ, **told}, capture_output=True, text=True, check=False
    )
    return done.returncode, done.stdout, calls.read_text().splitlines()


def test_all_well(tmp_path: Path) -> None:
    """Every step in order; the text holds their words without the lines of progress."""
    code, text, calls = routine(tmp_path)
    assert code == 0
    assert calls == [
        "run w.yaml --archive archive",
        "verify archive",
        "catalog archive",
        "visit papers w.yaml archive/catalog --archive archive",
        "report archive tst 2031-05 --output archive/catalog/tst/report_2031-05.html",
        "network archive 2031-05 --output archive/catalog/network_2031-05.html",
    ]
    for step in ("run", "verify", "catalog"):
        assert f"words of {step}" in text
    assert "1/2" not in text
    assert text.splitlines()[-1] == "Worst exit code: 0"


@pytest.mark.parametrize(("bad", "code"), [("run", 1), ("verify", 1), ("catalog", 1)])
def test_a_step_that_fails(tmp_path: Path, bad: str, code: int) -> None:
    """The others go on, and the code is that of the worst."""
    ended, text, calls = routine(tmp_path, bad, code)
    assert ended == code
    assert "exit code 1" in text
    assert "catalog archive" in calls


def test_a_bad_configuration(tmp_path: Path) -> None:
    """Nothing more is done."""
    ended, _, calls = routine(tmp_path, "run", 2)
    assert (ended, len(calls)) == (2, 1)


def test_bad_usage() -> None:
    """Says how it is called."""
    done = subprocess.run(["bash", str(MONTHLY)], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "usage" in done.stderr
