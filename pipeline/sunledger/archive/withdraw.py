"""Withdrawing a published file: it stays, and says with its reason that it must not be used."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from sunledger.archive.change_pages import write_change_pages
from sunledger.archive.changes import (
    RECORD_NAME,
    Entry,
    append_entry,
    is_recorded,
    read_record,
)
from sunledger.archive.digest import file_sha256
from sunledger.archive.free_text import one_line
from sunledger.archive.listing import safe_name
from sunledger.archive.manifest import checked_manifest, write_manifest
from sunledger.archive.netcdf import read_file, write_file
from sunledger.archive.products import issued
from sunledger.archive.verify import file_of
from sunledger.errors import ArchiveError


def withdraw(folder: Path, product: str, period: str, reason: str, day: str) -> Entry:
    """
    Mark a published file as withdrawn.

    Parameters
    ----------
    folder : Path
        Folder of the station.
    product : str
        As in the change record, such as ``minute`` or ``voltage_main``.
    period : str
        Such as ``2031-03`` or ``2031``.
    reason : str
        Why nobody should use it; goes into the change record, the file's history and the pages.
    day : str
        ISO date from which it is withdrawn.

    Returns
    -------
    entry : Entry
        The newest entry of the file.

    Raises
    ------
    ArchiveError
        If there is no such published file, it was altered, the date is none or before its issue,
        or no reason is given.

    Notes
    -----
    The version stays, since no value changes. Making the same values again leaves the file
    withdrawn; other values are a revision, which is published as usual. A second call after an
    interrupted one finishes it.
    """
    reason = one_line(reason)
    if not reason:
        raise ArchiveError("a reason must be given")
    day = _checked_date(day)
    record = read_record(folder / RECORD_NAME)
    entries = [e for e in record.entries if (e.product, e.period) == (product, period)]
    if not entries:
        known = ", ".join(sorted({f"{e.product} {e.period}" for e in record.entries}))
        raise ArchiveError(
            f"{folder}: no such published file; there are: {known} (got {product} {period})"
        )
    newest = entries[-1]
    if day < newest.issued[:10]:
        raise ArchiveError(f"{product} {period} was issued on {newest.issued} (got {day})")
    entry = newest
    if newest.status != "withdrawn":
        entry = replace(
            newest,
            status="withdrawn",
            action="restated",
            issued=day,
            cause=reason,
            size_of_change={},
        )
    path = file_of(folder, _safe(entry))
    manifest = checked_manifest(path)
    spec = read_file(path)  # before anything is written: a damaged file must not be blessed
    if manifest.status != "withdrawn" and file_sha256(path) != manifest.file_sha256:
        raise ArchiveError(f"{path}: was altered; restore it first")
    if not is_recorded(record, entry):
        append_entry(folder / RECORD_NAME, entry)
    write_file(path, issued(spec, entry))
    size = path.stat().st_size
    stated = replace(manifest, status="withdrawn", size=size, file_sha256=file_sha256(path))
    write_manifest(path, stated)
    write_change_pages(folder)
    return entry


def _safe(entry: Entry) -> Entry:
    safe_name(entry.product)
    safe_name(entry.period)
    return entry


def _checked_date(day: str) -> str:
    try:
        return date.fromisoformat(day).isoformat()
    except ValueError:
        raise ArchiveError(f"the date must be YYYY-MM-DD (got {day!r})") from None
