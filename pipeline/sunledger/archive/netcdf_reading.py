"""Reading NetCDF files back as specifications: decode(encode(spec)) is spec."""

from __future__ import annotations

import threading
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import netCDF4
import numpy as np

from sunledger.archive.specification import (
    OWN_ATTRIBUTES,
    TEXT,
    Array,
    Attribute,
    FileSpec,
    GroupSpec,
    VariableSpec,
    packing_of,
    text_of,
)
from sunledger.errors import ArchiveError

LIBRARY = threading.RLock()
"""The NetCDF library may be used by one thread at a time."""
MANY = 1 << 20
"""Values of a variable from which on its chunks are not all held. [byte]"""


def hold_little(variable: netCDF4.Variable[Any], size: int) -> None:
    """
    Keep the library from holding all chunks of a large variable until its file is closed.

    Parameters
    ----------
    variable : netCDF4.Variable
        To be written or read once, from end to end.
    size : int
        Of its values. [byte]
    """
    if size > MANY:
        variable.set_var_chunk_cache(MANY)


def read_file(
    path: Path,
    variables: Collection[str] | None = None,
    start_stop: Mapping[str, tuple[int, int]] | None = None,
) -> FileSpec:
    """
    Read a file, or a slice of it, as a specification.

    Parameters
    ----------
    path : Path
        File written by `write_file`.
    variables : collection of str, optional
        Names of the root variables wanted; groups are then left out.
    start_stop : dict, optional
        Dimension → first and one past the last index wanted; other dimensions whole.

    Returns
    -------
    spec : FileSpec
        Data as stored; packed variables as float64 with NaN; text as str.

    Raises
    ------
    ArchiveError
        If the file cannot be read or lacks a variable.
    """
    ranges = {name: slice(*pair) for name, pair in (start_stop or {}).items()}
    with opened(path) as dataset:
        names = list(dataset.variables) if variables is None else list(variables)
        missing = [name for name in names if name not in dataset.variables]
        if missing:
            raise ArchiveError(f"{path}: has no variable {', '.join(missing)}")
        chosen = tuple(read_variable(dataset.variables[name], ranges) for name in names)
        groups = groups_of(dataset) if variables is None else ()
        return FileSpec(read_attributes(dataset), lengths(dataset, ranges), chosen, groups)


def groups_of(node: Any) -> tuple[GroupSpec, ...]:
    """
    Groups of a file or group, with all that lies in them.

    Parameters
    ----------
    node : netCDF4.Dataset or netCDF4.Group
        Open for reading.

    Returns
    -------
    groups : tuple of GroupSpec
        In the order of the file.
    """
    return tuple(_read_group(group) for group in node.groups.values())


def lengths(dataset: netCDF4.Dataset, ranges: Mapping[str, slice]) -> dict[str, int]:
    """
    Lengths of the root's dimensions, without those of text widths.

    Parameters
    ----------
    dataset : netCDF4.Dataset
        Open for reading.
    ranges : dict of slice
        Dimension → what of it is wanted; others whole.

    Returns
    -------
    lengths : dict of int
        Dimension → length of what is wanted.
    """
    return {
        name: len(range(len(dimension))[ranges.get(name, slice(None))])
        for name, dimension in dataset.dimensions.items()
        if not name.endswith("_strlen")
    }


@contextmanager
def opened(path: Path) -> Iterator[netCDF4.Dataset]:
    """
    A file open for reading, and the library for this thread alone.

    Parameters
    ----------
    path : Path
        The file.

    Yields
    ------
    dataset : netCDF4.Dataset
        Gives values as they are stored.

    Raises
    ------
    ArchiveError
        If it cannot be read.
    """
    with LIBRARY, _alone(path) as dataset:
        yield dataset


@contextmanager
def _alone(path: Path) -> Iterator[netCDF4.Dataset]:
    try:
        dataset = netCDF4.Dataset(path, "r")
    except (OSError, RuntimeError) as error:
        raise ArchiveError(f"{path}: cannot be read: {error}") from error
    try:
        dataset.set_auto_maskandscale(False)
        dataset.set_auto_chartostring(False)
        yield dataset
    except (OSError, RuntimeError) as error:  # a damaged chunk shows only when it is read
        raise ArchiveError(f"{path}: cannot be read: {error}") from error
    finally:
        dataset.close()


def _read_group(group: netCDF4.Group) -> GroupSpec:
    return GroupSpec(
        group.name,
        tuple(read_variable(variable, {}) for variable in group.variables.values()),
        read_attributes(group),
        groups_of(group),
    )


def read_variable(variable: netCDF4.Variable[Any], ranges: Mapping[str, slice]) -> VariableSpec:
    """
    A variable of an open file.

    Parameters
    ----------
    variable : netCDF4.Variable
        Of a dataset from :func:`opened`.
    ranges : dict of slice
        Dimension → what of it is wanted; others whole.

    Returns
    -------
    variable : VariableSpec
        As in :func:`read_file`.
    """
    dimensions = tuple(variable.dimensions)
    hold_little(variable, variable.size * variable.dtype.itemsize)
    raw = np.asarray(variable[tuple(ranges.get(d, slice(None)) for d in dimensions)])
    found = {name: variable.getncattr(name) for name in variable.ncattrs()}
    attributes = {name: value for name, value in found.items() if name not in OWN_ATTRIBUTES}
    if raw.dtype.kind == "S":
        return VariableSpec(variable.name, dimensions[:-1], text_of(raw), attributes, TEXT)
    packing = packing_of(raw.dtype, found)
    fill = found.get("_FillValue")
    if packing is not None:
        raw, fill = packing.decode(raw), None
    return VariableSpec(
        variable.name, dimensions, raw, attributes, variable.dtype.str[1:], fill, packing
    )


def read_attributes(node: Any) -> dict[str, Attribute]:
    """
    Attributes of a file or group.

    Parameters
    ----------
    node : netCDF4.Dataset or netCDF4.Group
        Open for reading.

    Returns
    -------
    attributes : dict
        Without those that the library puts.
    """
    return {name: node.getncattr(name) for name in node.ncattrs() if name not in OWN_ATTRIBUTES}


def read_tables(path: Path) -> dict[str, dict[str, Array]]:
    """
    All tables of a file.

    Parameters
    ----------
    path : Path
        File written by `write_file`.

    Returns
    -------
    tables : dict
        Group path such as ``metadata/deployment`` → column → values, one per row.

    Raises
    ------
    ArchiveError
        If the file cannot be read.
    """
    with opened(path) as dataset:
        groups = [_read_group(group) for group in dataset.groups.values()]
    return dict(_tables("", groups))


def _tables(above: str, groups: list[GroupSpec]) -> Iterator[tuple[str, dict[str, Array]]]:
    for group in groups:
        name = f"{above}{group.name}"
        if group.variables:
            yield name, {variable.name: variable.data for variable in group.variables}
        yield from _tables(f"{name}/", list(group.groups))
