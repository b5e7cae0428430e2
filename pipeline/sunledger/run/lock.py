"""The lock of an archive: two runs never write to it at once."""

from __future__ import annotations

import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

from sunledger.archive.listing import BOOKKEEPING
from sunledger.errors import ArchiveError

TRIES, PAUSE = 4, 0.05
"""Who only looks whether an archive is held holds it for an instant itself."""


def lock_path(archive: Path) -> Path:
    """
    Where the lock of an archive stands.

    Parameters
    ----------
    archive : Path
        Folder of the archive.

    Returns
    -------
    path : Path
        In its bookkeeping.
    """
    return archive / BOOKKEEPING / "lock"


@contextmanager
def archive_lock(archive: Path) -> Iterator[None]:
    """
    Hold an archive, so that two runs never write to it at once.

    Parameters
    ----------
    archive : Path
        Folder of the archive; made where it is missing.

    Yields
    ------
    None
        While it is held; the system lets go of it when the process ends, however it ends.

    Raises
    ------
    ArchiveError
        If another run holds it, or the folder cannot be written to.
    """
    path = lock_path(archive)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = path.open("a+")
    except OSError as error:
        raise ArchiveError(f"{path}: {error.strerror or error}") from error
    with handle:
        if not _taken(handle):
            raise ArchiveError(f"{archive}: another run holds it ({_words(handle)})")
        handle.truncate(0)
        handle.write(f"process {os.getpid()}\n")
        handle.flush()
        yield


def holder(archive: Path) -> str | None:
    """
    Who holds an archive.

    Parameters
    ----------
    archive : Path
        Folder of the archive.

    Returns
    -------
    words : str or None
        Such as ``process 4711, since 2031-07-01 03:00:00 UTC``; None when no run is going on.
    """
    try:
        handle = lock_path(archive).open("r")
    except FileNotFoundError:
        return None
    with handle:
        try:
            fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except BlockingIOError:
            return _words(handle)
        return None


def _taken(handle: IO[str]) -> bool:
    for _ in range(TRIES):
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            time.sleep(PAUSE)
        else:
            return True
    return False


def _words(handle: IO[str]) -> str:
    handle.seek(0)
    who = handle.read().strip() or "an unknown process"
    # the system's time of the file, written when the other run took hold
    since = datetime.fromtimestamp(os.fstat(handle.fileno()).st_mtime, UTC)
    return f"{who}, since {since:%Y-%m-%d %H:%M:%S} UTC"
