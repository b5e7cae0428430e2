"""Real faults, told apart: a disk that is full, a raw file that went after the plan was made."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import small_project
from sunledger.run.job import Choice, execute, prepare, run

APART = ["unshare", "--map-root-user", "--mount", "bash", "-c"]
SMALL_DISK = """
set -e
mount -t tmpfs -o size={size} tmpfs "$1"
"$2" -m sunledger.cli run "$3" --archive "$1" --workers 1 > "$4" 2>&1 && code=0 || code=$?
find "$1" -name '*.partial' | sed 's/^/left behind: /' >> "$4"
mount -o remount,size=100m "$1"
"$2" -m sunledger.cli run "$3" --archive "$1" --workers 1 >> "$4" 2>&1
cp -r "$1" "$5"
exit $code
"""


def can_mount() -> bool:
    """Whether this system lets a process have mounts of its own."""
    words = [*APART, "mount -t tmpfs tmpfs /mnt"]
    try:
        return subprocess.run(words, capture_output=True, check=False).returncode == 0
    except OSError:
        return False


@pytest.mark.slow
@pytest.mark.skipif(not can_mount(), reason="no mount without privileges")
def test_a_disk_that_is_full(tmp_path: Path) -> None:
    """What found no room says so, nothing partial stays, and with room the archive is the same."""
    workflow = small_project.write_project(tmp_path / "project", ("2031-06-15",), minutes=1440)
    run(workflow, Choice(archive=tmp_path / "wanted"), lambda *_: None)
    (tmp_path / "disk").mkdir()
    places = [tmp_path / "disk", sys.executable, workflow, tmp_path / "said", tmp_path / "made"]
    done = subprocess.run(
        [*APART, SMALL_DISK.format(size="160k"), "-", *map(str, places)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    said = (tmp_path / "said").read_text()
    assert done.returncode == 1, done.stderr + said
    assert "out of disk" in said
    assert "left behind" not in said
    assert "[bug]" not in said
    made, wanted = (small_project.products(tmp_path / name) for name in ("made", "wanted"))
    assert made == wanted


def test_a_raw_file_that_vanished(project: Path) -> None:
    """Its month fails with that cause, what reads it is named with it, the other month is made."""
    for path in (project.parent / "archive" / "tst").iterdir():
        if path.is_dir():
            shutil.rmtree(path)
    job = prepare(project, Choice())
    raw = project.parent / "raw" / small_project.raw_name("beam", "2031-06-29")
    aside = raw.rename(project.parent / raw.name)
    found = {o.unit[4:]: (o.done, o.cause) for o in execute(job, lambda *_: None)}
    assert found["voltage beam 2031-06"] == ("failed", "raw file vanished")
    assert found["minute 2031-06"] == ("failed", "read one that failed")
    assert found["voltage main 2031-06"] == found["voltage beam 2031-07"] == ("written", "")
    aside.rename(raw)
    _, outcomes = run(project, Choice(), lambda *_: None)
    assert {o.done for o in outcomes} <= {"written", "unchanged"}
