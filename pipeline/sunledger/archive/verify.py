"""Checking an archive against its own manifests and change records, and naming what is wrong."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from sunledger.archive.change_pages import PAGE_NAME, TABLE_NAME, change_page, change_table
from sunledger.archive.changes import (
    RECORD_NAME,
    ChangeRecord,
    Entry,
    entry_line,
    read_record,
)
from sunledger.archive.conformity import conformity_faults
from sunledger.archive.content import content_digest
from sunledger.archive.crosscheck import product_faults
from sunledger.archive.digest import file_sha256
from sunledger.archive.findings_file import (
    findings_contradict,
    findings_faults,
    findings_files,
)
from sunledger.archive.listing import BOOKKEEPING, Published, station_folders
from sunledger.archive.manifest import Manifest, checked_manifest, manifest_path
from sunledger.archive.netcdf import read_file
from sunledger.archive.superseding import SUPERSEDED
from sunledger.errors import ArchiveError

Kind = Literal["missing", "altered", "foreign", "contradiction"]
CATALOGUE = "catalog"
"""Folder of the catalogue where it stands in the archive; it can be made again at any time."""


@dataclass(frozen=True, order=True)
class Finding:
    """
    One thing that is wrong in an archive.

    Parameters
    ----------
    path : str
        The file, relative to the archive.
    kind : str
        ``missing``; ``altered``: other bytes than were written; ``foreign``: nothing of the
        archive's; ``contradiction``: files that do not agree, or break a convention.
    why : str
        What was found and what was expected.
    """

    path: str
    kind: Kind
    why: str

    def __str__(self) -> str:
        return f"{self.path}: {self.kind}: {self.why}"


def verify(archive: Path, content: bool = True) -> tuple[Finding, ...]:
    """
    Everything that is wrong in an archive.

    Parameters
    ----------
    archive : Path
        Folder of the archive.
    content : bool
        Whether to open the files as well: logical digests, conventions, and that hours follow from
        minutes and days from hours. Without, bytes are compared with manifests and change records
        only, which already finds every altered byte.

    Returns
    -------
    findings : tuple of Finding
        Sorted; empty for a sound archive.

    Raises
    ------
    ArchiveError
        If there is no such folder.

    Notes
    -----
    Manifests and lines of the change record carry the digest of their own content and have one form
    in bytes only; that no whole manifest or line was taken away is seen from the other of the two.
    """
    archive = Path(archive)
    folders = station_folders(archive)
    known = {*folders, archive / BOOKKEEPING, archive / CATALOGUE}
    found = [
        Finding(path.name, "foreign", "is nothing of a station's")
        for path in archive.iterdir()
        if path not in known
    ]
    for folder in folders:
        found += _Station(archive, folder).findings(content)
    return tuple(sorted(found))


class _Station:
    """One station's folder while it is being verified."""

    def __init__(self, archive: Path, folder: Path) -> None:
        self.archive, self.folder = archive, folder
        self.found: list[Finding] = []
        self.known: set[Path] = {folder / RECORD_NAME}
        self.sound: list[Published] = []

    def findings(self, content: bool) -> list[Finding]:
        record = self._record()
        if record is not None:
            self._recorded(record)
            self._pages(record)
        self._open_and_unrecorded(record is not None)
        self.known |= findings_files(self.folder)
        for path_of, why in findings_faults(self.folder):
            self._add(path_of, "altered", why)
        self._findings_in_manifests()
        for path in sorted(self.folder.rglob("*")):
            if path not in self.known and (path.is_symlink() or not path.is_dir()):
                self._foreign(path)
        if content:
            self._contents()
        return self.found

    def _findings_in_manifests(self) -> None:
        for file in self.sound:
            if SUPERSEDED not in file.path.parts:
                why = findings_contradict(file.path, file.manifest)
                if why:
                    self._add(manifest_path(file.path), "contradiction", why)

    def _add(self, path: Path, kind: Kind, why: str) -> None:
        self.found.append(Finding(str(path.relative_to(self.archive)), kind, why))

    def _foreign(self, path: Path) -> None:
        left = path.name.startswith(".") and path.name.endswith(".partial")
        why = "left by an interrupted write" if left else "stands in no manifest and no record"
        self._add(path, "foreign", why)

    def _record(self) -> ChangeRecord | None:
        path = self.folder / RECORD_NAME
        if not path.is_file() or path.is_symlink():
            if any(p.name.endswith(".nc") for p in self.folder.rglob("*")):
                self._add(path, "missing", "no change record beside published files")
            return ChangeRecord()
        try:
            record = read_record(path)
        except ArchiveError as error:
            self._add(path, "altered", str(error).removeprefix(f"{path}:"))
            return None
        for fault in record.faults:
            self._add(path, "altered", f"line {fault.line}: {fault.why}")
        if not record.faults and path.read_bytes() != b"".join(map(entry_line, record.entries)):
            self._add(path, "altered", "its text is not as it was written")
        return record

    def _recorded(self, record: ChangeRecord) -> None:
        """Check that every version that was ever issued is where it belongs."""
        versions: dict[tuple[str, str], dict[int, Entry]] = {}
        for entry in record.entries:
            versions.setdefault((entry.product, entry.period), {})[entry.version] = entry
        for entries in versions.values():
            newest = max(entries)
            gaps = sorted(set(range(1, newest)) - entries.keys())
            for version, entry in entries.items():
                path = file_of(self.folder, entry)
                if version < newest:
                    path = path.parent / SUPERSEDED / f"{path.stem}_v{version}{path.suffix}"
                self._issued(path, entry)
            if gaps:
                words = ", ".join(map(str, gaps))
                entry = entries[newest]
                name = f"{entry.product} {entry.period}"
                self._add(self.folder / RECORD_NAME, "missing", f"version {words} of {name}")

    def _issued(self, path: Path, entry: Entry) -> None:
        self.known |= {path, manifest_path(path)}
        if not path.is_file():
            self._add(path, "missing", f"version {entry.version} was issued on {entry.issued}")
        manifest = self._manifest(path)
        if manifest is None:
            return
        stated = (manifest.version, manifest.status, manifest.logical_digest)
        expected = (entry.version, entry.status, entry.logical_digest)
        if stated != expected:
            what = ("version", "status", "logical digest")
            odd = [
                f"{n} {a} instead of {b}"
                for n, a, b in zip(what, stated, expected, strict=True)
                if a != b
            ]
            why = f"does not agree with the change record: {'; '.join(odd)}"
            self._add(manifest_path(path), "contradiction", why)
        self._bytes(path, manifest)

    def _manifest(self, path: Path) -> Manifest | None:
        target = manifest_path(path)
        try:
            return checked_manifest(path)
        except ArchiveError as error:
            kind: Kind = "altered" if target.exists() else "missing"
            self._add(target, kind, str(error).removeprefix(f"{target}: "))
            return None
        except OSError as error:
            self._add(target, "altered", f"cannot be read: {error.strerror}")
            return None

    def _bytes(self, path: Path, manifest: Manifest) -> None:
        if not path.is_file():
            return
        size = path.stat().st_size
        if size != manifest.size:
            self._add(path, "altered", f"{size} bytes instead of {manifest.size}")
        elif file_sha256(path) != manifest.file_sha256:
            self._add(path, "altered", "its SHA-256 is not that of the manifest")
        else:
            self.sound.append(Published(path, manifest))

    def _open_and_unrecorded(self, recorded: bool) -> None:
        """Take in files that the record does not name: open ones, or all if it is unreadable."""
        for target in sorted(self.folder.rglob("*.nc.json")):
            path = target.with_name(target.name.removesuffix(".json"))
            if target in self.known or target.name.startswith(".") or target.is_symlink():
                continue
            manifest = self._manifest(path)
            if manifest is None or (recorded and manifest.status != "open"):
                continue  # stays unknown, so it will be called foreign
            self.known |= {path, target}
            if not path.is_file():
                self._add(path, "missing", "its manifest is there")
            self._bytes(path, manifest)

    def _pages(self, record: ChangeRecord) -> None:
        made = {TABLE_NAME: change_table(record), PAGE_NAME: change_page(record, self.folder.name)}
        for name, expected in made.items():
            path = self.folder / name
            self.known.add(path)
            if not path.is_file():
                if record.entries:
                    self._add(path, "missing", "the next run writes it again")
            elif path.read_bytes() != expected:
                self._add(path, "altered", "does not say what the change record says")

    def _contents(self) -> None:
        for file in self.sound:
            try:
                spec = read_file(file.path)
            except ArchiveError as error:
                self._add(file.path, "altered", str(error))
                continue
            if content_digest(spec) != file.manifest.logical_digest:
                self._add(file.path, "altered", "its logical digest is not that of the manifest")
            for why in conformity_faults(spec):
                self._add(file.path, "contradiction", why)
        current = [f for f in self.sound if SUPERSEDED not in f.path.parts]
        for path, why in _product_faults(current):
            self._add(path, "contradiction", why)


def _product_faults(files: list[Published]) -> Iterator[tuple[Path, str]]:
    by_product: dict[str, dict[str, Published]] = {}
    for file in files:
        by_product.setdefault(file.recorded_product, {})[file.manifest.period] = file
    tables: Mapping[str, Mapping[str, Published]] = by_product
    yield from product_faults(tables)


def file_of(folder: Path, entry: Entry) -> Path:
    """
    Where the file of an entry of the change record stands.

    Parameters
    ----------
    folder : Path
        Folder of the station.
    entry : Entry
        The entry.

    Returns
    -------
    path : Path
        Of the newest version.
    """
    product = entry.product.split("_", 1)[0]
    return folder / product / f"{folder.name}_{entry.product}_{entry.period}.nc"
