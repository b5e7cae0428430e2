"""Writing a file so that its name always holds a whole file: the old one or the new one."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from sunledger.errors import ArchiveError


def partial_path(path: Path) -> Path:
    """
    Where a file is written before it gets its name.

    Parameters
    ----------
    path : Path
        Final place of the file.

    Returns
    -------
    partial : Path
        Hidden name in the same folder, so that the rename stays on one file system.
    """
    return path.with_name(f".{path.name}.partial")


def replace_file(path: Path, write: Callable[[Path], None]) -> None:
    """
    Let ``write`` make a file, then give it its name in one step, or leave everything as it was.

    Parameters
    ----------
    path : Path
        Final place of the file; its folder is made when missing.
    write : callable
        Writes and checks the file whose path it is given; whatever it raises stops the rename.

    Raises
    ------
    ArchiveError
        If the system refuses to write (disk full, read-only, no permission); names path and reason.
    """
    partial = partial_path(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        partial.unlink(missing_ok=True)
        write(partial)
        _flush(partial)
        os.replace(partial, path)
        # The rename itself must reach the disk, or a power cut could bring the old file back.
        _flush(path.parent)
    except OSError as error:
        _discard(partial)
        raise ArchiveError(f"{path}: cannot be written: {error.strerror or error}") from error
    except BaseException:
        _discard(partial)
        raise


def sweep(folder: Path) -> int:
    """
    Remove what runs that were killed left half written.

    Parameters
    ----------
    folder : Path
        An archive that no other process writes to.

    Returns
    -------
    removed : int
        Hidden files that never got their name.
    """
    left = [p for p in folder.rglob(".*.partial") if p.is_file()]
    for path in left:
        path.unlink(missing_ok=True)
    return len(left)


def replace_text(path: Path, content: bytes) -> None:
    """
    Put ``content`` under ``path`` in one step.

    Parameters
    ----------
    path : Path
        Final place of the file.
    content : bytes
        Whole content.

    Raises
    ------
    ArchiveError
        If the system refuses to write.
    """
    replace_file(path, lambda partial: _write_all(partial, content))


def _write_all(path: Path, content: bytes) -> None:
    path.write_bytes(content)


def _flush(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _discard(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError:
        # A folder that became unwritable keeps the hidden file; the first fault is what matters.
        return
