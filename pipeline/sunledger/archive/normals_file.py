"""Climate normals as a CF file with climatological time, and as tables in text."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from sunledger.archive.conventions import EPOCH, series_attributes
from sunledger.archive.specification import Array, Attribute, FileSpec, VariableSpec

Floats = npt.NDArray[np.float64]

_COPIED = ("latitude", "longitude", "altitude", "station_name", "crs")
_OF_ONE_FILE = (
    "product_version",
    "product_status",
    "processing_configuration_sha256",
    "source_files_sha256",
)
_SHOWN = {"s": (3600.0, "h"), "J m-2": (3.6e6, "kWh m-2")}
"""Unit of the file → divisor and unit of the text."""
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class Table:
    """
    One quantity over years.

    Parameters
    ----------
    name : str
        Of the variable in the monthly files.
    attributes : dict
        Of that variable.
    whole : str
        How a year follows from its months: ``mean``, ``sum`` or ``none``.
    values, anomaly : numpy.ndarray, shape (year, 12)
        Monthly values, and these less the normal; NaN missing.
    normal, std : numpy.ndarray, shape (12,)
        Mean over the years, and deviation between them; NaN where too few have a value.
    years : numpy.ndarray of int64, shape (12,)
        Years with a value.
    annual : numpy.ndarray, shape (year,)
        Of whole years; NaN missing.
    annual_normal : float
        From the normals of the months; NaN missing.
    """

    name: str
    attributes: Mapping[str, Attribute]
    whole: Literal["mean", "sum", "none"]
    values: Floats
    normal: Floats
    std: Floats
    years: npt.NDArray[np.int64]
    anomaly: Floats
    annual: Floats
    annual_normal: float

    @property
    def units(self) -> str:
        """
        Unit of the values.

        Returns
        -------
        units : str
            As in the monthly files.
        """
        return str(self.attributes.get("units", "1"))

    @property
    def words(self) -> str:
        """
        What the monthly values are.

        Returns
        -------
        words : str
            Their long name.
        """
        return str(self.attributes.get("long_name", self.name))


@dataclass(frozen=True)
class NormalsNotes:
    """
    What normals were made of.

    Parameters
    ----------
    first_year, last_year : int
        Inclusive.
    least_share : float
        Share of the years that a normal needs. [1]
    sources : tuple of str
        Monthly files with version and digest.
    """

    first_year: int
    last_year: int
    least_share: float
    sources: tuple[str, ...]

    @property
    def rule(self) -> str:
        """
        When a normal stands.

        Returns
        -------
        rule : str
            In words.
        """
        number = self.last_year - self.first_year + 1
        least = max(1, int(np.ceil(self.least_share * number - 1e-9)))
        return f"a normal needs a value in at least {least} of {number} years"


def _edges(first_year: int, last_year: int) -> npt.NDArray[np.int64]:
    """Starts of all months, and the end of the last. [s]"""
    months = np.arange((first_year - 1970) * 12, (last_year + 1 - 1970) * 12 + 1)
    return np.asarray(months.astype("M8[M]").astype("M8[s]").astype(np.int64))


def _axes(notes: NormalsNotes) -> tuple[VariableSpec, ...]:
    """Months as climatological time, and years."""
    edges = _edges(notes.first_year, notes.last_year)
    bounds = np.stack([edges[:12], edges[-12:]], axis=-1).astype(np.float64)
    of_time: dict[str, Attribute] = {
        "standard_name": "time",
        "long_name": "start of the month in the first year (UTC)",
        "axis": "T",
        "units": EPOCH,
        "calendar": "standard",
        "climatology": "climatology_bounds",
    }
    of_bounds: dict[str, Attribute] = {
        "long_name": "start of the month in the first year, and its end in the last",
        "units": EPOCH,
        "calendar": "standard",
    }
    years = np.arange(notes.first_year, notes.last_year + 1, dtype=np.int32)
    return (
        VariableSpec("time", ("time",), edges[:12].astype(np.float64), of_time),
        VariableSpec("climatology_bounds", ("time", "bound"), bounds, of_bounds),
        VariableSpec("year", ("year",), years, {"long_name": "calendar year", "units": "1"}, "i4"),
    )


def _variable(name: str, values: Array, said: dict[str, Attribute]) -> VariableSpec:
    """Along months, or along years and months."""
    dimensions = ("year", "time") if values.ndim == 2 else ("time",)
    if values.dtype.kind == "i":
        attributes = series_attributes(said, "qualityInformation")
        return VariableSpec(name, dimensions, values, attributes, "i4")
    attributes = series_attributes(said, "physicalMeasurement")
    return VariableSpec(name, dimensions, values, attributes, "f4", np.nan)


def _variables(table: Table, notes: NormalsNotes) -> Iterator[VariableSpec]:
    name, years = table.name, f"{notes.first_year} to {notes.last_year}"
    held = table.attributes
    unit = {k: held[k] for k in ("units", "units_metadata") if k in held}
    standard = {k: held[k] for k in ("standard_name",) if k in held}
    within = "sum" if table.whole == "sum" else "mean"
    over = f"time: {within} within years time: {{}} over years"
    what = f"normal of {years}: {table.words}"
    said: dict[str, Attribute] = {
        "long_name": what,
        "cell_methods": over.format("mean"),
        "ancillary_variables": f"{name}_normal_years {name}_normal_std",
        "comment": f"{notes.rule}; each year weighs the same",
    }
    yield _variable(f"{name}_normal", table.normal, {**standard, **unit, **said})
    said = {
        "long_name": f"standard deviation between the years of {name}",
        "cell_methods": over.format("standard_deviation"),
    }
    yield _variable(f"{name}_normal_std", table.std, {**_difference(unit), **said})
    said = {"units": "1", "long_name": f"number of years with a value of {name}"}
    yield _variable(f"{name}_normal_years", table.years, said)
    yield _variable(name, table.values, {**standard, **unit, "long_name": table.words})
    said = {"long_name": f"departure from the {what}"}
    yield _variable(f"{name}_anomaly", table.anomaly, {**_difference(unit), **said})


def _difference(unit: dict[str, Attribute]) -> dict[str, Attribute]:
    """Of temperatures, kelvins and no point on the scale."""
    if "units_metadata" not in unit:
        return unit
    return unit | {"units_metadata": "temperature: difference"}


def normals_spec(newest: FileSpec, tables: Sequence[Table], notes: NormalsNotes) -> FileSpec:
    """
    Specification of a file of normals.

    Parameters
    ----------
    newest : FileSpec
        The last monthly file, for what it says of station, people and licence.
    tables : sequence of Table
        Quantities.
    notes : NormalsNotes
        What they were made of.

    Returns
    -------
    spec : FileSpec
        Normals along climatological time, monthly values and anomalies by year and month.
    """
    edges = _edges(notes.first_year, notes.last_year)
    years = f"{notes.first_year}-{notes.last_year}"
    about = {k: v for k, v in newest.attributes.items() if k not in _OF_ONE_FILE}
    about |= {
        "title": str(about["title"]).replace("monthly data", f"climate normals {years}", 1),
        "id": f"{str(about['id']).partition('-')[0]}-normals-{years}",
        "processing_level": "normals and anomalies of monthly means and totals",
        "comment": f"Normals and anomalies of {years}; {notes.rule}. Dates of issue are those of"
        " the newest monthly file.",
        "time_coverage_start": _iso(edges[0]),
        "time_coverage_end": _iso(edges[-1]),
        "time_coverage_duration": f"P{notes.last_year - notes.first_year + 1}Y",
        "product_version": "that of the monthly files",
        "monthly_files": "\n".join(notes.sources),
    }
    copied = [v for v in newest.variables if v.name in _COPIED]
    variables = [v for table in tables for v in _variables(table, notes)]
    return FileSpec(
        about,
        {"year": edges.size // 12, "time": 12, "bound": 2},
        (*_axes(notes), *copied, *variables),
    )


def _iso(seconds: np.int64) -> str:
    return f"{np.datetime64(int(seconds), 's')}Z"


def normals_text(newest: FileSpec, tables: Sequence[Table], notes: NormalsNotes) -> str:
    """
    Tables by year and month.

    Parameters
    ----------
    newest : FileSpec
        The last monthly file.
    tables : sequence of Table
        Quantities.
    notes : NormalsNotes
        What they were made of.

    Returns
    -------
    text : str
        A dash stands where a value is withheld or missing.
    """
    years = f"{notes.first_year}-{notes.last_year}"
    title = str(newest.attributes["title"]).replace("monthly data", f"climate normals {years}", 1)
    head = [title, f"Rule: {notes.rule}. A dash: withheld or missing.", ""]
    body = [line for table in tables for line in _lines(table, notes.first_year)]
    return "\n".join([*head, *body, "Made of", *(f"  {s}" for s in notes.sources), ""])


def _lines(table: Table, first_year: int) -> Iterator[str]:
    divisor, unit = _SHOWN.get(table.units, (1.0, table.units))
    yield f"{table.name} [{unit}]: {table.words}"
    label = {"sum": "Sum", "mean": "Year", "none": ""}[table.whole]
    yield "        " + "".join(f"{m:>9}" for m in (*_MONTHS, label))
    digits = 3 if np.nanmax(np.abs(table.values), initial=0.0) / divisor < 10.0 else 1

    def row(name: str, values: Iterator[float] | Sequence[float]) -> str:
        cells = (_cell(v / divisor, digits) for v in values)
        return f"{name:<8}" + "".join(f"{c:>9}" for c in cells)

    for number, months in enumerate(table.values):
        yield row(str(first_year + number), [*months, table.annual[number]])
    yield row("normal", [*table.normal, table.annual_normal])
    yield row("std", table.std.tolist())
    yield f"{'years':<8}" + "".join(f"{n:>9d}" for n in table.years)
    yield f"{'lowest':<8}" + "".join(f"{y:>9}" for y in _extreme(table, first_year, -1))
    yield f"{'highest':<8}" + "".join(f"{y:>9}" for y in _extreme(table, first_year, 1))
    yield ""


def _cell(value: float, digits: int) -> str:
    return f"{value:.{digits}f}" if np.isfinite(value) else "-"


def _extreme(table: Table, first_year: int, sign: int) -> Iterator[str]:
    """The year of the lowest or highest value of each month."""
    for column in table.values.T * sign:
        known = np.isfinite(column)
        yield str(first_year + int(np.nanargmax(column))) if known.any() else "-"
