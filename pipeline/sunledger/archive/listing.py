"""Which files an archive holds, by their names and manifests."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from sunledger.archive.changes import RECORD_NAME
from sunledger.archive.manifest import Manifest, read_manifest
from sunledger.archive.superseding import SUPERSEDED
from sunledger.errors import ArchiveError

MEANS = ("5min", "10min", "15min", "30min", "hourly", "daily", "monthly", "yearly")
PRODUCTS = ("voltage", "minute", "series", *MEANS)
BOOKKEEPING = ".sunledger"
"""Folder of what a run notes for itself; nothing in it is published."""
_NAME = re.compile(r"[a-z0-9][a-z0-9_.-]*")


@dataclass(frozen=True)
class Published:
    """
    One file with its manifest.

    Parameters
    ----------
    path : Path
        The file.
    manifest : Manifest
        Its manifest.
    """

    path: Path
    manifest: Manifest

    @property
    def part(self) -> str:
        """
        Logger of a voltage file, interval of a series [s], clock of means where it is not UTC.

        Returns
        -------
        part : str
            Empty for other products.
        """
        m = self.manifest
        stem = self.path.stem.removeprefix(f"{m.station}_{m.product}_")
        return stem.removesuffix(m.period).strip("_")

    @property
    def recorded_product(self) -> str:
        """
        Name under which the change record knows the product.

        Returns
        -------
        product : str
            Such as ``minute`` or ``voltage_main``.
        """
        return "_".join(filter(None, (self.manifest.product, self.part)))


def archive_files(folder: Path) -> list[Path]:
    """
    Published NetCDF files of an archive, without the superseded ones.

    Parameters
    ----------
    folder : Path
        An archive, a station's folder or a product's.

    Returns
    -------
    paths : list of Path
        Sorted.
    """
    found = (p for p in Path(folder).rglob("*.nc") if not p.name.startswith("."))
    return sorted(p for p in found if SUPERSEDED not in p.parts and BOOKKEEPING not in p.parts)


def station_folders(archive: Path) -> list[Path]:
    """
    Folders of the stations of an archive.

    Parameters
    ----------
    archive : Path
        The archive.

    Returns
    -------
    folders : list of Path
        Sorted; those with a change record or a folder of a product.

    Raises
    ------
    ArchiveError
        If there is no such folder.
    """
    archive = Path(archive)
    if not archive.is_dir():
        raise ArchiveError(f"{archive}: no such folder")
    inner = sorted(p for p in archive.iterdir() if p.is_dir() and not p.name.startswith("."))
    return [p for p in inner if any((p / n).exists() for n in (RECORD_NAME, *PRODUCTS))]


def published(folder: Path) -> Iterator[Published]:
    """
    Published files that have a sound manifest, one at a time.

    Parameters
    ----------
    folder : Path
        An archive or a station's folder.

    Yields
    ------
    file : Published
        By path.
    """
    for path in archive_files(folder):
        manifest = read_manifest(path)
        if manifest is not None:
            yield Published(path, manifest)


def chosen(
    archive: Path,
    station: str,
    products: Iterable[str] = (),
    first: str = "",
    last: str = "",
) -> list[Published]:
    """
    Published files of a station, of some products and a period.

    Parameters
    ----------
    archive : Path
        The archive.
    station : str
        Identifier.
    products : iterable of str
        Empty for all.
    first, last : str
        First and last month or year, inclusive; empty for no limit. A year file counts when any
        part of its year does.

    Returns
    -------
    files : list of Published
        By path.

    Raises
    ------
    ArchiveError
        If the station's name is none, or nothing fits.
    """
    safe_name(station)
    wanted = frozenset(products)
    files = [
        f
        for f in published(Path(archive) / station)
        if (not wanted or f.manifest.product in wanted) and _within(f.manifest.period, first, last)
    ]
    if not files:
        raise ArchiveError(f"{archive}: holds nothing of {station} that fits")
    return files


def _within(period: str, first: str, last: str) -> bool:
    width = len(period)
    return (not first or period >= first[:width]) and (not last or period[: len(last)] <= last)


def safe_name(name: str) -> str:
    """
    A name of which a path may be made.

    Parameters
    ----------
    name : str
        Station, product or period that a person gave.

    Returns
    -------
    name : str
        The same.

    Raises
    ------
    ArchiveError
        If it could lead out of the archive, or needs escaping in a bag.
    """
    if not _NAME.fullmatch(name) or ".." in name:
        raise ArchiveError(
            f"{name!r} is no name in an archive; allowed: a-z, 0-9, and _ . - after the first"
        )
    return name
