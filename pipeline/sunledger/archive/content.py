"""The digest of what a file says, apart from how it is stored and from the change record."""

from __future__ import annotations

import hashlib
import json
import struct
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from sunledger.archive.specification import (
    Array,
    FileSpec,
    GroupSpec,
    VariableSpec,
    raw_values,
)

# Global attributes that come from the station's change record or from what ran, not from the data.
CHANGE_RECORD_ATTRIBUTES = frozenset(
    {
        "date_created",
        "date_issued",
        "date_metadata_modified",
        "date_modified",
        "history",
        "processing_software",
        "product_status",
        "product_version",
    }
)
# How the same lines were cut into raw files is not part of what a file says.
ORIGIN_ATTRIBUTES = frozenset({"source_files_sha256"})
ORIGIN_GROUP = "provenance"
ORIGIN_VARIABLES = ("source_file_", "source_line_", "rejected_file", "rejected_line")
LEFT_OUT = CHANGE_RECORD_ATTRIBUTES | ORIGIN_ATTRIBUTES
_LENGTH = struct.Struct("<Q").pack


def content_digest(spec: FileSpec, leave_out: Collection[str] = LEFT_OUT) -> str:
    """
    SHA-256 over dimensions, types, attributes and raw values, sorted by name.

    Parameters
    ----------
    spec : FileSpec
        The content.
    leave_out : collection of str
        Names of global and group attributes that do not count.

    Returns
    -------
    digest : str
        64 hexadecimal digits.

    Notes
    -----
    By default the digest leaves out what the change record says, and how the lines were cut into
    raw files: the attribute ``source_files_sha256``, the group ``/metadata/provenance``, and the
    variables ``source_file_<logger>``, ``source_line_<logger>``, ``rejected_file`` and
    ``rejected_line``. The same lines in files that are shuffled, split or merged give the same
    digest. These parts count where ``leave_out`` does not name ``source_files_sha256``.
    """
    digest = hashlib.sha256()
    if frozenset(leave_out) >= ORIGIN_ATTRIBUTES:
        spec = without_origin(spec)
    _feed(digest, "dimensions", json.dumps(dict(spec.dimensions), sort_keys=True).encode())
    root = GroupSpec("", spec.variables, spec.attributes, spec.groups)
    _feed_group(digest, "", root, frozenset(leave_out))
    return digest.hexdigest()


def without_origin(spec: FileSpec) -> FileSpec:
    """
    The same content without what tells how the lines were cut into raw files.

    Parameters
    ----------
    spec : FileSpec
        The content.

    Returns
    -------
    spec : FileSpec
        Without the group ``/metadata/provenance`` and the variables of file and line.
    """
    groups = tuple(_without_origin(group) for group in spec.groups)
    return replace(spec, variables=_not_origin(spec.variables), groups=groups)


def _without_origin(group: GroupSpec) -> GroupSpec:
    inner = tuple(_without_origin(g) for g in group.groups if g.name != ORIGIN_GROUP)
    return replace(group, variables=_not_origin(group.variables), groups=inner)


def _not_origin(variables: tuple[VariableSpec, ...]) -> tuple[VariableSpec, ...]:
    return tuple(v for v in variables if not v.name.startswith(ORIGIN_VARIABLES))


def rest_digest(spec: FileSpec) -> str:
    """
    SHA-256 over what `content_digest` leaves out by default.

    Parameters
    ----------
    spec : FileSpec
        The content.

    Returns
    -------
    digest : str
        64 hexadecimal digits; with the other digest it sees all that a file says.
    """
    root = _rest(GroupSpec("", spec.variables, spec.attributes, spec.groups))
    rest = FileSpec(root.attributes, {}, root.variables, root.groups)
    return content_digest(rest, leave_out=())


def _rest(group: GroupSpec) -> GroupSpec:
    if group.name == ORIGIN_GROUP:
        return group
    return GroupSpec(
        group.name,
        tuple(v for v in group.variables if v.name.startswith(ORIGIN_VARIABLES)),
        {name: value for name, value in group.attributes.items() if name in LEFT_OUT},
        tuple(_rest(inner) for inner in group.groups),
    )


def part_digests(spec: FileSpec, dimension: str, labels: Sequence[str]) -> dict[str, str]:
    """
    One digest per part of a file, such as per month of a year file.

    Parameters
    ----------
    spec : FileSpec
        The whole file.
    dimension : str
        Dimension that is cut, such as ``time``.
    labels : sequence of str
        Label of the part that each index belongs to, such as ``2031-03``.

    Returns
    -------
    digests : dict
        Label → digest over all root variables along the dimension, in order of first appearance.
    """
    labels_array = np.asarray(labels)
    digests = {label: hashlib.sha256() for label in dict.fromkeys(labels)}
    rows = {label: labels_array == label for label in digests}
    along = (v for v in spec.variables if v.dimensions[:1] == (dimension,))
    for variable in sorted(along, key=lambda v: v.name):
        # what is said of a variable is the same in every part, and dear to write out
        notes = _notes(variable.name, variable, raw_values(variable).dtype)
        for label, digest in digests.items():
            _feed_values(digest, variable.name, replace(variable, data=variable.data[rows[label]]))
            digest.update(notes)
    return {label: digest.hexdigest() for label, digest in digests.items()}


def _feed_group(
    digest: hashlib._Hash, above: str, group: GroupSpec, leave_out: frozenset[str]
) -> None:
    path = f"{above}{group.name}/"
    kept = {name: v for name, v in group.attributes.items() if name not in leave_out}
    digest.update(_framed_attributes(path, kept))
    for variable in sorted(group.variables, key=lambda v: v.name):
        _feed_variable(digest, path, variable)
    for inner in sorted(group.groups, key=lambda g: g.name):
        _feed_group(digest, path, inner, leave_out)


def _feed_variable(digest: hashlib._Hash, above: str, variable: VariableSpec) -> None:
    path = f"{above}{variable.name}"
    raw = _feed_values(digest, path, variable)
    digest.update(_notes(path, variable, raw.dtype))


def _feed_values(digest: hashlib._Hash, path: str, variable: VariableSpec) -> Array:
    raw = raw_values(variable)
    shape = ",".join(f"{n}={s}" for n, s in zip(variable.dimensions, raw.shape, strict=False))
    label = f"variable {path}({shape}) {raw.dtype.str} {raw.shape}"
    _feed(digest, label, _little_endian(raw))
    return raw


def _notes(path: str, variable: VariableSpec, dtype: np.dtype[Any]) -> bytes:
    """What is said of a variable, as it is fed after its values."""
    decimals = "" if variable.packing is None else str(variable.packing.decimals)
    parts = [_framed(f"packing {path}", decimals.encode())]
    if variable.fill_value is not None:
        fill = np.asarray(variable.fill_value).astype(dtype)
        parts.append(_framed(f"fill {path}", _little_endian(fill).tobytes()))
    return b"".join([*parts, _framed_attributes(path, variable.attributes)])


def _framed_attributes(path: str, attributes: Mapping[str, Any]) -> bytes:
    parts = []
    for name in sorted(attributes):
        value = attributes[name]
        if isinstance(value, str):
            kind, content = "text", value.encode()
        else:
            array = np.atleast_1d(_narrow(value))
            kind, content = f"{array.dtype.str}{array.shape}", _little_endian(array).tobytes()
        parts.append(_framed(f"attribute {path}@{name} {kind}", content))
    return b"".join(parts)


def _narrow(value: Any) -> Array:
    # The same rule as the writer's: Python integers are stored in 32 bits.
    array = np.asarray(value)
    plain = not isinstance(value, np.ndarray | np.generic)
    return array.astype(np.int32) if plain and array.dtype.kind == "i" else array


def _little_endian(array: Array) -> memoryview:
    return np.ascontiguousarray(array).astype(array.dtype.newbyteorder("<"), copy=False).data


def _feed(digest: hashlib._Hash, label: str, content: bytes | memoryview) -> None:
    digest.update(_head(label, memoryview(content).nbytes))
    digest.update(content)


def _framed(label: str, content: bytes) -> bytes:
    return _head(label, len(content)) + content


def _head(label: str, length: int) -> bytes:
    # With both lengths in front no two different sequences of parts give the same stream.
    name = label.encode()
    return _LENGTH(len(name)) + name + _LENGTH(length)
