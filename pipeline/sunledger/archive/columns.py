"""Some columns of a file, without taking in all the rest that it says.

The NetCDF library looks at every variable of a file when it opens it, which takes longer than to
read a month of minutes. Here only what is asked for is looked at, through the HDF5 layer that a
NetCDF-4 file rests on.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from sunledger.archive.specification import Array, packing_of, text_of
from sunledger.errors import ArchiveError

_BARE_DIMENSION = b"This is a netCDF dimension but not a netCDF variable"


class Columns:
    """
    Variables of an open file.

    Parameters
    ----------
    file : h5py.File
        Open for reading.
    """

    def __init__(self, file: h5py.File) -> None:
        self._file = file

    def along(self, dimension: str) -> list[str]:
        """
        Names of the root variables that have one dimension.

        Parameters
        ----------
        dimension : str
            Its name.

        Returns
        -------
        names : list of str
            By name, with the coordinate of that name where there is one.
        """
        scale = self._file[dimension]
        return [
            name
            for name, node in self._file.items()
            if (node == scale and not _is_bare_dimension(node)) or self._dimension(node) == scale
        ]

    def _dimension(self, node: Any) -> Any:
        if not isinstance(node, h5py.Dataset) or node.ndim != 1:
            return None
        listed = node.attrs.get("DIMENSION_LIST")
        return None if listed is None else self._file[listed[0][0]]

    def values(self, name: str, rows: slice = slice(None)) -> Array:
        """
        Values of a variable.

        Parameters
        ----------
        name : str
            Path below the root, such as ``ghi`` or ``metadata/over_range/over_range_index``.
        rows : slice
            Of the first dimension.

        Returns
        -------
        values : numpy.ndarray
            As stored; packed ones as float64 with NaN, text as str.

        Raises
        ------
        ArchiveError
            If there is no such variable.
        """
        node = self._file.get(name)
        if not isinstance(node, h5py.Dataset):
            raise ArchiveError(f"{self._file.filename}: has no variable {name}")
        raw = np.asarray(node[rows] if node.ndim else node[()])
        if raw.dtype.kind == "S":
            return text_of(raw)
        # attributes are slow to look up, and only this type can be packed
        packing = packing_of(raw.dtype, node.attrs) if raw.dtype == np.int32 else None
        return raw if packing is None else packing.decode(raw)

    def table(self, group: str) -> dict[str, Array]:
        """
        Columns of a table.

        Parameters
        ----------
        group : str
            Such as ``metadata/over_range``.

        Returns
        -------
        columns : dict
            Name → one value a row.
        """
        nodes = {n: v for n, v in self._file[group].items() if isinstance(v, h5py.Dataset)}
        names = [n for n, v in nodes.items() if not _is_bare_dimension(v)]
        return {name: self.values(f"{group}/{name}") for name in names}


def _is_bare_dimension(node: h5py.Dataset) -> bool:
    name = node.attrs.get("NAME", b"")
    return bytes(name).startswith(_BARE_DIMENSION)


@contextmanager
def opened_columns(path: Path) -> Iterator[Columns]:
    """
    A file opened for some of its columns.

    Parameters
    ----------
    path : Path
        File of the archive.

    Yields
    ------
    columns : Columns
        Valid until the block ends.

    Raises
    ------
    ArchiveError
        If the file cannot be read, or lacks what is asked for.
    """
    try:
        with h5py.File(path, "r") as file:
            yield Columns(file)
    except (OSError, RuntimeError, KeyError) as error:
        raise ArchiveError(f"{path}: cannot be read: {error}") from error
