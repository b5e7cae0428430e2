"""How much two files differ: per series the size of the change and the share of samples."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from sunledger.archive.content import content_digest, without_origin
from sunledger.archive.listing import archive_files
from sunledger.archive.netcdf import read_file
from sunledger.archive.specification import Array, FileSpec, GroupSpec, VariableSpec
from sunledger.errors import ArchiveError

STATISTICS = ("_min", "_max", "_std", "_coverage_fraction")
"""Endings of series whose change the change record leaves out; a comparison shows them."""
_SAME_LABEL = 1 << 20  # more readings than can share one label of a month


@dataclass(frozen=True)
class Difference:
    """
    What became of one series.

    Parameters
    ----------
    name : str
        Name of the variable.
    units : str
        Unit; empty for words of bits, grades and counts without one.
    samples : int
        Labels that both files have.
    share_changed : float
        Share of these with another value, or with a value on one side only. [1]
    mean : float or None
        Mean of second less first where both have a value; None for words of bits and grades, and
        where no label has both.
    percentile_95 : float or None
        95th percentile of the absolute difference, over the same labels.
    largest : float or None
        Largest absolute difference.
    lost, gained : int
        Labels with a value in the first file only, and in the second only.
    """

    name: str
    units: str
    samples: int
    share_changed: float
    mean: float | None = None
    percentile_95: float | None = None
    largest: float | None = None
    lost: int = 0
    gained: int = 0


@dataclass(frozen=True)
class Comparison:
    """
    How two files differ.

    Parameters
    ----------
    name : str
        Name of the file.
    differences : tuple of Difference
        One a series that both files have, changed or not.
    only_first, only_second : tuple of str
        Series that the other file lacks.
    labels_only_first, labels_only_second : int
        Number of labels that the other file lacks.
    tables : tuple of str
        Tables of the history that differ.
    attributes : tuple of str
        Global attributes that differ.
    missing_in : str
        ``first`` or ``second`` where the whole file is missing there.
    """

    name: str
    differences: tuple[Difference, ...] = ()
    only_first: tuple[str, ...] = ()
    only_second: tuple[str, ...] = ()
    labels_only_first: int = 0
    labels_only_second: int = 0
    tables: tuple[str, ...] = ()
    attributes: tuple[str, ...] = ()
    missing_in: str = ""

    @property
    def same(self) -> bool:
        """
        Whether the files say the same, apart from dates and versions.

        Returns
        -------
        same : bool
            False as well when one is missing.
        """
        odd = (self.missing_in, self.only_first, self.only_second, self.tables)
        labels = self.labels_only_first + self.labels_only_second
        return not (any(odd) or labels or any(d.share_changed for d in self.differences))


def compare_specs(first: FileSpec, second: FileSpec, name: str = "") -> Comparison:
    """
    How two files differ.

    Parameters
    ----------
    first, second : FileSpec
        Of the same product; the sign of a change is second less first.
    name : str
        Name for both.

    Returns
    -------
    comparison : Comparison
        Samples are paired by time, in voltage files by label and by how often it came before.

    Raises
    ------
    ArchiveError
        If the files have no common axis of time.
    """
    axis = _axis(first)
    if axis != _axis(second):
        raise ArchiveError(f"{name}: not the same product (axes {axis} and {_axis(second)})")
    keys = [_keys(spec[axis].data) for spec in (first, second)]
    _, one, two = np.intersect1d(keys[0], keys[1], assume_unique=True, return_indices=True)
    series = [_series(spec, axis) for spec in (first, second)]
    both = [n for n in series[0] if n in series[1]]
    return Comparison(
        name,
        tuple(_difference(series[0][n], series[1][n], one, two) for n in both),
        tuple(n for n in series[0] if n not in series[1]),
        tuple(n for n in series[1] if n not in series[0]),
        keys[0].size - one.size,
        keys[1].size - two.size,
        _tables_that_differ(first, second),
        _attributes_that_differ(first, second),
    )


def _axis(spec: FileSpec) -> str:
    names = [v.name for v in spec.variables if v.name == "time" or v.name.startswith("logger_time")]
    if not names:
        raise ArchiveError("no variable of time; is this a file of the archive?")
    return names[0]


def _keys(labels: Array) -> npt.NDArray[np.int64]:
    whole = labels.astype(np.int64)
    order = np.argsort(whole, kind="stable")
    new = np.concatenate([[True], np.diff(whole[order]) != 0]) if whole.size else np.zeros(0, bool)
    first = np.maximum.accumulate(np.where(new, np.arange(whole.size), 0))
    rank = np.empty(whole.size, np.int64)
    rank[order] = np.arange(whole.size) - first
    return whole * _SAME_LABEL + rank


def _series(spec: FileSpec, axis: str) -> dict[str, VariableSpec]:
    along = spec[axis].dimensions
    # which raw file a line stood in is not part of what a file says
    kept = without_origin(spec).variables
    return {v.name: v for v in kept if v.dimensions == along and v.name != axis}


def _difference(first: VariableSpec, second: VariableSpec, rows: Array, other: Array) -> Difference:
    units = str(second.attributes.get("units", ""))
    one, two = first.data[rows], second.data[other]
    if one.dtype.kind != "f" or two.dtype.kind != "f":
        share = float(np.mean(one != two)) if one.size else 0.0
        return Difference(second.name, units, int(one.size), share)
    one, two = one.astype(np.float64), two.astype(np.float64)
    present = np.isfinite(one), np.isfinite(two)
    pairs = present[0] & present[1]
    moved = two[pairs] - one[pairs]
    lost = int(np.count_nonzero(present[0] & ~present[1]))
    gained = int(np.count_nonzero(present[1] & ~present[0]))
    changed = int(np.count_nonzero(moved)) + lost + gained
    share = changed / one.size if one.size else 0.0
    counted = Difference(second.name, units, int(one.size), share, lost=lost, gained=gained)
    if not moved.size:
        return counted
    size = np.abs(moved)
    return replace(
        counted,
        mean=float(moved.mean()),
        percentile_95=float(np.percentile(size, 95)),
        largest=float(size.max()),
    )


def _tables_that_differ(first: FileSpec, second: FileSpec) -> tuple[str, ...]:
    tables = [dict(_tables("", without_origin(s).groups)) for s in (first, second)]
    names = sorted(tables[0].keys() | tables[1].keys())
    return tuple(n for n in names if tables[0].get(n) != tables[1].get(n))


def _tables(above: str, groups: tuple[GroupSpec, ...]) -> Iterator[tuple[str, str]]:
    for group in groups:
        if group.variables:
            alone = FileSpec(group.attributes, {}, group.variables)
            yield f"{above}{group.name}", content_digest(alone)
        yield from _tables(f"{above}{group.name}/", group.groups)


def _attributes_that_differ(first: FileSpec, second: FileSpec) -> tuple[str, ...]:
    def said(spec: FileSpec, name: str) -> Any:
        return np.asarray(spec.attributes.get(name, "")).tolist()

    names = sorted({*first.attributes, *second.attributes})
    return tuple(n for n in names if said(first, n) != said(second, n))


def size_of_change(first: FileSpec, second: FileSpec) -> dict[str, dict[str, float]]:
    """
    Size of a revision, for the change record.

    Parameters
    ----------
    first, second : FileSpec
        The version before and the new one.

    Returns
    -------
    sizes : dict of dict
        Series that changed, without minima, maxima, deviations and coverages → ``share_changed``,
        ``lost``, ``gained``, and where numbers can be compared ``mean``, ``percentile_95`` and
        ``largest``, in the unit of the series.
    """
    sizes: dict[str, dict[str, float]] = {}
    for item in compare_specs(first, second).differences:
        if item.share_changed and not item.name.endswith(STATISTICS):
            names = ("share_changed", "lost", "gained", "mean", "percentile_95", "largest")
            values = {n: getattr(item, n) for n in names}
            sizes[item.name] = {n: v for n, v in values.items() if v is not None}
    return sizes


def compare(first: Path, second: Path) -> tuple[Comparison, ...]:
    """
    How two files, or two archives, differ.

    Parameters
    ----------
    first, second : Path
        Two files, or two folders of archives or stations.

    Returns
    -------
    comparisons : tuple of Comparison
        One a file; files of archives are paired by their place in them.

    Raises
    ------
    ArchiveError
        If one is missing or cannot be read, or a file is compared with a folder.
    """
    first, second = Path(first), Path(second)
    for path in (first, second):
        if not path.exists():
            raise ArchiveError(f"{path}: no such file or folder")
    if first.is_file() and second.is_file():
        return (compare_specs(read_file(first), read_file(second), second.name),)
    if first.is_file() or second.is_file():
        raise ArchiveError(f"{first}: can be compared with another of its kind only (got {second})")
    files = [{str(p.relative_to(f)): p for p in archive_files(f)} for f in (first, second)]
    return tuple(_pair(n, files) for n in sorted(files[0].keys() | files[1].keys()))


def _pair(name: str, files: list[dict[str, Path]]) -> Comparison:
    if name not in files[0] or name not in files[1]:
        return Comparison(name, missing_in="first" if name not in files[0] else "second")
    return compare_specs(read_file(files[0][name]), read_file(files[1][name]), name)


def comparison_lines(comparison: Comparison) -> list[str]:
    """
    A comparison in words.

    Parameters
    ----------
    comparison : Comparison
        Result of `compare`.

    Returns
    -------
    lines : list of str
        Name, what is on one side only, then a line per series that changed.
    """
    c = comparison
    if c.missing_in:
        return [f"{c.name}: missing in the {c.missing_in}"]
    if c.same:
        return [f"{c.name}: same values"]
    lines = [f"{c.name}:"]
    lines += [f"  only in the first: {n}" for n in c.only_first]
    lines += [f"  only in the second: {n}" for n in c.only_second]
    labels = {"first": c.labels_only_first, "second": c.labels_only_second}
    lines += [f"  {n} times only in the {side}" for side, n in labels.items() if n]
    lines += [f"  table {name} differs" for name in c.tables]
    return lines + [f"  {_words(d)}" for d in c.differences if d.share_changed]


def _words(item: Difference) -> str:
    words = [f"{item.name}: {item.share_changed:.3%} of {item.samples} samples changed"]
    if item.mean is not None:
        words.append(
            f"mean {item.mean:+.4g}, 95th percentile {item.percentile_95:.4g},"
            f" largest {item.largest:.4g} {item.units}"
        )
    words += [f"{item.lost} values lost"] * bool(item.lost)
    words += [f"{item.gained} values gained"] * bool(item.gained)
    return "; ".join(words)
