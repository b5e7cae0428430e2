"""Files that were just written and checked, for what reads them next in this process.

A run of one process makes the voltages of a month and reads them again for the minutes of up to
three months. What was read back is what was written, or the file would not be there: it is kept
while it is the file's content.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sunledger.archive.specification import TEXT, Array, FileSpec, GroupSpec, VariableSpec
from sunledger.errors import ArchiveError

Identity = tuple[int, int, int]


class _Shelf:
    """The files kept, the longest unread first; of limited size. For one thread."""

    def __init__(self) -> None:
        self._room = 0
        self._files: dict[Path, tuple[Identity, FileSpec, int]] = {}

    def open(self, room: int) -> None:
        self._room = room
        self._files.clear()

    def put(self, path: Path, spec: FileSpec) -> None:
        size = sum(v.data.nbytes for v in _all_variables(spec))
        identity = _identity(path)
        self._files.pop(path, None)
        if size > self._room or identity is None:
            return
        self._files[path] = (identity, spec, size)
        while sum(size for *_, size in self._files.values()) > self._room:
            self._files.pop(next(iter(self._files)))

    def get(self, path: Path) -> FileSpec | None:
        if path not in self._files:
            return None
        identity, spec, size = self._files.pop(path)
        if _identity(path) != identity:
            return None
        self._files[path] = (identity, spec, size)
        return spec


_SHELF = _Shelf()


def _identity(path: Path) -> Identity | None:
    """None where the file cannot be reached: who opens it meets that, and says so."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns


def _all_variables(node: FileSpec | GroupSpec) -> Iterator[VariableSpec]:
    yield from node.variables
    for group in node.groups:
        yield from _all_variables(group)


@contextmanager
def keeping(room: int) -> Iterator[None]:
    """
    Keep files that are written in this process, as far as there is room.

    Parameters
    ----------
    room : int
        Most that is held at a time; a larger file is not kept. [byte]

    Yields
    ------
    nothing : None
        What was kept is let go when the block ends.
    """
    _SHELF.open(room)
    try:
        yield
    finally:
        _SHELF.open(0)


def keep(path: Path, spec: FileSpec) -> None:
    """
    Keep a file's content, where this process keeps files at all.

    Parameters
    ----------
    path : Path
        The file.
    spec : FileSpec
        Its content; what changes with its version may be lacking.
    """
    _SHELF.put(path, spec)


def kept_columns(path: Path) -> KeptColumns | None:
    """
    A file's columns, if its content is kept and it has not been replaced since.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    columns : KeptColumns or None
        None where it has to be opened.
    """
    spec = _SHELF.get(path)
    return None if spec is None else KeptColumns(path, spec)


class KeptColumns:
    """
    Variables of a file that is kept.

    Parameters
    ----------
    path : Path
        The file, for messages.
    spec : FileSpec
        Its content.
    """

    def __init__(self, path: Path, spec: FileSpec) -> None:
        self._path, self._spec = path, spec

    def __contains__(self, name: str) -> bool:
        return any(variable.name == name for variable in self._spec.variables)

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
            In the order of the file.
        """
        found = (v for v in self._spec.variables if v.dimensions == (dimension,))
        return [v.name for v in found if v.dtype != TEXT]

    def values(self, name: str, rows: slice = slice(None)) -> Array:
        """
        Values of a root variable.

        Parameters
        ----------
        name : str
            Its name.
        rows : slice
            Of the first dimension.

        Returns
        -------
        values : numpy.ndarray
            The caller's own: packed ones as float64 with NaN, text as str.

        Raises
        ------
        ArchiveError
            If there is no such variable.
        """
        try:
            variable = self._spec[name]
        except KeyError as error:
            raise ArchiveError(f"{self._path}: has no variable {name}") from error
        return (variable.data[rows] if variable.dimensions else variable.data).copy()

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

        Raises
        ------
        ArchiveError
            If there is no such table.
        """
        node: FileSpec | GroupSpec | None = self._spec
        for name in group.split("/"):
            node = next((g for g in node.groups if g.name == name), None) if node else None
        if node is None:
            raise ArchiveError(f"{self._path}: cannot be read: has no group {group}")
        return {v.name: v.data.copy() for v in node.variables}
