"""A name always holds a whole file: the old one or the new one."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from sunledger.archive.atomic import partial_path, replace_file, replace_text
from sunledger.errors import ArchiveError


def test_content_gets_its_name_and_nothing_else_stays(tmp_path: Path) -> None:
    target = tmp_path / "deep" / "file.json"
    replace_text(target, b"new")
    replace_text(target, b"newer")
    assert target.read_bytes() == b"newer"
    assert list(target.parent.iterdir()) == [target]


def test_failing_writer_leaves_the_old_file(tmp_path: Path) -> None:
    target = tmp_path / "file"
    target.write_bytes(b"old")

    def fail(partial: Path) -> None:
        partial.write_bytes(b"half")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        replace_file(target, fail)
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


def test_what_a_killed_run_left_is_cleared_by_the_next(tmp_path: Path) -> None:
    target = tmp_path / "file"
    target.write_bytes(b"old")
    script = (
        "import os, sys; from pathlib import Path; import sunledger.archive.atomic as atomic\n"
        "os.replace = lambda *a: os._exit(9)\n"
        "atomic.replace_text(Path(sys.argv[1]), b'new')"
    )
    ended = subprocess.run([sys.executable, "-c", script, str(target)], check=False)
    assert ended.returncode == 9
    assert target.read_bytes() == b"old"
    assert partial_path(target).exists()
    replace_text(target, b"new")
    assert list(tmp_path.iterdir()) == [target]


def test_folder_that_cannot_be_made_is_an_archive_error(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(ArchiveError, match=r"file/below/x: cannot be written: Not a directory"):
        replace_text(tmp_path / "file" / "below" / "x", b"")


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_read_only_folder_is_an_archive_error(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(ArchiveError, match="cannot be written: Permission denied"):
        replace_text(tmp_path / "x", b"")
