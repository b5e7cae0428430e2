"""The raw line behind a reading, as long as the raw file is still what it was."""

from __future__ import annotations

from pathlib import Path

from sunledger.archive.digest import file_sha256
from sunledger.errors import SunledgerError
from sunledger.stages.streams import RawFile, read_pieces

LONGEST = 400
"""Of a line that is shown. [character]"""


def raw_line(root: Path | None, name: str, sha256: str, line: int) -> tuple[str, ...]:
    """
    Say where a raw line stands and what it holds, or what is missing to show it.

    Parameters
    ----------
    root : Path or None
        Folder of the raw files; None when it is not given.
    name : str
        Of the file, relative to that folder, as the archive names it.
    sha256 : str
        Digest the file had when it was read.
    line : int
        Number of the line, from 1.

    Returns
    -------
    lines : tuple of str
        Place, then the line itself or why it cannot be shown.
    """
    place = f"{name}, line {line}"
    if root is None:
        return place, "not shown: no folder of raw files was given (--raw)"
    path = Path(root) / name
    if not path.is_file():
        return place, f"not shown: {path} is gone"
    try:
        found = _line(RawFile(path, name), line)
        changed = file_sha256(path) != sha256
    except (SunledgerError, OSError) as error:
        return place, f"not shown: {error}"
    if found is None:
        return place, f"not shown: {path} no longer has that many lines"
    note = ("the file has changed since; the line now reads:",) if changed else ()
    return place, *note, found


def _line(raw: RawFile, line: int) -> str | None:
    """Text of a line, counted as the reader counts; read in pieces, since files grow for years."""
    before = 0
    for piece in read_pieces(raw):
        lines = piece.data.splitlines()
        if line <= before + len(lines):
            text = lines[line - before - 1].decode("utf-8", "replace")
            return text.strip("\x00")[:LONGEST]
        before += len(lines)
    return None
