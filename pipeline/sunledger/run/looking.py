"""Looking at one raw file that no configuration describes yet."""

from __future__ import annotations

from pathlib import Path

from sunledger.errors import RawFileError
from sunledger.stages.look import look, look_lines, look_yaml
from sunledger.stages.streams import RawFile


def look_report(path: Path, root: Path | None = None) -> tuple[list[str], str]:
    """
    What a raw file seems to be.

    Parameters
    ----------
    path : Path
        The file.
    root : Path or None
        Raw folder that it must lie in; None for the folder it lies in.

    Returns
    -------
    lines : list of str
        In words.
    yaml : str
        Entry of `station.yaml` to start from.

    Raises
    ------
    RawFileError
        If the file cannot be read, or is no table with a time.
    """
    root = path.parent if root is None else root
    try:
        name = path.absolute().relative_to(root.absolute()).as_posix()
    except ValueError:
        raise RawFileError(path, 0, f"leads outside the raw folder {root}") from None
    seen = look(RawFile(root / name, name))
    return look_lines(seen), look_yaml(seen)
