"""What lies in the raw folder: each file opened once, and again only when it has changed."""

from __future__ import annotations

import errno
import json
import os
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np

from sunledger.config.models.station import Logger, Station
from sunledger.run.crew import Crew
from sunledger.run.months import months_touched
from sunledger.stages.rawfiles import FileReadings, read_file
from sunledger.stages.streams import RawFile

VERSION = 2
MUCH = 64 * 2**20
"""Bytes of new files from which on workers read them: about a second of work."""
State = tuple[str, int, int]
"""Path, size [byte] and time of change [ns] of a raw file."""
_NOTHING = (1, 0)  # an empty range of labels: the index keeps no readings


@dataclass(frozen=True)
class IndexedFile:
    """
    What the index knows about one raw file.

    Parameters
    ----------
    path : str
        Path below the raw folder.
    size : int
        Size on disk. [byte]
    mtime_ns : int
        Time of last change, only compared for being the same. [ns]
    sha256 : str
        Digest of the file as it lies on disk.
    layout : str
        Digest of the logger's layouts and channels it was read with.
    first_label, last_label : int or None
        Earliest and latest label in the logger's own clock. [s]
    months : dict of int
        Label month → data lines accounted to it.
    data_lines : int
        Data lines of the file.
    problems : tuple of str
        What is wrong with the file as a whole.
    spans : dict of (int, int)
        Label month → earliest and latest label of a good line in it. [s]
    opening_label : int or None
        Label of the first good line, by which files are put in order. [s]
    """

    path: str
    size: int
    mtime_ns: int
    sha256: str
    layout: str
    first_label: int | None = None
    last_label: int | None = None
    months: dict[str, int] = field(default_factory=dict)
    data_lines: int = 0
    problems: tuple[str, ...] = ()
    spans: dict[str, tuple[int, int]] = field(default_factory=dict)
    opening_label: int | None = None


@dataclass(frozen=True)
class FileIndex:
    """
    All raw files of one logger.

    Parameters
    ----------
    files : tuple of IndexedFile
        In the order of their paths.
    added, changed, vanished : tuple of str
        Paths that differ from the saved index.
    """

    files: tuple[IndexedFile, ...] = ()
    added: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    vanished: tuple[str, ...] = ()

    @cached_property
    def by_month(self) -> dict[str, tuple[IndexedFile, ...]]:
        """
        Files with lines accounted to a month.

        Returns
        -------
        files : dict of tuple of IndexedFile
            Label month → files, in the order of their paths.
        """
        found: dict[str, list[IndexedFile]] = {}
        for file in self.files:
            for month in file.months:
                found.setdefault(month, []).append(file)
        return {month: tuple(files) for month, files in found.items()}


def update_index(
    raw_root: Path,
    station: Station,
    logger_id: str,
    saved: FileIndex | None = None,
    crew: Crew | None = None,
) -> FileIndex:
    """
    Bring the index of a logger's files up to date.

    Parameters
    ----------
    raw_root : Path
        Raw folder.
    station : Station
        Holds the logger.
    logger_id : str
        Its name in the station's configuration.
    saved : FileIndex or None
        Index of an earlier run.
    crew : Crew or None
        Whose workers read the files where there is much to read.

    Returns
    -------
    index : FileIndex
        Only new files and files whose size, time of change or layout differ were opened.
    """
    logger = station.loggers[logger_id]
    layout = layout_digest(logger)
    known = {entry.path: entry for entry in (saved.files if saved else ())}
    present = matching_files(raw_root, logger.files)
    kept = {
        path: old
        for path, size, mtime_ns in present
        if (old := known.get(path))
        and (old.size, old.mtime_ns, old.layout) == (size, mtime_ns, layout)
    }
    to_read = [state for state in present if state[0] not in kept]
    read = {f.path: f for f in _read_entries(raw_root, layout, logger, to_read, crew)}
    entries = tuple((kept | read)[path] for path, _, _ in present)
    added = tuple(path for path in read if path not in known)
    changed = tuple(path for path in read if path in known)
    vanished = sorted(set(known) - {path for path, _, _ in present})
    return FileIndex(entries, added, changed, tuple(vanished))


def _read_entries(
    raw_root: Path, layout: str, logger: Logger, files: list[State], crew: Crew | None
) -> list[IndexedFile]:
    """By workers where that saves more than it takes to start them."""
    shared = (raw_root, layout, logger)
    if crew is None or crew.alone or len(files) < 2 or sum(size for _, size, _ in files) < MUCH:
        return [_read_entry(shared, state) for state in files]
    return crew.each(_read_entry, shared, files)


def files_for(index: FileIndex, start_label: int, end_label: int) -> list[IndexedFile]:
    """
    Files that bear on a period.

    Parameters
    ----------
    index : FileIndex
        Up to date.
    start_label, end_label : int
        Labels in ``[start_label, end_label)``, in the logger's own clock. [s]

    Returns
    -------
    files : list of IndexedFile
        Files with lines accounted to a month that the period touches.
    """
    touched = months_touched(start_label, end_label)
    if len(touched) == 1:
        return list(index.by_month.get(touched[0], ()))
    found = {f.path: f for month in touched for f in index.by_month.get(month, ())}
    return [found[path] for path in sorted(found)]


def still_there(raw_root: Path, names: Iterable[str]) -> None:
    """
    Make sure that files which were indexed can have been read.

    Parameters
    ----------
    raw_root : Path
        Raw folder.
    names : iterable of str
        Paths below it.

    Raises
    ------
    FileNotFoundError
        If one vanished after it was indexed: what was read then lacks its lines, though the index
        counts them.
    """
    for name in names:
        if not (raw_root / name).is_file():
            raise FileNotFoundError(errno.ENOENT, "vanished since it was indexed", name)


def unmatched_files(raw_root: Path, stations: Iterable[Station]) -> list[str]:
    """
    Files in the raw folder that belong to no logger of any station.

    Parameters
    ----------
    raw_root : Path
        Raw folder.
    stations : iterable of Station
        All stations.

    Returns
    -------
    paths : list of str
        Below the raw folder, sorted.
    """
    patterns = [p for s in stations for logger in s.loggers.values() for p in logger.files]
    matched = {path for path, _, _ in matching_files(raw_root, patterns)}
    return sorted(path for path, _ in _walk(raw_root, "") if path not in matched)


def matching_files(raw_root: Path, patterns: Sequence[str]) -> list[tuple[str, int, int]]:
    """
    Files in the raw folder that one of the patterns names.

    Parameters
    ----------
    raw_root : Path
        Raw folder.
    patterns : sequence of str
        ``*`` and ``?`` stay within one folder; ``**`` goes through any number of folders.

    Returns
    -------
    files : list of (str, int, int)
        Path below the raw folder, size, time of change; each file once, sorted by path. A link
        that leads nowhere counts with size -1.
    """
    wanted = _pattern(tuple(patterns))
    found = []
    for path, item in _walk(raw_root, ""):
        if wanted.fullmatch(path):
            found.append((path, *_state(item)))
    return sorted(found)


def layout_digest(logger: Logger) -> str:
    """
    Digest of all that decides how a logger's files are read.

    Parameters
    ----------
    logger : Logger
        From the station's configuration.

    Returns
    -------
    digest : str
        SHA-256, hexadecimal.
    """
    read_by = logger.model_dump(mode="json", include={"layouts", "channels", "utc_offset"})
    return sha256(json.dumps(read_by, sort_keys=True).encode()).hexdigest()


def load_index(path: Path) -> FileIndex | None:
    """
    Read a saved index.

    Parameters
    ----------
    path : Path
        JSON file written by `save_index`.

    Returns
    -------
    index : FileIndex or None
        None when there is none, or it cannot be used; it is only a memory aid and is then made
        anew.
    """
    try:
        held = json.loads(path.read_text("utf-8"))
        if held["version"] != VERSION:
            return None
        entries = [_entry(e) for e in held["files"]]
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return FileIndex(tuple(entries))


def _entry(held: dict[str, Any]) -> IndexedFile:
    spans = {month: (first, last) for month, (first, last) in held["spans"].items()}
    return IndexedFile(**{**held, "problems": tuple(held["problems"]), "spans": spans})


def save_index(path: Path, index: FileIndex) -> None:
    """
    Save an index; the file is replaced as a whole.

    Parameters
    ----------
    path : Path
        JSON file, in the archive's ``.sunledger`` folder.
    index : FileIndex
        To be saved.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    # One line a file: readable, and several times faster than an indented dump of the whole.
    lines = ",\n".join(json.dumps(vars(entry), sort_keys=True) for entry in index.files)
    temporary = path.with_name(f"{path.name}.part")
    temporary.write_text(f'{{"version": {VERSION}, "files": [\n{lines}\n]}}\n', "utf-8")
    os.replace(temporary, path)


def _walk(folder: Path, prefix: str) -> Iterator[tuple[str, os.DirEntry[str]]]:
    """All files below a folder; linked folders are not entered, so no walk runs in circles."""
    with os.scandir(folder) as items:
        for item in items:
            if item.is_dir(follow_symlinks=False):
                yield from _walk(Path(item.path), f"{prefix}{item.name}/")
            else:
                yield f"{prefix}{item.name}", item


def _state(item: os.DirEntry[str]) -> tuple[int, int]:
    try:
        found = item.stat()
    except OSError:
        return -1, 0
    return found.st_size, found.st_mtime_ns


@lru_cache(maxsize=64)
def _pattern(patterns: tuple[str, ...]) -> re.Pattern[str]:
    return re.compile("|".join(_translated(pattern) for pattern in patterns))


def _translated(pattern: str) -> str:
    """Regular expression of one file pattern."""
    words = {"**/": "(?:[^/]+/)*", "**": ".*", "*": "[^/]*", "?": "[^/]"}
    parts = re.split(r"(\*\*/|\*\*|\*|\?|\[[^\]]+\])", pattern.removeprefix("./"))
    return "".join(
        words.get(part) or (part.replace("[!", "[^") if part.startswith("[") else re.escape(part))
        for part in parts
    )


def _read_entry(shared: tuple[Path, str, Logger], file: State) -> IndexedFile:
    (raw_root, layout, logger), (path, size, mtime_ns) = shared, file
    found = read_file(RawFile(raw_root / path, path), logger, *_NOTHING)
    return IndexedFile(
        path,
        size,
        mtime_ns,
        found.sha256,
        layout,
        found.least,
        found.greatest,
        _months(found),
        found.data_lines,
        (found.fault,) if found.fault else (),
        found.spans,
        found.first,
    )


def _months(found: FileReadings) -> dict[str, int]:
    months: dict[str, int] = {}
    for day, count in sorted(found.label_counts.items()):
        month = str(np.datetime64(day, "D").astype("M8[M]"))
        months[month] = months.get(month, 0) + count
    return months
