"""Writing the catalogue: pages for people and STAC files for programs, only what changed."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

from sunledger.archive.atomic import replace_text
from sunledger.archive.catalog_facts import MonthFacts, month_facts
from sunledger.archive.catalog_pages import StationPage, index_page, station_page
from sunledger.archive.catalog_stac import (
    period_item,
    root_catalog,
    station_collection,
)
from sunledger.archive.change_pages import months_affected
from sunledger.archive.changes import RECORD_NAME, read_record
from sunledger.archive.listing import Published, published, safe_name, station_folders
from sunledger.archive.netcdf import read_file
from sunledger.archive.verify import CATALOGUE
from sunledger.errors import ArchiveError


def write_catalog(archive: Path, output: Path | None = None) -> tuple[Path, ...]:
    """
    Write the catalogue of an archive.

    Parameters
    ----------
    archive : Path
        The archive.
    output : Path, optional
        Folder of the catalogue; by default ``catalog`` in the archive. Links are relative, so
        archive and catalogue must keep their places to each other.

    Returns
    -------
    written : tuple of Path
        Files that changed; what is up to date is left alone.

    Raises
    ------
    ArchiveError
        If there is no archive or nothing in it, the catalogue would lie among its files, or the
        system refuses to write.

    Notes
    -----
    Everything about a month stands in the manifests; one file a station is opened, for what it says
    of the station.
    """
    archive = Path(archive)
    output = Path(output) if output is not None else archive / CATALOGUE
    folders = station_folders(archive)
    places = {archive.resolve(), *(f.resolve() for f in folders)}
    if output.resolve() in places:
        raise ArchiveError(f"{output}: the catalogue needs a folder of its own")
    content: dict[Path, bytes] = {}
    pages = []
    for folder in folders:
        page = _station(folder, output, content)
        if page is not None:
            pages.append(page)
    if not pages:
        raise ArchiveError(f"{archive}: holds no published file")
    content[output / "index.html"] = index_page(pages).encode()
    content[output / "catalog.json"] = _json(root_catalog([p.station for p in pages]))
    stale = {p: text for p, text in content.items() if not _holds(p, text)}
    for path, text in stale.items():
        replace_text(path, text)
    return tuple(sorted(stale))


def _holds(path: Path, content: bytes) -> bool:
    return path.is_file() and path.read_bytes() == content


def _json(plain: object) -> bytes:
    # in the order in which it was put together, so that facts read back keep theirs
    text = json.dumps(plain, indent=1, ensure_ascii=False, allow_nan=False)
    return f"{text}\n".encode()


def _station(folder: Path, output: Path, content: dict[Path, bytes]) -> StationPage | None:
    station = safe_name(folder.name)
    periods: dict[str, list[Published]] = {}
    for file in published(folder):
        # settings and inputs are most of a manifest, and of no use here: decades would fill memory
        slim = replace(file.manifest, resolved_configuration={}, inputs=())
        periods.setdefault(slim.period, []).append(Published(file.path, slim))
    if not periods:
        return None
    about: dict[str, Any] = dict(read_file(_newest(periods).path, variables=()).attributes)
    facts: dict[str, MonthFacts] = {}
    for period, files in periods.items():
        path = output / station / f"{safe_name(period)}.json"
        found = _facts(files)
        if found is not None:
            facts[period] = found
        content[path] = _json(period_item(path, files, about, found))
    changes = tuple(months_affected(read_record(folder / RECORD_NAME)))
    page = StationPage(station, about, periods, facts, changes, folder)
    collection = station_collection(station, about, sorted(periods))
    content[output / station / "collection.json"] = _json(collection)
    path = output / station / "index.html"
    content[path] = station_page(page, path).encode()
    return page


def _newest(periods: dict[str, list[Published]]) -> Published:
    files = [f for files in periods.values() for f in files]
    return max(files, key=lambda f: (f.manifest.product == "minute", f.manifest.period))


def _facts(files: list[Published]) -> MonthFacts | None:
    minute = next((f for f in files if f.manifest.product == "minute"), None)
    return None if minute is None else month_facts(minute)
