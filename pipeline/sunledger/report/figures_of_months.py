"""Figures over months: means, findings, and the events of one month."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from sunledger.archive.findings_file import FindingsFile
from sunledger.report.axes import new_axes, say_empty
from sunledger.report.facts_tables import events_of
from sunledger.report.means import Means, monthly_means
from sunledger.report.month import Tables, tables_of

DAY = 86400
MOST_LABELS = 12
"""Months named on an axis."""
Points = dict[str, dict[str, tuple[float, float, float]]]
"""Name of a line → month → value, lower and upper end of its interval."""


def monthly_history(source: Sequence[Path] | Means, quantity: str) -> Figure:
    """
    Monthly means with their uncertainty, one line a year over the months.

    Parameters
    ----------
    source : sequence of Path, or dict
        Monthly files of a station, one a year; or their means, as
        :func:`sunledger.report.means.monthly_means` gives them.
    quantity : str
        Such as ``ghi``.

    Returns
    -------
    figure : matplotlib.figure.Figure
        Bars are the expanded uncertainty; withheld months are gaps.
    """
    figure, axes = new_axes(9.0, 3.2)
    marks = ("o-", "s--", "^:", "d-.")
    means = source if isinstance(source, dict) else monthly_means(source)
    years: dict[str, list[tuple[int, float, float]]] = {}
    for month, (value, error) in sorted(means.get(quantity, {}).items()):
        years.setdefault(month[:4], []).append((int(month[5:]), value, error))
    for number, (year, rows) in enumerate(years.items()):
        month_numbers, values, errors = zip(*rows, strict=True)
        mark = marks[number % len(marks)]
        axes.errorbar(month_numbers, values, errors, fmt=mark, capsize=3, label=year)
    axes.set(xlabel="month", ylabel=f"{quantity} [W m-2]", xlim=(0.5, 12.5), xticks=range(1, 13))
    axes.legend(fontsize=8) if axes.containers else say_empty(axes, "no monthly mean")
    return figure


def events_over_time(source: Tables | Path, month: str) -> Figure:
    """
    Events and checks of the field log on the time axis of a month.

    Parameters
    ----------
    source : mapping or Path
        Minute file, or its history tables: name → column → values.
    month : str
        Such as ``2031-04``.

    Returns
    -------
    figure : matplotlib.figure.Figure
        One row a kind; a mark for each entry within the month.
    """
    start = int(np.datetime64(month, "s").astype(np.int64))
    days = int((np.datetime64(month) + 1).astype("datetime64[D]").astype(int)) - start // DAY
    rows: dict[str, list[float]] = {}
    tables = tables_of(source) if isinstance(source, Path) else source
    for time, kind, *_ in events_of(tables):
        if start <= time < start + days * DAY:
            rows.setdefault(kind, []).append((time - start) / DAY + 1)
    figure, axes = new_axes(9.0, 1.0 + 0.28 * max(len(rows), 1), left=1.6)
    for row, (kind, at) in enumerate(rows.items()):
        axes.plot(at, np.full(len(at), row), "d", color="0.1", markersize=6, gid=kind)
    axes.set_yticks(range(len(rows)), list(rows), fontsize=8)
    axes.set(xlabel="day of the month, UTC", xlim=(1, days + 1))
    axes.set_ylim(len(rows) - 0.5, -0.5) if rows else say_empty(axes, "no event")
    return figure


def finding_points(found: Mapping[str, FindingsFile], unit: str) -> Points:
    """
    Findings of one unit over the months, for :func:`trend`.

    Parameters
    ----------
    found : mapping of str to FindingsFile
        Month → its findings.
    unit : str
        Such as ``degree``, ``s`` or ``%``.

    Returns
    -------
    points : dict
        Finding and target → month → size, lower and upper end of its interval.
    """
    points: Points = {}
    for month, file in sorted(found.items()):
        for row in file.rows:
            if row["unit"] == unit:
                name = f"{row['name'].replace('_', ' ')}, {row['target']}"
                points.setdefault(name, {})[month] = (row["size"], row["lower"], row["upper"])
    return points


def trend(points: Mapping[str, Mapping[str, tuple[float, float, float]]], label: str) -> Figure:
    """
    Estimates of the diagnosis over the months.

    Parameters
    ----------
    points : mapping of str to mapping
        Name of a line → month such as ``2031-04`` → size, lower and upper end of its interval.
    label : str
        Of the vertical axis.

    Returns
    -------
    figure : matplotlib.figure.Figure
        Points with bars of 95 % confidence.
    """
    figure, axes = new_axes(9.0, 3.0)
    months = months_of(points)
    for mark, (name, line) in zip("os^dvP" * len(points), points.items(), strict=False):
        at = [months.index(m) for m in line]
        size, low, high = (np.array([v[i] for v in line.values()]) for i in range(3))
        axes.errorbar(at, size, [size - low, high - size], fmt=f"{mark}-", capsize=3, label=name)
    axes.axhline(0, color="0.6", linewidth=0.8)
    axes.set(ylabel=label)
    step = -(-len(months) // MOST_LABELS) or 1
    axes.set_xticks(range(0, len(months), step), months[::step], fontsize=8)
    axes.legend(fontsize=8) if points else say_empty(axes, "no estimate")
    return figure


def months_of(points: Mapping[str, Mapping[str, Any]]) -> list[str]:
    """
    Months on the axis of :func:`trend`.

    Parameters
    ----------
    points : mapping of str to mapping
        Name of a line → month → anything.

    Returns
    -------
    months : list of str
        From the first to the last without gaps; the place of a month in it is its place on the
        axis.
    """
    held = sorted({m for line in points.values() for m in line})
    if not held:
        return []
    first, last = (np.datetime64(m, "M") for m in (held[0], held[-1]))
    return [str(m) for m in np.arange(first, last + 1)]
