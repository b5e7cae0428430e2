"""The manifest beside each file: what it was made of, and what it must still look like.

Each manifest carries the digest of its own content (``seal``), and has only one form in bytes, so
that every altered byte of it is found without any other file. A common index of all manifests would
be written by several workers at once, and one damaged index would cast doubt on the whole archive.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, Literal, get_args

from sunledger.archive.atomic import replace_text
from sunledger.archive.digest import indented_json, json_digest, parsed_digest, plain_data
from sunledger.errors import ArchiveError

Status = Literal["open", "provisional", "final", "withdrawn"]
FORMAT = "sunledger manifest 1"
SEAL = "seal"
"""Key under which a manifest, or a line of the change record, holds the digest of the rest."""
FINDINGS = "findings"
"""Key of the table of findings."""


@dataclass(frozen=True, order=True)
class InputFile:
    """
    One file that was read.

    Parameters
    ----------
    name : str
        Name relative to the raw folder, the configuration or the archive.
    sha256 : str
        Digest of its bytes.
    size : int
        Its length. [byte]
    """

    name: str
    sha256: str
    size: int


@dataclass(frozen=True)
class Manifest:
    """
    Everything about how one file came to be.

    Parameters
    ----------
    product : str
        ``voltage``, ``minute``, ``hourly``, ``daily`` or ``monthly``.
    station : str
        Station identifier.
    period : str
        Such as ``2031-03`` or ``2031``.
    key : str
        Digest of what the stages read; the file is stale when it changes.
    inputs : tuple of InputFile
        Files read.
    resolved_configuration : dict
        What of the configuration bears on the period.
    software : dict
        Name → version.
    accounting : dict
        Lines read, kept, repeated, conflicting, rejected; minutes.
    flags_raised : dict
        Quantity → flag → number of intervals.
    logical_digest : str
        Digest of the content.
    file_sha256 : str
        Digest of the file's bytes.
    size : int
        Length of the file. [byte]
    status : str
        ``open``, ``provisional``, ``final`` or ``withdrawn``.
    version : int
        From 1; 0 for an open file.
    findings : tuple of dict or None
        The table of findings of a month of minutes, as in its findings file; None, and no entry in
        the manifest, before a diagnosis.
    """

    product: str
    station: str
    period: str
    key: str
    inputs: tuple[InputFile, ...] = ()
    resolved_configuration: Mapping[str, Any] = field(default_factory=dict)
    software: Mapping[str, str] = field(default_factory=dict)
    accounting: Mapping[str, Any] = field(default_factory=dict)
    flags_raised: Mapping[str, Any] = field(default_factory=dict)
    logical_digest: str = ""
    file_sha256: str = ""
    size: int = 0
    status: Status = "provisional"
    version: int = 1
    findings: tuple[Mapping[str, Any], ...] | None = None


def manifest_path(path: Path) -> Path:
    """
    Where the manifest of a file stands.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    manifest : Path
        ``<file>.json`` beside it.
    """
    return path.with_name(f"{path.name}.json")


def write_manifest(path: Path, manifest: Manifest) -> Path:
    """
    Write the manifest of a file in one step; to be called after the file itself is in place.

    Parameters
    ----------
    path : Path
        The file that the manifest describes.
    manifest : Manifest
        What to write; the same manifest gives the same bytes.

    Returns
    -------
    written : Path
        ``<file>.json``.

    Raises
    ------
    ArchiveError
        If the system refuses to write.
    ValueError
        If a number is not finite.
    TypeError
        If something in it has no JSON form.
    """
    target = manifest_path(Path(path))
    replace_text(target, manifest_bytes(manifest))
    return target


def manifest_bytes(manifest: Manifest) -> bytes:
    """
    The one form of a manifest in bytes.

    Parameters
    ----------
    manifest : Manifest
        What to write.

    Returns
    -------
    content : bytes
        ASCII JSON, keys sorted, with the digest of the rest as ``seal``.

    Raises
    ------
    ValueError
        If a number is not finite.
    TypeError
        If something in it has no JSON form.
    """
    told = {k: v for k, v in plain_data(manifest).items() if v is not None or k != FINDINGS}
    plain = {"format": FORMAT, **told}
    return _bytes_of({**plain, SEAL: parsed_digest(plain)})


def _bytes_of(plain: Mapping[str, Any]) -> bytes:
    """The same of sealed plain data."""
    return f"{indented_json(plain)}\n".encode("ascii")


def sealed(plain: Mapping[str, Any]) -> dict[str, Any]:
    """
    Plain data with the digest of itself.

    Parameters
    ----------
    plain : dict
        Data without a seal.

    Returns
    -------
    sealed : dict
        The same with ``seal``.
    """
    return {**plain, SEAL: json_digest(plain)}


def unsealed(plain: Mapping[str, Any]) -> dict[str, Any] | None:
    """
    Plain data without its seal, if that is right.

    Parameters
    ----------
    plain : dict
        Data with ``seal``, as parsed from JSON.

    Returns
    -------
    rest : dict or None
        None when the seal is missing or belongs to other content.
    """
    rest = {name: value for name, value in plain.items() if name != SEAL}
    try:
        return rest if plain.get(SEAL) == parsed_digest(rest) else None
    except ValueError:
        return None


def checked_manifest(path: Path) -> Manifest:
    """
    The manifest of a file, byte by byte as it was written.

    Parameters
    ----------
    path : Path
        The file that the manifest describes.

    Returns
    -------
    manifest : Manifest
        As in `read_manifest`.

    Raises
    ------
    ArchiveError
        If there is none, or any byte of it was altered.
    """
    target = manifest_path(Path(path))
    content, plain = _parsed(target)
    manifest = _restored(plain)
    if manifest is None:
        why = "was altered" if target.exists() else "is missing"
        raise ArchiveError(f"{target}: manifest {why}")
    if content != _bytes_of(plain):
        raise ArchiveError(f"{target}: manifest was altered (its text, not its content)")
    return manifest


def read_manifest(path: Path) -> Manifest | None:
    """
    The manifest of a file.

    Parameters
    ----------
    path : Path
        The file that the manifest describes.

    Returns
    -------
    manifest : Manifest or None
        None when there is none, or when what stands there is cut, altered or of another kind: the
        file is then made again.
    """
    return _restored(_parsed(manifest_path(Path(path)))[1])


def _parsed(target: Path) -> tuple[bytes, Any]:
    """Bytes of a manifest and what they say; None where they say nothing."""
    try:
        content = target.read_bytes()
        return content, json.loads(content)
    except (OSError, ValueError):
        return b"", None


def _restored(plain: Any) -> Manifest | None:
    """The manifest of what its bytes say, if that is sealed and whole."""
    rest = unsealed(plain) if isinstance(plain, dict) else None
    if rest is None or rest.pop("format", None) != FORMAT:
        return None
    return _manifest(rest) if _is_whole(rest) else None


_TYPES: dict[str, type] = {
    "inputs": list,
    "resolved_configuration": dict,
    "software": dict,
    "accounting": dict,
    "flags_raised": dict,
    "size": int,
    "version": int,
}


def _is_whole(plain: dict[str, Any]) -> bool:
    names = {f.name for f in fields(Manifest)} - {FINDINGS}
    findings = plain.get(FINDINGS, [])
    return (
        set(plain) - {FINDINGS} == names
        and isinstance(findings, list)
        and all(isinstance(row, dict) for row in findings)
        and all(isinstance(plain[name], _TYPES.get(name, str)) for name in names)
        and plain["status"] in get_args(Status)
        and all(_is_input(item) for item in plain["inputs"])
    )


def _is_input(item: Any) -> bool:
    return (
        isinstance(item, dict)
        and set(item) == {"name", "sha256", "size"}
        and isinstance(item["size"], int)
    )


def _manifest(plain: dict[str, Any]) -> Manifest:
    inputs = tuple(InputFile(**item) for item in plain.pop("inputs"))
    findings = tuple(plain.pop(FINDINGS)) if FINDINGS in plain else None
    return Manifest(inputs=inputs, findings=findings, **plain)
