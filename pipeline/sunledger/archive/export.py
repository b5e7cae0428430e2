"""Products as CSV, for people without NetCDF: units, grades, uncertainty, an explaining header."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl

from sunledger.archive.atomic import replace_file
from sunledger.archive.free_text import csv_cell, one_line
from sunledger.archive.listing import Published
from sunledger.archive.netcdf import read_file
from sunledger.archive.specification import FileSpec, VariableSpec
from sunledger.errors import ArchiveError

_LEFT_OUT = ("_tested", "_bounds")
_SEPARATORS = str.maketrans({",": " /", ";": " /", '"': "'"})
_STATION = (
    "title",
    "institution",
    "id",
    "geospatial_lat_min",
    "geospatial_lon_min",
    "geospatial_vertical_min",
    "license",
    "acknowledgement",
    "summary",
    "comment",
)


@dataclass(frozen=True)
class Window:
    """
    Part of the time to export.

    Parameters
    ----------
    start, end : str
        ISO dates or months; ``start`` inclusive, ``end`` inclusive to its last second. Empty for no
        limit.
    """

    start: str = ""
    end: str = ""

    def seconds(self) -> tuple[float, float]:
        """
        The same in seconds since 1970.

        Returns
        -------
        start, end : float
            Half-open. [s]

        Raises
        ------
        ArchiveError
            If a date is none.
        """
        try:
            start = -np.inf if not self.start else _second(np.datetime64(self.start))
            end = np.inf if not self.end else _second(np.datetime64(self.end) + 1)
        except ValueError:
            text = f"{self.start}..{self.end}"
            raise ArchiveError(f"dates must be YYYY-MM-DD, YYYY-MM or YYYY (got {text})") from None
        return start, end


def _second(time: np.datetime64) -> float:
    return float(time.astype("M8[s]").astype(np.int64))


def export_csv(files: list[Published], target: Path, window: Window | None = None) -> int:
    """
    Write files of one product one after the other as CSV.

    Parameters
    ----------
    files : list of Published
        Of one product and logger, by period.
    target : Path
        CSV file; replaced in one step.
    window : Window, optional
        Part of the time wanted; by default all.

    Returns
    -------
    rows : int
        Number of rows written.

    Raises
    ------
    ArchiveError
        If the files are of several products, nothing lies in the window, or the system refuses.

    Notes
    -----
    Lines that begin with ``#`` say what it is; then a line of column names with units in brackets;
    then one row per time. Missing values are empty, numbers have the digits that give the archived
    value again, words of bits are numbers whose meanings stand in the header. Column names are the
    archive's, so that header and NetCDF agree.
    """
    if len({f.recorded_product for f in files}) != 1:
        names = ", ".join(sorted({f.recorded_product for f in files})) or "none"
        raise ArchiveError(f"one product at a time can be exported (got {names})")
    limits = (window or Window()).seconds()
    specs = [read_file(f.path) for f in files]
    axis = "time" if "time" in {v.name for v in specs[0].variables} else _label(specs[0])
    frames = [_frame(spec, axis, limits) for spec in specs]
    rows = sum(frame.height for frame in frames)
    if not rows:
        raise ArchiveError(f"{files[0].manifest.station}: no time of the files lies in the window")
    table = pl.concat(frames, how="diagonal_relaxed")
    header = "".join(f"# {line}\n" for line in _header(files, specs, axis))
    replace_file(target, lambda partial: _write(partial, header, table))
    return rows


def _write(path: Path, header: str, table: pl.DataFrame) -> None:
    body = io.BytesIO()
    table.write_csv(body, null_value="", datetime_format="%Y-%m-%dT%H:%M:%SZ")
    path.write_bytes(header.encode() + body.getvalue())


def _label(spec: FileSpec) -> str:
    return next(v.name for v in spec.variables if v.name.startswith("logger_time"))


def _columns(spec: FileSpec, axis: str) -> list[VariableSpec]:
    along = spec[axis].dimensions
    return [
        v
        for v in spec.variables
        if v.dimensions == along and v.name != axis and not v.name.endswith(_LEFT_OUT)
    ]


def _frame(spec: FileSpec, axis: str, limits: tuple[float, float]) -> pl.DataFrame:
    time = spec[axis].data.astype(np.int64)
    rows = np.flatnonzero((time >= limits[0]) & (time < limits[1]))
    stamps = pl.Series(_heading(spec[axis], axis), time[rows]).cast(pl.Int64) * 1_000_000
    columns = [stamps.cast(pl.Datetime("us"))]
    for variable in _columns(spec, axis):
        values = variable.data[rows]
        if values.dtype.kind in "US":
            values = np.array([csv_cell(str(v)) for v in values], object)
        series = pl.Series(_heading(variable, axis), values)
        floats = variable.data.dtype.kind == "f"
        columns.append(series.fill_nan(None) if floats else series)
    return pl.DataFrame(columns)


def _heading(variable: VariableSpec, axis: str) -> str:
    if variable.name == axis:
        return "time [UTC]" if axis == "time" else f"{axis} [logger clock]"
    units = str(variable.attributes.get("units", ""))
    return variable.name if units in ("", "1") else f"{variable.name} [{units}]"


def _header(files: list[Published], specs: list[FileSpec], axis: str) -> Iterator[str]:
    newest = specs[-1]
    for name in _STATION:
        if name in newest.attributes:
            yield _line(name, newest.attributes[name])
    if axis == "time":
        yield _line("time", newest["time"].attributes.get("long_name", "start, in UTC"))
    else:
        yield _line(axis, "label as logged in the logger's own clock and zone")
    for file in files:
        m = file.manifest
        said = f"version {m.version} ({m.status}) SHA-256 {m.file_sha256}"
        yield _line("source", f"{file.path.name} {said}")
    for variable in _columns(newest, axis):
        yield _line(f"column {variable.name}", _meaning(variable))


def _meaning(variable: VariableSpec) -> str:
    a = variable.attributes
    words = [str(a.get("long_name", a.get("standard_name", "")))]
    meanings = str(a.get("flag_meanings", "")).split()
    codes = a.get("flag_masks", a.get("flag_values"))
    if meanings and codes is not None:
        pairs = zip(np.atleast_1d(np.asarray(codes)).tolist(), meanings, strict=False)
        kind = "sum of" if "flag_masks" in a else "one of"
        words.append(f"{kind} " + " ".join(f"{code}={word}" for code, word in pairs))
    if "coverage_factor" in a:
        words.append(f"expanded with k = {a['coverage_factor']}")
    return "; ".join(words)


def _line(name: str, value: object) -> str:
    # The line must stay one cell: behind a separator a spreadsheet would look for a formula again.
    return f"{name}: {one_line(str(value)).translate(_SEPARATORS)}"
