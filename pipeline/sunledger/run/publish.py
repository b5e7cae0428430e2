"""Bringing a finished file into the archive: version, supersede, write, manifest."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

import netCDF4
import numpy as np
import xarray as xr

from sunledger.archive.changes import (
    Entry,
    Made,
    append_entry,
    is_recorded,
    next_entry,
    read_record,
    restated,
)
from sunledger.archive.compare import size_of_change
from sunledger.archive.content import CHANGE_RECORD_ATTRIBUTES, content_digest
from sunledger.archive.digest import file_sha256
from sunledger.archive.manifest import Manifest, read_manifest, write_manifest
from sunledger.archive.netcdf import read_file, write_file
from sunledger.archive.products import issued
from sunledger.archive.specification import FileSpec
from sunledger.archive.superseding import supersede
from sunledger.errors import ArchiveError
from sunledger.run.causes import Cause
from sunledger.run.context import SOFTWARE

Done = Literal["written", "unchanged", "empty", "failed"]


@dataclass(frozen=True)
class Outcome:
    """
    What became of a unit.

    Parameters
    ----------
    unit : str
        Name of the unit.
    done : str
        ``written``; ``unchanged``: made again with the same content; ``empty``: there is nothing
        to make it of; ``failed``.
    path : str
        File, if there is one.
    version : int
        Its version.
    status : str
        Its status.
    accounting : dict
        Lines or minutes.
    flags_raised : dict
        Quantity → flag → count.
    error : str
        Why it failed, or what is missing.
    cause : str
        Kind of the failure.
    seconds : float
        Time that making it took. [s]
    """

    unit: str
    done: Done
    path: str = ""
    version: int = 0
    status: str = ""
    accounting: dict[str, Any] = field(default_factory=dict)
    flags_raised: dict[str, Any] = field(default_factory=dict)
    error: str = ""
    cause: Cause = ""
    seconds: float = field(default=0.0, compare=False)


def software_versions() -> dict[str, str]:
    """
    Versions that bear on the bytes of a file.

    Returns
    -------
    versions : dict
        Name → version.
    """
    return {
        "sunledger": SOFTWARE.split()[-1],
        "netCDF4": netCDF4.__version__,
        "hdf5": netCDF4.__hdf5libversion__,
        "numpy": np.__version__,
        "xarray": xr.__version__,
    }


@dataclass(frozen=True)
class Publication:
    """
    A file that is made and not yet in the archive.

    Parameters
    ----------
    unit : str
        Name of the unit.
    spec : FileSpec
        Content without version and dates.
    path : Path
        Where it goes.
    record_path : Path
        The station's change record.
    made : Made
        Product, period, status and cause; its digest is filled in as it is published.
    manifest : Manifest
        Key, inputs, configuration and accounting; the rest is filled in as it is published.
    """

    unit: str
    spec: FileSpec = field(repr=False)
    path: Path
    record_path: Path
    made: Made
    manifest: Manifest = field(repr=False)


Ready = Outcome | Publication
"""What making a unit gives: a file to publish, or an outcome without one."""


@dataclass(frozen=True)
class Entered:
    """
    A file whose entry stands in the change record, and which is now to be written.

    Parameters
    ----------
    publication : Publication
        The file.
    entry : Entry
        Its version, status and logical digest.
    same : bool
        Whether the archive already holds this content in this version and status.
    """

    publication: Publication
    entry: Entry
    same: bool


def publish(publication: Publication) -> Outcome:
    """
    Bring a file into the archive.

    Parameters
    ----------
    publication : Publication
        The file, and where it goes.

    Returns
    -------
    outcome : Outcome
        As from :func:`completed`.

    Notes
    -----
    The order makes a kill at any moment harmless: entry, file, manifest. A file without a fitting
    manifest counts as stale, and a rebuild finds its own entry by the digest.
    """
    return completed(entered(publication))


def entered(publication: Publication) -> Entered:
    """
    Enter a file into the change record, and keep what it supersedes.

    Parameters
    ----------
    publication : Publication
        The file, and where it goes.

    Returns
    -------
    entered : Entered
        To be completed by anybody, beside others; entries stand in the order of these calls.
    """
    spec, path, record_path = publication.spec, publication.path, publication.record_path
    made = replace(publication.made, logical_digest=content_digest(spec))
    record = read_record(record_path)
    entry = next_entry(record, made)
    before = read_manifest(path) if path.exists() else None
    same = before is not None and _is_same(before, entry, path)
    if same and not _same_origin(path, spec):
        # The same lines in other raw files: the file's table of sources has to follow, openly.
        same, entry = False, entry if entry.status == "open" else restated(entry, made)
    if not same:
        if entry.action == "revised" and not is_recorded(record, entry):
            entry = replace(entry, size_of_change=_size(path, spec))
        if before is not None and before.version != entry.version and _is_whole(before, path):
            supersede(path, before)
        path.parent.mkdir(parents=True, exist_ok=True)
        if not is_recorded(record, entry):
            append_entry(record_path, entry)
    return Entered(publication, entry, same)


def completed(entered: Entered) -> Outcome:
    """
    Write a file that was entered, and its manifest.

    Parameters
    ----------
    entered : Entered
        The file.

    Returns
    -------
    outcome : Outcome
        ``unchanged`` when the archive already held this content in this version and status: then
        only the manifest is written again, with its new key.
    """
    publication, entry = entered.publication, entered.entry
    path = publication.path
    if not entered.same:
        write_file(path, issued(publication.spec, entry), entry.logical_digest)
    complete = replace(
        publication.manifest,
        software=software_versions(),
        logical_digest=entry.logical_digest,
        file_sha256=file_sha256(path),
        size=path.stat().st_size,
        status=entry.status,
        version=entry.version,
    )
    write_manifest(path, complete)
    return Outcome(
        publication.unit,
        "unchanged" if entered.same else "written",
        str(path),
        entry.version,
        entry.status,
        dict(complete.accounting),
        dict(complete.flags_raised),
    )


def _same_origin(path: Path, spec: FileSpec) -> bool:
    """Whether the file was also made of the same raw files, not just of the same lines."""
    digests = {content_digest(s, CHANGE_RECORD_ATTRIBUTES) for s in (read_file(path), spec)}
    return len(digests) == 1


def _size(path: Path, spec: FileSpec) -> dict[str, dict[str, float]]:
    try:
        return size_of_change(read_file(path), spec)
    except ArchiveError:  # the old file is gone or damaged, and `verify` says so
        return {}


def _is_whole(before: Manifest, path: Path) -> bool:
    """
    Whether the file is the one its manifest describes.

    After a kill between file and manifest the next version already stands under the name, and the
    old one was kept before.
    """
    return file_sha256(path) == before.file_sha256


def _is_same(before: Manifest, entry: Entry, path: Path) -> bool:
    stated = (before.logical_digest, before.version, before.status)
    return stated == (entry.logical_digest, entry.version, entry.status) and _is_whole(before, path)
