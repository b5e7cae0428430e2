"""Bringing a file into the archive: a kill at any moment, then a rerun, gives the same bytes."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import small_project
from small_project import edit, mtimes, note, products
from sunledger.archive.changes import Made, read_record
from sunledger.archive.manifest import Manifest, read_manifest
from sunledger.archive.specification import FileSpec, VariableSpec
from sunledger.config.models.workflow import MonthRange
from sunledger.errors import ArchiveError
from sunledger.run import publish as module
from sunledger.run.job import Choice, run
from sunledger.run.publish import Outcome, Publication, publish, software_versions

JUNE = Choice(months=MonthRange(first="2031-06", last="2031-06"))
POINTS = ("append_entry", "supersede", "write_file", "write_manifest")


class Killed(BaseException):
    """Not an Exception, so that nothing in the run may catch it."""


def spec(value: float = 1.0) -> FileSpec:
    """A file with one number."""
    values = np.array([value, 2.0])
    variable = VariableSpec("x", ("time",), values, {"units": "1", "long_name": "x"}, "f8")
    return FileSpec({"title": "t"}, {"time": 2}, (variable,))


def put(folder: Path, value: float = 1.0, **made: Any) -> Outcome:
    """Publish a file with one number."""
    plain = {
        "product": "minute",
        "period": "2031-06",
        "logical_digest": "",
        "issued": "2031-08-01",
        "software": "sunledger 0",
        "cause": "test",
    }
    manifest = Manifest("minute", "tst", "2031-06", f"key of {value}")
    where = (folder / "a" / "x.nc", folder / "changes.jsonl")
    return publish(Publication("tst", spec(value), *where, Made(**plain | made), manifest))


def test_the_first_version(tmp_path: Path) -> None:
    """File, manifest and entry stand there and agree."""
    outcome = put(tmp_path)
    path = tmp_path / "a" / "x.nc"
    assert (outcome.done, outcome.version, outcome.path) == ("written", 1, str(path))
    manifest, (entry,) = read_manifest(path), read_record(tmp_path / "changes.jsonl").entries
    assert manifest is not None
    assert (manifest.size, manifest.version, manifest.status) == (
        path.stat().st_size,
        1,
        "provisional",
    )
    assert manifest.logical_digest == entry.logical_digest
    assert manifest.software == software_versions()
    assert (entry.action, entry.cause) == ("created", "test")


def test_the_same_content_writes_no_file(tmp_path: Path) -> None:
    """Made again with the same values: `unchanged`, and the file keeps its time of change."""
    put(tmp_path)
    before = mtimes(tmp_path)
    assert put(tmp_path, issued="2032-01-01", cause="again").done == "unchanged"
    after = mtimes(tmp_path)
    assert {n for n in before if before[n] != after[n]} <= {"a/x.nc.json"}


def test_other_content_is_the_next_version(tmp_path: Path) -> None:
    """The old file and manifest are kept; going back is a revision too."""
    put(tmp_path)
    old = products(tmp_path)
    assert put(tmp_path, 5.0).version == 2
    assert put(tmp_path, 1.0).version == 3
    kept = products(tmp_path / "a" / "superseded")
    assert sorted(kept) == ["x_v1.nc", "x_v1.nc.json", "x_v2.nc", "x_v2.nc.json"]
    assert kept["x_v1.nc"] == old["a/x.nc"]
    actions = [e.action for e in read_record(tmp_path / "changes.jsonl").entries]
    assert actions == ["created", "revised", "revised"]


def test_an_open_file_leaves_no_trace(tmp_path: Path) -> None:
    """It is replaced without a version, an entry, or an old file."""
    put(tmp_path, 1.0, status="open")
    assert put(tmp_path, 2.0, status="open").version == 0
    assert not (tmp_path / "changes.jsonl").exists()
    assert not (tmp_path / "a" / "superseded").exists()
    assert put(tmp_path, 2.0).version == 1


def test_a_damaged_file_is_not_kept_as_a_version(tmp_path: Path) -> None:
    """What does not fit its manifest was never published; the same content is written again."""
    put(tmp_path)
    path = tmp_path / "a" / "x.nc"
    good = path.read_bytes()
    path.write_bytes(b"rubbish")
    assert put(tmp_path).done == "written"
    assert path.read_bytes() == good
    path.write_bytes(b"rubbish")
    assert put(tmp_path, 5.0).version == 2
    assert not (tmp_path / "a" / "superseded").exists()


def stopped(point: str, after: bool) -> Callable[..., Any]:
    """One of the steps of publishing, at which the run is killed before or after it is done."""
    real = getattr(module, point)

    def step(*arguments: Any) -> Any:
        if after:
            real(*arguments)
        raise Killed

    return step


@pytest.mark.parametrize("first", [True, False], ids=["first version", "revision"])
@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("point", POINTS)
def test_killed_between_two_steps(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, point: str, after: bool, first: bool
) -> None:
    """The next run gives file, manifest and record of a run that nobody disturbed."""
    disturbed, calm = tmp_path / "disturbed", tmp_path / "calm"
    for folder in (disturbed, calm):
        folder.mkdir()
        if not first:
            put(folder)
    value = 1.0 if first else 5.0
    put(calm, value)
    if not (first and point == "supersede"):
        with monkeypatch.context() as patch:
            patch.setattr(module, point, stopped(point, after))
            with pytest.raises(Killed):
                put(disturbed, value)
    put(disturbed, value)
    assert products(disturbed) == products(calm)
    record = "changes.jsonl"
    assert (disturbed / record).read_bytes() == (calm / record).read_bytes()


KILL = """
import os, signal, sys
from pathlib import Path
from sunledger.archive import atomic
from sunledger.run.job import Choice, run
real, left = os.replace, [int(sys.argv[2])]

def replace(source, target):
    if str(target).endswith((".nc", ".nc.json")):
        left[0] -= 1
        if left[0] < 0:
            os.kill(os.getpid(), signal.SIGKILL)
    real(source, target)

atomic.os.replace = replace
run(Path(sys.argv[1]), Choice(), lambda *_: None)
"""


def test_killed_by_the_system(project: Path) -> None:
    """SIGKILL while a file is being written: no part of it under a product's name, no lost lock."""
    note(project, small_project.cleaning("cl-9", "2031-06-29 12:00"))
    edit(project, "workflow", lambda w: w.update(stages=["ingest"]))
    calm = small_project.copy_of(project, project.parent.parent / "calm")
    run(calm, JUNE, lambda *_: None)
    before = products(project.parent / "archive")
    for renames in (0, 1):
        done = subprocess.run(
            [sys.executable, "-c", KILL, str(project), str(renames)],
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
            check=False,
        )
        assert done.returncode == -signal.SIGKILL
        if renames == 0:
            left = products(project.parent / "archive")
            assert {n: b for n, b in left.items() if "superseded" not in n} == before
            assert list(project.parent.rglob("*.partial"))
    _, outcomes = run(project, JUNE, lambda *_: None)
    assert {o.done for o in outcomes} == {"written", "unchanged"}
    assert products(project.parent / "archive") == products(calm.parent / "archive")
    assert list(project.parent.rglob("*.partial")) == []


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    """The refusal names the path; what was published stays."""
    put(tmp_path)
    before = products(tmp_path)
    (tmp_path / "a").chmod(0o500)
    try:
        with pytest.raises(ArchiveError, match=r"x\.nc"):
            put(tmp_path, 5.0)
        assert products(tmp_path) == before
    finally:
        (tmp_path / "a").chmod(0o700)


def test_a_full_disk_leaves_the_old_version(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the file cannot be written the old one stays under its name."""
    put(tmp_path)
    before = products(tmp_path)

    def full(path: Path, *_: Any) -> None:
        raise ArchiveError(f"{path}: cannot be written: No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(module, "write_file", full)
        with pytest.raises(ArchiveError, match="No space left"):
            put(tmp_path, 5.0)
    current = {n: b for n, b in products(tmp_path).items() if "superseded" not in n}
    assert current == before
    assert put(tmp_path, 5.0).version == 2
