"""What the archive holds on a station and month, gathered for its pages."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from sunledger.archive.catalog_stac import station_title
from sunledger.archive.changes import RECORD_NAME, Entry, read_record
from sunledger.archive.findings_file import FindingsFile, findings_path, read_findings
from sunledger.archive.listing import Published, published, safe_name, station_folders
from sunledger.archive.minute_series import read_minutes
from sunledger.archive.netcdf import read_file, read_tables
from sunledger.errors import ArchiveError
from sunledger.vocabulary import QUANTITIES

Tables = Mapping[str, Mapping[str, Any]]


@dataclass(frozen=True)
class StationMonth:
    """
    What the archive holds on a station and month.

    Parameters
    ----------
    station, month : str
        Such as ``osr`` and ``2031-04``.
    title : str
        Name of the station as its files say.
    minute : Published or None
        Its minute file, or a series of a slower logger.
    minutes : xarray.Dataset or None
        What that file holds.
    tables : dict
        Name of a history table without its group → column → values.
    lines : dict
        Logger → accounting of the lines of its voltage file.
    findings : FindingsFile or None
        None where no diagnosis was made, or where its file was altered.
    changes : tuple of Entry
        Lines of the change record on the month's minute file.
    monthly : tuple of Path
        Monthly files of the station, one a year.
    all_findings : dict
        Month → findings file, of every month up to this one.
    """

    station: str
    month: str
    title: str
    minute: Published | None
    minutes: xr.Dataset | None
    tables: Tables
    lines: Mapping[str, Mapping[str, Any]]
    findings: FindingsFile | None
    changes: tuple[Entry, ...]
    monthly: tuple[Path, ...]
    all_findings: Mapping[str, FindingsFile]

    @property
    def quantities(self) -> tuple[str, ...]:
        """
        Quantities with grades, in the order of the vocabulary.

        Returns
        -------
        names : tuple of str
            Empty without a minute file.
        """
        held = self.minutes
        return () if held is None else tuple(q for q in QUANTITIES if f"{q}_grade" in held)


def station_month(archive: Path, station: str, month: str) -> StationMonth:
    """
    Gather what the archive holds on a station and month.

    Parameters
    ----------
    archive : Path
        The archive.
    station : str
        Identifier.
    month : str
        Such as ``2031-04``.

    Returns
    -------
    gathered : StationMonth
        Also for a month of which nothing is held.

    Raises
    ------
    ArchiveError
        If the month is not written so, or the archive has no such station.
    """
    check_month(month)
    folder = Path(archive) / safe_name(station)
    if folder not in station_folders(archive):
        raise ArchiveError(f"{archive}: has no station {station!r}")
    files = list(published(folder))
    own = [f for f in files if f.manifest.period == month]
    minute = next((f for f in own if f.manifest.product in ("minute", "series")), None)
    found = {
        f.manifest.period: held
        for f in files
        if f.manifest.period <= month and (held := findings_of(folder, f))
    }
    record = read_record(folder / RECORD_NAME).entries
    return StationMonth(
        station,
        month,
        title_of(files, station),
        minute,
        None if minute is None else read_minutes(minute.path),
        {} if minute is None else tables_of(minute.path),
        {f.part: f.manifest.accounting for f in own if f.manifest.product == "voltage"},
        found.get(month),
        tuple(
            e for e in record if e.period == month and e.product.startswith(("minute", "series"))
        ),
        tuple(f.path for f in files if f.manifest.product == "monthly" and not f.part),
        found,
    )


def check_month(month: str) -> None:
    """
    Check how a month is written.

    Parameters
    ----------
    month : str
        Such as ``2031-04``.

    Raises
    ------
    ArchiveError
        If it is not written so.
    """
    try:
        good = datetime.strptime(month, "%Y-%m").strftime("%Y-%m") == month
    except ValueError:
        good = False
    if not good:
        raise ArchiveError(f"MONTH: must be written like 2031-04 (got {month!r})")


def findings_of(folder: Path, file: Published) -> FindingsFile | None:
    """
    Findings that belong to a minute file.

    Parameters
    ----------
    folder : Path
        Folder of the station.
    file : Published
        A file of it.

    Returns
    -------
    findings : FindingsFile or None
        None for other products, where none was made, and where the file was altered, which
        `verify` reports.
    """
    if file.manifest.product != "minute":
        return None
    try:
        return read_findings(findings_path(folder, file.manifest.period))
    except ArchiveError:
        return None


def title_of(files: Sequence[Published], station: str) -> str:
    """
    Name of a station as its files say.

    Parameters
    ----------
    files : sequence of Published
        Its files.
    station : str
        Identifier, for a station without files.

    Returns
    -------
    title : str
        For people.
    """
    if not files:
        return station
    return station_title(read_file(files[-1].path, variables=()).attributes)


def tables_of(path: Path) -> dict[str, dict[str, Any]]:
    """
    History tables of a product file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    tables : dict
        Name of a table without its group → column → values.
    """
    return {name.rsplit("/", 1)[-1]: dict(table) for name, table in read_tables(path).items()}


def written(seconds: float) -> str:
    """
    A time as pages write it.

    Parameters
    ----------
    seconds : float
        Since 1970-01-01 UTC; NaN for none.

    Returns
    -------
    text : str
        To the minute, or a dash.
    """
    if not np.isfinite(seconds):
        return "–"
    return datetime.fromtimestamp(float(seconds), UTC).strftime("%Y-%m-%d %H:%M")
