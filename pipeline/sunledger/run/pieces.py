"""Pieces of stage results kept between runs, each under the digest of what it was made of."""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunledger.archive.atomic import replace_text

Arrays = dict[str, NDArray[Any]]
_DIGEST, _SIZE = 32, 8


def save_piece(path: Path, arrays: Mapping[str, NDArray[Any]], told: Any) -> None:
    """
    Keep arrays of numbers, and plain data beside them.

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
    rows = [(name, array.dtype.str, array.shape) for name, array in arrays.items()]
    about = json.dumps({"arrays": rows, "told": told}).encode("ascii")
    columns = (np.ascontiguousarray(array).tobytes() for array in arrays.values())
    rest = b"".join([len(about).to_bytes(_SIZE, "little"), about, *columns])
    replace_text(path, sha256(rest).digest() + rest)


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
        As given to :func:`save_piece`, the arrays not to be changed; None where there is no such
        piece or its digest says that it is damaged: it is then made anew.
    """
    try:
        content = path.read_bytes()
    except OSError:
        return None
    rest = memoryview(content)[_DIGEST:]
    if content[:_DIGEST] != sha256(rest).digest():
        return None
    at = _SIZE + int.from_bytes(rest[:_SIZE], "little")
    about, arrays = json.loads(bytes(rest[_SIZE:at])), {}
    for name, kind, shape in about["arrays"]:
        array = np.frombuffer(rest, kind, math.prod(shape), at).reshape(shape)
        arrays[name], at = array, at + array.nbytes
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
    for path in folder.glob(f"{month}_*.piece"):
        if path.name not in names:
            path.unlink(missing_ok=True)
