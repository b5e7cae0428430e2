"""A package of a station and a period for a repository: data, provenance, metadata, licence."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

from sunledger.archive.bag import write_bag
from sunledger.archive.changes import RECORD_NAME
from sunledger.archive.datacite import datacite_record
from sunledger.archive.digest import file_sha256
from sunledger.archive.free_text import one_line
from sunledger.archive.listing import Published, chosen
from sunledger.archive.manifest import manifest_path
from sunledger.archive.netcdf import read_file
from sunledger.archive.prov import provenance
from sunledger.archive.specification import FileSpec
from sunledger.errors import ArchiveError

NEVER = ("open", "withdrawn")
"""Status of files that are never deposited."""


def deposit(
    archive: Path,
    station: str,
    target: Path,
    period: tuple[str, str] = ("", ""),
    products: Sequence[str] = (),
    doi: str = "",
) -> tuple[Published, ...]:
    """
    Make a BagIt 1.0 package of a station and a period.

    Parameters
    ----------
    archive : Path
        Folder of the archive.
    station : str
        Identifier of the station.
    target : Path
        Folder of the bag; must not be there yet.
    period : tuple of str
        First and last month or year, inclusive; empty for no limit.
    products : sequence of str
        Empty for all.
    doi : str
        The DOI, where one is minted already.

    Returns
    -------
    files : tuple of Published
        What was packed. Open and withdrawn files are left out.

    Raises
    ------
    ArchiveError
        If nothing fits, a file is not as its manifest says, or the bag is there already.

    Notes
    -----
    The date of the bag is the newest date of issue in it, so that the same files give the same bag.
    """
    fitting = chosen(archive, station, products, *period)
    files = [f for f in fitting if f.manifest.status not in NEVER]
    if not files:
        raise ArchiveError(f"{station}: what fits is open or withdrawn, and is never deposited")
    altered = [f.path.name for f in files if file_sha256(f.path) != f.manifest.file_sha256]
    if altered:
        raise ArchiveError(f"{station}: altered since it was written: {', '.join(altered)}")
    specs = [read_file(f.path, variables=()) for f in files]  # attributes only
    record = datacite_record(files, specs, doi)
    root = Path(archive) / station
    payload: dict[str, Path | bytes] = {
        "README.txt": _readme(files, specs, record["titles"][0]["title"]),
        "LICENCE.txt": _licence(specs),
        "datacite.json": _json(record),
        "provenance.json": _json(provenance(files)),
        RECORD_NAME: root / RECORD_NAME,
    }
    for path in (f.path for f in files):
        place = f"{station}/{path.relative_to(root).as_posix()}"
        payload[place] = path
        payload[f"{place}.json"] = manifest_path(path)
    write_bag(target, payload, _info(files, specs, station, doi))
    return tuple(files)


def _json(plain: object) -> bytes:
    return (json.dumps(plain, indent=1, sort_keys=True, ensure_ascii=False) + "\n").encode()


def _said(specs: Sequence[FileSpec], name: str) -> str:
    newest = max(specs, key=lambda s: str(s.attributes["date_issued"]))
    return one_line(str(newest.attributes.get(name, "")))


def _info(
    files: Sequence[Published], specs: Sequence[FileSpec], station: str, doi: str
) -> dict[str, str]:
    info = {
        "Source-Organization": _said(specs, "creator_institution"),
        "Contact-Email": _said(specs, "creator_email"),
        "External-Description": _said(specs, "summary"),
        "Bagging-Date": _said(specs, "date_issued")[:10],
        "Bag-Group-Identifier": station,
        "Bag-Software-Agent": f"sunledger {files[-1].manifest.software.get('sunledger', '')}",
    }
    return info | ({"External-Identifier": doi} if doi else {})


def _licence(specs: Sequence[FileSpec]) -> bytes:
    licences = sorted({one_line(str(s.attributes["license"])) for s in specs})
    lines = [
        f"The data in this package are licensed under: {', '.join(licences)}",
        "Names without an address are SPDX identifiers; their texts stand at",
        "https://spdx.org/licenses/",
        f"Acknowledgement: {_said(specs, 'acknowledgement')}",
    ]
    return ("\n".join(lines) + "\n").encode()


def _readme(files: Sequence[Published], specs: Sequence[FileSpec], title: str) -> bytes:
    lines = [
        title,
        "=" * len(title),
        "",
        _said(specs, "summary"),
        "",
        "Contents",
        "  <station>/<product>/*.nc       NetCDF-4 by CF-1.11 and ACDD-1.3; see the attributes",
        "  <station>/<product>/*.nc.json  manifest: digests of every input, settings, accounting",
        "  changes.jsonl                  every version that was issued, with its cause",
        "  provenance.json                chain from raw file to product (PROV-JSON)",
        "  datacite.json                  metadata of this package (DataCite 4.5)",
        "  LICENCE.txt",
        "",
        "Time stamps are the start of the interval, in UTC; voltage files hold the logger's own",
        "labels. Each value has flags, conditions and a grade; see their attributes.",
        "Check the package with any BagIt tool.",
        "",
        "Files",
    ]
    for f in files:
        m = f.manifest
        lines.append(f"  {f.path.name}  version {m.version}, {m.status}, {m.size} bytes")
    return ("\n".join(lines) + "\n").encode()
