"""The scripts of workflows/: what a scheduler calls unattended."""

from __future__ import annotations

import os
import socket
import stat
import subprocess
import sys
from pathlib import Path

import pytest

import small_project

WORKFLOWS = Path(__file__).resolve().parent.parent / "workflows"
MONTHLY = WORKFLOWS / "monthly.sh"
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


SUBMIT = """#!/usr/bin/env bash
# runs the job script at once, in the background, and says its number as a batch system would
echo "$1" >> "$JOBS/submitted"
cp "$1" "$JOBS/$$.sh"
setsid bash "$JOBS/$$.sh" > "$JOBS/$$.out" 2>&1 &
echo "Submitted batch job $!"
"""
CANCEL = """#!/usr/bin/env bash
echo "$*" >> "$JOBS/cancelled"
for job in "$@"; do kill -- -"$job"; done
"""
REMOTE = """#!/usr/bin/env bash
# takes the name of the host away and runs the command here
echo "$1" >> "$JOBS/hosts"
shift
exec "$@"
"""


def planted(folder: Path, **scripts: str) -> dict[str, str]:
    """Environment in which some commands are those given, and sunledger is this one."""
    for name, text in scripts.items():
        command = folder / name
        command.write_text(text)
        command.chmod(command.stat().st_mode | stat.S_IXUSR)
    paths = {"PATH": f"{folder}{os.pathsep}{os.environ['PATH']}", "JOBS": str(folder)}
    python = {"PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    return {**os.environ, **paths, **python, "SUNLEDGER_PYTHON": sys.executable}


def some_project(folder: Path) -> tuple[Path, dict[str, bytes]]:
    """A small project, and the products that a run of one worker makes of it."""
    from sunledger.run.job import Choice, run

    workflow = small_project.write_project(folder / "project", ("2031-06-15",), minutes=60)
    run(workflow, Choice(archive=folder / "here"), lambda *_: None)
    return workflow, small_project.products(folder / "here")


@pytest.mark.slow
def test_a_batch_system(tmp_path: Path) -> None:
    """Jobs are submitted, their workers make the archive of one worker, and they are let go."""
    workflow, wanted = some_project(tmp_path)
    environment = planted(tmp_path, sbatch=SUBMIT, scancel=CANCEL)
    words = [str(WORKFLOWS / "batch.py"), str(workflow), "--system", "slurm", "--jobs", "2"]
    words += ["--interface", "lo", "--directive=--comment=small"]
    done = subprocess.run(
        [sys.executable, *words, "--", "--archive", str(tmp_path / "there")],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    assert len((tmp_path / "submitted").read_text().splitlines()) == 2
    assert small_project.products(tmp_path / "there") == wanted
    outputs = [p.read_text() for p in tmp_path.glob("*.out")]
    assert any("Starting Worker" in said or "Start worker" in said for said in outputs)


@pytest.mark.slow
def test_other_hosts(tmp_path: Path) -> None:
    """Workers of two hosts make the archive of one worker; none is left behind."""
    workflow, wanted = some_project(tmp_path)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = planted(tmp_path, away=REMOTE)
    environment |= {"REMOTE": str(tmp_path / "away"), "ADDRESS": "127.0.0.1", "PORT": str(port)}
    done = subprocess.run(
        ["bash", str(WORKFLOWS / "hosts.sh"), str(workflow), "one", "two"],
        env={**environment, "WORKERS": "1"},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    assert sorted((tmp_path / "hosts").read_text().split()) == ["one", "two"]
    assert small_project.products(workflow.parent / "archive") == wanted
    with socket.socket() as gone:
        assert gone.connect_ex(("127.0.0.1", port)) != 0


def test_hosts_bad_usage() -> None:
    """Says how it is called."""
    done = subprocess.run(
        ["bash", str(WORKFLOWS / "hosts.sh"), "w.yaml"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "usage" in done.stderr
