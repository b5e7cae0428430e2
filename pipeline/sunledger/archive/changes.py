"""The station's change record: which version of which file was issued when, and why.

Each line carries the digest of the rest of the line (``seal``), and has only one form in bytes.
"""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any, Literal, get_args

from sunledger.archive.digest import canonical_json, plain_data
from sunledger.archive.manifest import Status, sealed, unsealed
from sunledger.errors import ArchiveError, Fault

Action = Literal["created", "extended", "revised", "restated"]
RECORD_NAME = "changes.jsonl"


@dataclass(frozen=True)
class Entry:
    """
    One line of the change record.

    Parameters
    ----------
    product : str
        Such as ``minute``.
    period : str
        Such as ``2031-03`` or ``2031``.
    version : int
        From 1; 0 for an open file, which is never recorded.
    status : str
        ``open``, ``provisional``, ``final`` or ``withdrawn``.
    action : str
        ``created``; ``extended``: periods were added and nothing published changed; ``revised``:
        a published value changed; ``restated``: another status for the same content.
    issued : str
        ISO date on which it was issued, from the run's ``as_of``.
    software : str
        Name and version of the software that made it.
    cause : str
        Why it was made again.
    logical_digest : str
        Digest of the content.
    parts : dict
        Year files: month → digest of that month's values.
    size_of_change : dict
        Revisions: quantity → numbers of `sunledger.archive.compare.Difference` against the version
        before. It stands here so that it outlives the superseded file.
    """

    product: str
    period: str
    version: int
    status: Status
    action: Action
    issued: str
    software: str
    cause: str
    logical_digest: str
    parts: Mapping[str, str] = field(default_factory=dict)
    size_of_change: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


@dataclass(frozen=True)
class Made:
    """
    A file that was just made, before it is known which version it is.

    Parameters
    ----------
    product, period, logical_digest, parts, status, issued, software, cause
        As in `Entry`.
    """

    product: str
    period: str
    logical_digest: str
    issued: str
    software: str
    cause: str = ""
    status: Status = "provisional"
    parts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class ChangeRecord:
    """
    The change record as read.

    Parameters
    ----------
    entries : tuple of Entry
        In the order written.
    faults : tuple of Fault
        Lines cut by an interrupted write and left out; to be shown to the user.
    """

    entries: tuple[Entry, ...] = ()
    faults: tuple[Fault, ...] = ()


def read_record(path: Path) -> ChangeRecord:
    """
    The station's change record.

    Parameters
    ----------
    path : Path
        ``changes.jsonl``; may be missing.

    Returns
    -------
    record : ChangeRecord
        Entries, and a warning for each line that an interrupted write cut.

    Raises
    ------
    ArchiveError
        If a whole line is not an entry: guessing around it could give out a version twice.
    """
    path = Path(path)
    try:
        lines = path.read_bytes().split(b"\n")
    except FileNotFoundError:
        return ChangeRecord()
    except OSError as error:
        raise ArchiveError(f"{path}: cannot be read: {error.strerror}") from error
    entries, faults = [], []
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        entry = _entry(line)
        if entry is not None:
            entries.append(entry)
        else:
            faults.append(_bad_line(path, number, line))
    return ChangeRecord(tuple(entries), tuple(faults))


def _bad_line(path: Path, number: int, line: bytes) -> Fault:
    # A line cut while it was written lacks its end; its file had not been put in place yet, so
    # nothing was published under it. Anything else was altered afterwards.
    if line.startswith(b"{") and not line.rstrip().endswith(b"}"):
        return Fault(str(path), number, "", "cut by an interrupted write; left out", "warning")
    raise ArchiveError(
        f"{path}:{number}: is no entry of a change record; restore the line from a copy"
        f" (got {line[:60].decode(errors='replace')!r})"
    )


def _entry(line: bytes) -> Entry | None:
    try:
        plain = json.loads(line)
    except ValueError:
        return None
    rest = unsealed(plain) if isinstance(plain, dict) else None
    if rest is None or set(rest) != {f.name for f in fields(Entry)}:
        return None
    return Entry(**rest) if _is_whole(rest) else None


def entry_line(entry: Entry) -> bytes:
    """
    The one form of an entry in bytes.

    Parameters
    ----------
    entry : Entry
        The entry.

    Returns
    -------
    line : bytes
        ASCII JSON with a line feed.
    """
    return canonical_json(sealed(plain_data(entry))) + b"\n"


def _is_whole(plain: Mapping[str, Any]) -> bool:
    texts = ("product", "period", "issued", "software", "cause", "logical_digest")
    return (
        all(isinstance(plain[name], str) for name in texts)
        and isinstance(plain["version"], int)
        and plain["status"] in get_args(Status)
        and plain["action"] in get_args(Action)
        and isinstance(plain["parts"], dict)
        and isinstance(plain["size_of_change"], dict)
    )


def append_entry(path: Path, entry: Entry) -> None:
    """
    Add an entry to the change record; to be called before the file is put in place.

    Parameters
    ----------
    path : Path
        ``changes.jsonl``; made when missing.
    entry : Entry
        What to add.

    Raises
    ------
    ValueError
        If the entry is that of an open file.
    ArchiveError
        If the system refuses to write.

    Notes
    -----
    One write at the end of the file and then a flush: entries of several processes follow each
    other. If the run stops between the entry and the file, the next run finds its own digest in the
    record and goes on.
    """
    if entry.status == "open":
        raise ValueError(f"open files are not recorded (got {entry.product} {entry.period})")
    path = Path(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT, 0o666)
        try:
            _append(descriptor, entry_line(entry))
        finally:
            os.close(descriptor)
    except OSError as error:
        raise ArchiveError(f"{path}: cannot be written: {error.strerror or error}") from error


def _append(descriptor: int, line: bytes) -> None:
    size = os.fstat(descriptor).st_size
    if size and os.pread(descriptor, 1, size - 1) != b"\n":
        line = b"\n" + line  # ends a line that an interrupted write left open
    written = os.write(descriptor, line)
    if written != len(line):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
    os.fsync(descriptor)


def next_entry(record: ChangeRecord, made: Made) -> Entry:
    """
    Which version a file is, by what was issued before.

    Parameters
    ----------
    record : ChangeRecord
        What was issued before.
    made : Made
        The file that was made.

    Returns
    -------
    entry : Entry
        An entry of the record itself when its newest version already had this content: version,
        date and software are then those of the record, so that a rebuild gives the same bytes.
        Otherwise a new entry, to be appended.

    Notes
    -----
    Only entries of the newest version are reused. Content that returns to what an older version
    held is a revision like any other: the newest published values did change.
    """
    if made.status == "open":
        return _entry_of(made, 0, "created")
    issued = [e for e in record.entries if (e.product, e.period) == (made.product, made.period)]
    if not issued:
        return _entry_of(made, 1, "created")
    newest = issued[-1]
    if newest.status == "withdrawn" and newest.logical_digest == made.logical_digest:
        return newest  # a person withdrew these values: making them again does not bring them back
    same = [
        e for e in issued if e.version == newest.version and e.logical_digest == made.logical_digest
    ]
    if same:
        return _reused(same, newest, made)
    extends = _extends(made.parts, newest.parts)
    return _entry_of(made, newest.version + (not extends), "extended" if extends else "revised")


def _reused(same: list[Entry], newest: Entry, made: Made) -> Entry:
    with_status = [e for e in same if e.status == made.status]
    # The status last stated of this content holds: final is not undone by the entry before it.
    stated = newest.status if newest.logical_digest == made.logical_digest else made.status
    if with_status and stated == made.status:
        return with_status[-1]
    return _entry_of(made, newest.version, "restated")


def _entry_of(made: Made, version: int, action: Action) -> Entry:
    taken = {name: getattr(made, name) for name in (f.name for f in fields(Made))}
    return Entry(version=version, action=action, **taken)


def restated(entry: Entry, made: Made) -> Entry:
    """
    The same content in the same version, issued again.

    Parameters
    ----------
    entry : Entry
        Newest entry of that content.
    made : Made
        Date, software and cause.

    Returns
    -------
    entry : Entry
        To be appended.
    """
    return replace(
        entry, action="restated", issued=made.issued, software=made.software, cause=made.cause
    )


def _extends(now: Mapping[str, str], before: Mapping[str, str]) -> bool:
    """Whether parts were added and every part issued before is unchanged."""
    kept = all(now.get(part) == digest for part, digest in before.items())
    return bool(before) and kept and len(now) > len(before)


def is_recorded(record: ChangeRecord, entry: Entry) -> bool:
    """
    Whether an entry already stands in the record, so that nothing is to be appended.

    Parameters
    ----------
    record : ChangeRecord
        The record as read.
    entry : Entry
        Result of `next_entry`.

    Returns
    -------
    recorded : bool
        True as well for an open file, which is never recorded.
    """
    return entry.status == "open" or entry in record.entries
