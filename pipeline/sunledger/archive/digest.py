"""Digests: of a file's bytes, of its content apart from the change record, and of plain data."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import fields, is_dataclass
from functools import partial
from json.encoder import encode_basestring_ascii
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from pydantic import BaseModel

from sunledger.archive.content import (
    CHANGE_RECORD_ATTRIBUTES,
    LEFT_OUT,
    content_digest,
    part_digests,
)
from sunledger.archive.netcdf import read_file
from sunledger.archive.specification import FileSpec

__all__ = [
    "CHANGE_RECORD_ATTRIBUTES",
    "canonical_json",
    "file_sha256",
    "indented_json",
    "json_digest",
    "logical_digest",
    "parsed_digest",
    "part_digests",
    "plain_data",
]

_BLOCK = 1 << 20
_ATOMS = frozenset({type(None), bool, int, str})
_TEXT_OF: Mapping[type, Callable[[Any], str]] = {
    str: encode_basestring_ascii,
    int: int.__repr__,
    float: float.__repr__,
    bool: ("false", "true").__getitem__,
    type(None): lambda _: "null",
}
"""How JSON writes what most data are made of."""


def logical_digest(source: FileSpec | Path | str, leave_out: Collection[str] = LEFT_OUT) -> str:
    """
    SHA-256 over what a file says: dimensions, types, attributes and raw values, sorted by name.

    Parameters
    ----------
    source : FileSpec or path
        A specification, or a file.
    leave_out : collection of str
        Names of global and group attributes that do not count; see `content_digest` for what else
        is left out by default.

    Returns
    -------
    digest : str
        64 hexadecimal digits; independent of order, compression, chunks and library version.

    Raises
    ------
    ArchiveError
        If a file cannot be read.
    """
    spec = source if isinstance(source, FileSpec) else read_file(Path(source))
    return content_digest(spec, leave_out)


def file_sha256(path: Path | str) -> str:
    """
    SHA-256 of a file's bytes.

    Parameters
    ----------
    path : path
        The file.

    Returns
    -------
    digest : str
        64 hexadecimal digits.

    Raises
    ------
    OSError
        If the file cannot be read.
    """
    digest = hashlib.sha256()
    with open(path, "rb") as file:
        while block := file.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()


def canonical_json(obj: Any) -> bytes:
    """
    The one JSON text of plain data.

    Parameters
    ----------
    obj : Any
        Dataclasses, configuration models, dicts, lists, tuples, texts, numbers, numpy scalars and
        arrays, None.

    Returns
    -------
    text : bytes
        ASCII; keys sorted, no blanks, floats by their shortest exact digits.

    Raises
    ------
    ValueError
        If a number is not finite, or two keys of a dict become the same text; names the place.
    TypeError
        If something else is met; names the place.
    """
    return _canonical(plain_data(obj))


def _canonical(plain: Any) -> bytes:
    return json.dumps(plain, sort_keys=True, separators=(",", ":"), allow_nan=False).encode("ascii")


def parsed_digest(parsed: Any) -> str:
    """
    SHA-256 of data that were parsed from JSON, four times as fast as `json_digest`.

    Parameters
    ----------
    parsed : Any
        As `json.loads` gives it: nothing in it needs to be made plain.

    Returns
    -------
    digest : str
        The same as by `json_digest`.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    return hashlib.sha256(_canonical(parsed)).hexdigest()


def json_digest(obj: Any) -> str:
    """
    SHA-256 of plain data.

    Parameters
    ----------
    obj : Any
        See `canonical_json`.

    Returns
    -------
    digest : str
        64 hexadecimal digits.
    """
    return hashlib.sha256(canonical_json(obj)).hexdigest()


def indented_json(plain: Any, margin: str = "\n") -> str:
    """
    The JSON text of plain data that people read too, one item a line.

    Parameters
    ----------
    plain : Any
        From :func:`plain_data`, or parsed from JSON; finite numbers only.
    margin : str
        Line break and blanks before the line that the data end on.

    Returns
    -------
    text : str
        ASCII, as ``json.dumps`` with ``indent=1, sort_keys=True`` writes it, in half the time: with
        an indent that asks several generators in turn for every item.
    """
    if not isinstance(plain, (dict, list)):  # a union would take twice as long
        return json.dumps(plain, allow_nan=False)
    if not plain:
        return "[]" if isinstance(plain, list) else "{}"
    inner, quoted = f"{margin} ", encode_basestring_ascii
    of = _TEXT_OF.get  # most items are texts and numbers: a call for each would be half the work
    if isinstance(plain, list):
        lines = [t(v) if (t := of(type(v))) else indented_json(v, inner) for v in plain]
        return f"[{inner}{f',{inner}'.join(lines)}{margin}]"
    lines = [
        f"{quoted(k)}: {t(v) if (t := of(type(v := plain[k]))) else indented_json(v, inner)}"
        for k in sorted(plain)
    ]
    return f"{{{inner}{f',{inner}'.join(lines)}{margin}}}"


def plain_data(obj: Any, place: str = "$") -> Any:
    """
    The same data in dicts, lists, texts and numbers only.

    Parameters
    ----------
    obj : Any
        See `canonical_json`.
    place : str
        Where the data stand, for error messages.

    Returns
    -------
    plain : Any
        Fit for `json.dumps`.

    Raises
    ------
    ValueError
        If a number is not finite, or two keys become the same text.
    TypeError
        If something else is met.
    """
    kind = type(obj)
    way = _WAYS.get(kind)
    if way is None:
        way = _WAYS[kind] = _way_of(kind)
    return way(obj, place)


_WAYS: dict[type, Callable[[Any, str], Any]] = {}
"""Type → how its data are made plain, which takes longer to find than to do."""


def _way_of(kind: type) -> Callable[[Any, str], Any]:
    if kind in _ATOMS or issubclass(kind, str | int):
        return _as_it_is
    if issubclass(kind, float):
        return _finite
    if issubclass(kind, np.generic | np.ndarray):
        return _plain_array
    if issubclass(kind, list | tuple):
        return _plain_items
    if issubclass(kind, Mapping):
        return _plain_mapping
    if issubclass(kind, BaseModel):
        return partial(_plain_fields, tuple(kind.model_fields))
    if is_dataclass(kind):
        return partial(_plain_fields, tuple(f.name for f in fields(kind)))
    return _refused


def _as_it_is(value: Any, _: str) -> Any:
    return value


def _refused(value: Any, place: str) -> Any:
    raise TypeError(f"{place}: {type(value).__name__} has no canonical JSON form")


def _plain_array(array: np.generic | npt.NDArray[Any], place: str) -> Any:
    return plain_data(array.tolist(), place)


def _plain_fields(names: tuple[str, ...], obj: Any, place: str) -> dict[str, Any]:
    items = ((name, getattr(obj, name)) for name in names)
    return {n: v if _is_plain(v) else plain_data(v, f"{place}.{n}") for n, v in items}


def _is_plain(value: Any) -> bool:
    return type(value) in _ATOMS or (type(value) is float and math.isfinite(value))


def _plain_items(items: Sequence[Any], place: str) -> list[Any]:
    # most items are texts and numbers; naming their places would be most of the work
    return [v if _is_plain(v) else plain_data(v, f"{place}[{i}]") for i, v in enumerate(items)]


def _finite(value: float, place: str) -> float:
    if not math.isfinite(value):
        raise ValueError(f"{place}: only finite numbers have a JSON form (got {value!r})")
    return value


def _plain_mapping(mapping: Mapping[Any, Any], place: str) -> dict[str, Any]:
    plain = {
        str(key): value if _is_plain(value) else plain_data(value, f"{place}.{key}")
        for key, value in mapping.items()
    }
    if len(plain) != len(mapping):
        raise ValueError(f"{place}: two keys become the same text")
    return plain
