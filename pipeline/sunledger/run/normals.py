"""Climate normals of a station from the monthly files of its archive."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt

from sunledger.archive.listing import Published, chosen
from sunledger.archive.netcdf import read_file, write_file
from sunledger.archive.normals_file import NormalsNotes, Table, normals_spec, normals_text
from sunledger.archive.specification import FileSpec
from sunledger.errors import ArchiveError
from sunledger.stages.climate import Climate, Whole, climate, table_of
from sunledger.vocabulary import AIR, DERIVED, QUANTITIES

LEAST_SHARE = 0.8
"""Share of the years that a normal needs; 80 % is the rule of WMO-No. 1203 (from memory)."""
SUMS = ("sunshine_duration", "possible_sunshine_duration")
RATIOS = ("clearness_index", "diffuse_fraction", "relative_sunshine")


def _whole(name: str) -> Whole:
    if name in RATIOS:
        return "none"
    return "sum" if name in SUMS or name.endswith("_exposure") else "mean"


def _names(specs: list[FileSpec]) -> list[str]:
    """Quantities of any file, in the order of the vocabulary."""
    held = {v.name for spec in specs for v in spec.variables}
    measured = [*(q for q in QUANTITIES if q not in AIR), *DERIVED]
    wanted = [n for q in measured for n in (q, f"{q}_exposure")]
    return [n for n in (*wanted, *SUMS, *RATIOS, *AIR) if n in held]


def _values(spec: FileSpec, name: str) -> npt.NDArray[np.float64]:
    held = {v.name: v for v in spec.variables}
    if name in held:
        return held[name].data.astype(np.float64)
    return np.full(spec.dimensions["time"], np.nan)


def _usable(files: list[Published], archive: Path) -> list[Published]:
    """Monthly files in UTC that were not withdrawn."""
    kept = [f for f in files if not f.part and f.manifest.status != "withdrawn"]
    if not kept:
        raise ArchiveError(f"{archive}: has no monthly file in UTC that stands")
    return sorted(kept, key=lambda f: f.manifest.period)


def _check(first: str, last: str, least_share: float) -> None:
    for text in (first, last):
        if text and not (len(text) == 4 and text.isdigit()):
            raise ArchiveError(f"years are written like 1991 (got {text!r})")
    if not 0 < least_share <= 1:
        raise ArchiveError(f"the least share lies above 0 and up to 1 (got {least_share:g})")


def _years(files: list[Published], first: str, last: str) -> tuple[int, int]:
    start = int(first or files[0].manifest.period)
    end = int(last or files[-1].manifest.period)
    if end < start:
        raise ArchiveError(f"the last year lies before the first (got {start} to {end})")
    return start, end


def station_normals(
    archive: Path,
    station: str,
    first: str = "",
    last: str = "",
    least_share: float = LEAST_SHARE,
) -> tuple[FileSpec, str]:
    """
    Normals and anomalies of a station.

    Parameters
    ----------
    archive : Path
        The archive.
    station : str
        Identifier.
    first, last : str
        First and last year, inclusive; empty for the first and last monthly file.
    least_share : float
        Share of these years that a normal needs. [1]

    Returns
    -------
    spec : FileSpec
        To be written.
    text : str
        Tables by year and month.

    Raises
    ------
    ArchiveError
        If there are no monthly files, or the years or the share are none.
    """
    _check(first, last, least_share)
    files = _usable(chosen(archive, station, ("monthly",), first, last), archive)
    start, end = _years(files, first, last)
    specs = [read_file(f.path) for f in files]
    times = np.concatenate([spec["time"].data.astype(np.int64) for spec in specs])
    tables = []
    for name in _names(specs):
        values = np.concatenate([_values(spec, name) for spec in specs])
        found = climate(table_of(times, values, start, end), start, least_share, _whole(name))
        tables.append(_table(name, found, specs))
    sources = tuple(
        f"{f.path.name} version {f.manifest.version} ({f.manifest.status})"
        f" SHA-256 {f.manifest.file_sha256}"
        for f in files
    )
    notes = NormalsNotes(start, end, least_share, sources)
    return normals_spec(specs[-1], tables, notes), normals_text(specs[-1], tables, notes)


def _table(name: str, found: Climate, specs: list[FileSpec]) -> Table:
    holder = next(s for s in reversed(specs) if name in {v.name for v in s.variables})
    return Table(
        name,
        holder[name].attributes,
        _whole(name),
        found.values,
        found.normals.mean,
        found.normals.std,
        found.normals.years,
        found.normals.anomaly,
        found.annual,
        found.annual_normal,
    )


def write_normals(target: Path, spec: FileSpec) -> None:
    """
    Write normals to a file.

    Parameters
    ----------
    target : Path
        Where to; replaced only by a whole file.
    spec : FileSpec
        From :func:`station_normals`.

    Raises
    ------
    ArchiveError
        If the system refuses.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    write_file(target, spec)
