"""The change record as people read it: a table for programs and a page in plain text."""

from __future__ import annotations

import csv
import io
import logging
import os
import textwrap
from collections.abc import Iterator
from pathlib import Path

from sunledger.archive.atomic import replace_text
from sunledger.archive.changes import RECORD_NAME, ChangeRecord, Entry, read_record
from sunledger.archive.free_text import csv_cell, one_line
from sunledger.errors import ArchiveError

log = logging.getLogger(__name__)

TABLE_NAME = "changes.csv"
PAGE_NAME = "CHANGES.txt"
COLUMNS = (
    "product",
    "period",
    "version",
    "action",
    "status",
    "issued",
    "software",
    "months_affected",
    "cause",
    "series",
    "share_changed",
    "mean",
    "percentile_95",
    "largest",
    "values_lost",
    "values_gained",
)

NO_VALUE = "no mean or flag changed, only description, settings, history tables or statistics"


def months_affected(record: ChangeRecord) -> list[tuple[Entry, tuple[str, ...]]]:
    """
    Each entry with the months whose values it changed, added or took away.

    Parameters
    ----------
    record : ChangeRecord
        The record.

    Returns
    -------
    entries : list of (Entry, tuple of str)
        In the order of the record; a month's file affects its own month.
    """
    before: dict[tuple[str, str], Entry] = {}
    out = []
    for entry in record.entries:
        key = (entry.product, entry.period)
        old = before.get(key)
        before[key] = entry
        out.append((entry, _months(entry, old)))
    return out


def _months(entry: Entry, old: Entry | None) -> tuple[str, ...]:
    if not entry.parts:
        return (entry.period,)
    parts = {} if old is None else old.parts
    if entry.action == "restated":
        return tuple(sorted(entry.parts))
    names = sorted(entry.parts.keys() | parts.keys())
    return tuple(n for n in names if entry.parts.get(n) != parts.get(n))


def change_table(record: ChangeRecord) -> bytes:
    """
    The change record as CSV: a row per entry, or per series that a revision changed.

    Parameters
    ----------
    record : ChangeRecord
        The record.

    Returns
    -------
    content : bytes
        UTF-8; sizes of change in the unit of the series (irradiances: W m-2).
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for entry, months in _by_file(record):
        head = [entry.product, entry.period, entry.version, entry.action, entry.status]
        head += [entry.issued, entry.software, " ".join(months), entry.cause]
        for tail in _sizes(entry):
            writer.writerow([csv_cell(value) for value in (*head, *tail)])
    return out.getvalue().encode()


def _sizes(entry: Entry) -> Iterator[list[object]]:
    names = ("share_changed", "mean", "percentile_95", "largest", "lost", "gained")
    for series, size in sorted(entry.size_of_change.items()):
        numbers = (size.get(name) for name in names)
        yield [series, *("" if n is None else float(f"{n:.6g}") for n in numbers)]
    if not entry.size_of_change:
        yield [""] * (len(names) + 1)


def _by_file(record: ChangeRecord) -> list[tuple[Entry, tuple[str, ...]]]:
    # The order in which workers finished says nothing; within a file the order is kept.
    return sorted(months_affected(record), key=lambda pair: (pair[0].product, pair[0].period))


def change_page(record: ChangeRecord, station: str) -> bytes:
    """
    The change record in words, newest date first.

    Parameters
    ----------
    record : ChangeRecord
        The record.
    station : str
        Identifier of the station.

    Returns
    -------
    content : bytes
        UTF-8 text.
    """
    lines = [
        f"Changes of the published files of station {station}",
        "",
        "A revision changes published values and gets the next version; the file before stands in",
        "superseded/. An extension adds months and changes nothing published. Sizes are new less",
        "old, in the unit of the series (irradiances: W m-2): mean, 95th percentile of the",
        "absolute difference, and the share of samples that changed.",
    ]
    pairs = _by_file(record)
    for date in sorted({entry.issued for entry, _ in pairs}, reverse=True):
        lines += ["", date, "-" * len(date)]
        for entry, months in pairs:
            if entry.issued == date:
                lines += entry_words(entry, months)
    return ("\n".join(lines) + "\n").encode()


def entry_words(entry: Entry, months: tuple[str, ...]) -> list[str]:
    """
    One entry in words.

    Parameters
    ----------
    entry : Entry
        The entry.
    months : tuple of str
        Months affected.

    Returns
    -------
    lines : list of str
        Headline, months, cause, and a line per series.
    """
    said = f"version {entry.version}, {entry.status}, {one_line(entry.software)}"
    lines = [f"{entry.product} {entry.period}: {entry.action} ({said})"]
    if entry.parts:
        lines += _wrapped(f"months: {', '.join(months) or NO_VALUE}")
    lines += _wrapped(f"cause: {one_line(entry.cause) or 'not stated'}")
    if entry.action == "revised" and not entry.parts and not entry.size_of_change:
        lines.append(f"    {NO_VALUE}")
    for series, size in sorted(entry.size_of_change.items()):
        words = f"{series}: {size['share_changed']:.2%} of samples changed"
        if "mean" in size:
            words += f", mean {size['mean']:+.4g}, 95th percentile {size['percentile_95']:.4g}"
        lines.append(f"    {words}")
    return lines


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, 98, initial_indent="    ", subsequent_indent="      ")


def refresh_change_pages(folder: Path) -> bool:
    """
    Write table and page of a station if the record was written after them.

    Parameters
    ----------
    folder : Path
        Folder of the station.

    Returns
    -------
    behind : bool
        Whether they were behind, also after a run that was killed before it wrote them.

    Notes
    -----
    Pages that cannot be written, as on a full disk, are told as a warning: they repeat the record,
    and the next run finds them behind.
    """
    record, pages = folder / RECORD_NAME, (folder / TABLE_NAME, folder / PAGE_NAME)
    if not record.exists():
        return False
    written = record.stat().st_mtime_ns
    behind = any(not page.exists() or page.stat().st_mtime_ns < written for page in pages)
    if behind:
        try:
            write_change_pages(folder)
            for page in pages:  # also one that said this already, lest it be looked at every time
                os.utime(page)
        except ArchiveError as error:
            log.warning("changes.jsonl is right, its pages follow with the next run: %s", error)
    return behind


def write_change_pages(folder: Path) -> tuple[Path, ...]:
    """
    Write table and page of a station; a page that already says this is left alone.

    Parameters
    ----------
    folder : Path
        Folder of the station.

    Returns
    -------
    written : tuple of Path
        Files that were written.

    Raises
    ------
    ArchiveError
        If the record cannot be read or the system refuses to write.
    """
    folder = Path(folder)
    record = read_record(folder / RECORD_NAME)
    made = {TABLE_NAME: change_table(record), PAGE_NAME: change_page(record, folder.name)}
    stale = {
        folder / name: content
        for name, content in made.items()
        if not (folder / name).is_file() or (folder / name).read_bytes() != content
    }
    for path, content in stale.items():
        replace_text(path, content)
    return tuple(stale)
