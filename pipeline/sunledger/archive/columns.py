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

from sunledger.archive.kept import KeptColumns, kept_columns
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

    def __contains__(self, name: str) -> bool:
        """Whether there is a root variable of that name; a group, a path or a dimension is none."""
        if "/" in name:
            return False
        try:
            node = h5py.h5d.open(self._file.id, name.encode())
        except (KeyError, ValueError):
            return False
        # what stores something is no bare dimension; the name is looked up for few
        return bool(node.get_storage_size()) or not _is_bare(self._file[name])

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
            In the order of the file, with the coordinate of that name where there is one.
        """
        scale = self._file[dimension]
        nodes = [
            (name, node)
            for name, node in self._file.items()
            if isinstance(node, h5py.Dataset) and node.shape == scale.shape
        ]
        if sum(_is_dimension(node) for _, node in nodes) > 1:  # told apart by what they point at
            nodes = [(name, node) for name, node in nodes if self._dimension(node, scale) == scale]
        return [name for name, node in nodes if node.dtype.kind != "S" and not _is_bare(node)]

    def _dimension(self, node: h5py.Dataset, scale: h5py.Dataset) -> Any:
        if node == scale:
            return scale
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
        try:
            node = h5py.h5d.open(self._file.id, name.encode())
        except (KeyError, ValueError) as error:
            raise ArchiveError(f"{self._file.filename}: has no variable {name}") from error
        raw = _read(node, rows)
        if raw.dtype.kind == "S":
            return text_of(raw)
        # attributes are slow to look up, and only this type can be packed
        packing = None
        if raw.dtype == np.int32:
            packing = packing_of(raw.dtype, self._file[name].attrs)
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
        names = [n for n, v in nodes.items() if not _is_bare(v)]
        return {name: self.values(f"{group}/{name}") for name in names}


def _read(node: h5py.h5d.DatasetID, rows: slice) -> Array:
    """
    Some rows, without the objects that h5py would build around a variable.

    They take a quarter of the time of a month of minutes.
    """
    first, past, _ = rows.indices(node.shape[0]) if node.shape else (0, 1, 1)
    shape = (max(past - first, 0), *node.shape[1:]) if node.shape else ()
    raw = np.empty(shape, node.dtype)
    if not raw.size:
        return raw
    if shape == node.shape:
        node.read(h5py.h5s.ALL, h5py.h5s.ALL, raw)
        return raw
    stored = node.get_space()
    stored.select_hyperslab((first, *(0 for _ in shape[1:])), shape)
    node.read(h5py.h5s.create_simple(shape), stored, raw)
    return raw


def _is_bare(node: h5py.Dataset) -> bool:
    """A dimension without a coordinate: nothing is stored in it, so that few have to be asked."""
    if node.id.get_storage_size():
        return False
    return bytes(node.attrs.get("NAME", b"")).startswith(_BARE_DIMENSION)


def _is_dimension(node: h5py.Dataset) -> bool:
    return bool(h5py.h5ds.is_scale(node.id))


@contextmanager
def opened_columns(path: Path) -> Iterator[Columns | KeptColumns]:
    """
    A file opened for some of its columns.

    Parameters
    ----------
    path : Path
        File of the archive.

    Yields
    ------
    columns : Columns or KeptColumns
        Valid until the block ends.

    Raises
    ------
    ArchiveError
        If the file cannot be read, or lacks what is asked for.
    """
    kept = kept_columns(path)
    if kept is not None:
        yield kept
        return
    try:
        with h5py.File(path, "r") as file:
            yield Columns(file)
    except (OSError, RuntimeError, KeyError) as error:
        raise ArchiveError(f"{path}: cannot be read: {error}") from error
