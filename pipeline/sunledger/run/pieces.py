"""Pieces of stage results kept between runs, each under the digest of what it was made of."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunledger.archive.atomic import replace_file

Arrays = dict[str, NDArray[Any]]
_ABOUT = "about"
_BROKEN = (OSError, ValueError, LookupError, zipfile.BadZipFile)


def save_piece(path: Path, arrays: Mapping[str, NDArray[Any]], told: Any) -> None:
    """
    Keep arrays, and plain data beside them.

    Parameters
    ----------
    path : Path
        Where; named by the digest of what the piece was made of.
    arrays : dict of ndarray
        Of any names; their order is kept.
    told : Any
        Plain data.

    Raises
    ------
    ArchiveError
        If the system refuses to write.
    """
    about = json.dumps({"names": list(arrays), "told": told}).encode("ascii")
    # numbered, so that no name of a variable can be taken for another entry
    entries: dict[str, Any] = {f"{i}": array for i, array in enumerate(arrays.values())}
    entries[_ABOUT] = np.frombuffer(about, np.uint8)

    def write(partial: Path) -> None:
        with partial.open("wb") as file:
            np.savez(file, **entries)

    replace_file(path, write)


def load_piece(path: Path) -> tuple[Arrays, Any] | None:
    """
    A piece that was kept.

    Parameters
    ----------
    path : Path
        Where it would be.

    Returns
    -------
    arrays, told : dict of ndarray, Any
        As given to :func:`save_piece`; None where there is no such piece or it is damaged: it is
        then made anew.
    """
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as held:
            about = json.loads(held[_ABOUT].tobytes())
            arrays = {name: held[str(i)] for i, name in enumerate(about["names"])}
    except _BROKEN:
        return None
    return arrays, about["told"]


def keep_only(folder: Path, month: str, names: Collection[str]) -> None:
    """
    Remove the pieces of a month that nothing rests on any more.

    Parameters
    ----------
    folder : Path
        Holds pieces.
    month : str
        With which their names begin.
    names : collection of str
        Of the files that stay.
    """
    for path in folder.glob(f"{month}_*.npz"):
        if path.name not in names:
            path.unlink(missing_ok=True)
