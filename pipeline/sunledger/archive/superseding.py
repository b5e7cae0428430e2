"""Keeping a published file beside the one that takes its name."""

from __future__ import annotations

import errno
import os
import shutil
from pathlib import Path

from sunledger.archive.atomic import replace_file
from sunledger.archive.digest import file_sha256
from sunledger.archive.manifest import Manifest, manifest_path
from sunledger.errors import ArchiveError

SUPERSEDED = "superseded"
_NO_LINKS = (errno.EPERM, errno.ENOTSUP, errno.EXDEV, errno.EMLINK)  # what file systems answer


def supersede(path: Path, manifest: Manifest) -> Path | None:
    """
    Keep a published file and its manifest before another version takes its name.

    Parameters
    ----------
    path : Path
        The published file.
    manifest : Manifest
        Its manifest.

    Returns
    -------
    kept : Path or None
        ``superseded/<stem>_v<N>.nc`` beside it; None for an open file, which was never published.

    Raises
    ------
    ArchiveError
        If another file already stands there, or the system refuses.

    Notes
    -----
    The old name stays until the new file replaces it, so that readers always find a file.
    """
    path = Path(path)
    if manifest.version == 0 or manifest.status == "open":
        return None
    kept = path.parent / SUPERSEDED / f"{path.stem}_v{manifest.version}{path.suffix}"
    try:
        kept.parent.mkdir(parents=True, exist_ok=True)
        _keep(path, kept)
        _keep(manifest_path(path), manifest_path(kept))
    except OSError as error:
        raise ArchiveError(f"{path}: cannot be kept as {kept}: {error.strerror}") from error
    return kept


def _keep(source: Path, target: Path) -> None:
    if target.exists():
        if file_sha256(source) != file_sha256(target):
            raise ArchiveError(f"{target}: already holds another file; not overwritten")
        return
    try:
        os.link(source, target)
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
        replace_file(target, lambda partial: _copy(source, partial))


def _copy(source: Path, target: Path) -> None:
    shutil.copyfile(source, target)
