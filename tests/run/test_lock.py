"""The lock: one run at a time, and who holds it."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from sunledger.errors import ArchiveError
from sunledger.run.lock import archive_lock, holder, lock_path


def test_the_lock_admits_one_at_a_time(tmp_path: Path) -> None:
    """While held a second run is refused and told by whom; afterwards it may go on."""
    with (
        archive_lock(tmp_path / "archive"),
        pytest.raises(ArchiveError, match=r"archive: another run holds it \(process \d+"),
        archive_lock(tmp_path / "archive"),
    ):
        pytest.fail("held twice")
    with archive_lock(tmp_path / "archive"):
        pass


def test_the_lock_blames_nobody_else(tmp_path: Path) -> None:
    """A fault of the system within a run keeps its own words."""
    with pytest.raises(FileNotFoundError, match="gone"), archive_lock(tmp_path / "archive"):
        raise FileNotFoundError("gone")


def test_a_lock_that_cannot_be_made(tmp_path: Path) -> None:
    """The refusal of the system is named with the path."""
    (tmp_path / "archive").write_text("a file where the folder should be")
    with (
        pytest.raises(ArchiveError, match=r"archive/\.sunledger/lock: "),
        archive_lock(tmp_path / "archive"),
    ):
        pytest.fail("held")


def test_who_holds_it(tmp_path: Path) -> None:
    """Nobody, this process while it does, and nobody again; looking on lets go at once."""
    assert holder(tmp_path) is None
    with archive_lock(tmp_path):
        who = holder(tmp_path) or ""
        assert re.fullmatch(rf"process {os.getpid()}, since \d{{4}}-\d\d-\d\d [0-9:]{{8}} UTC", who)
    assert lock_path(tmp_path).exists()
    assert holder(tmp_path) is None
    with archive_lock(tmp_path):
        pass
