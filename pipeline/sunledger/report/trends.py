"""Lean, responsivity and night offsets over the months, from what each month's diagnosis said.

Every month whose checks had enough evidence gives a point, whether or not they found anything.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure

from sunledger.archive.findings_file import FindingsFile, read_findings
from sunledger.report.figures_of_months import Points, months_of, trend

Found = Mapping[str, FindingsFile] | Sequence[Path]
"""Month → its findings, or findings files."""

COMPONENTS = ("ghi", "dhi", "dni")


def lean_points(found: Found) -> Points:
    """
    East and north term of closure by month.

    Parameters
    ----------
    found : mapping of str to FindingsFile, or sequence of Path
        Month → its findings, or the findings files of the months.

    Returns
    -------
    points : dict
        Name of a line → month → value, lower and upper end of its 95 % interval. [degree]
    """
    names = {
        "east_degree": "toward east (or the clock)",
        "north_degree": "toward north (or responsivity)",
    }
    return _terms(found, names)


def _terms(found: Found, names: Mapping[str, str]) -> Points:
    points: Points = {}
    for month, verdict in _verdicts(found, "constant_terms"):
        for key, name in names.items():
            if key in verdict:
                points.setdefault(name, {})[month] = _interval(*verdict[key])
    return points


def responsivity_points(found: Found) -> Points:
    """
    Global over the sum of diffuse and direct by month, less 1.

    Parameters
    ----------
    found : mapping of str to FindingsFile, or sequence of Path
        Month → its findings, or the findings files of the months.

    Returns
    -------
    points : dict
        Name of a line → month → value, lower and upper end of its 95 % interval. [%]
    """
    points = _terms(found, {"responsivity_percent": "fit of closure over the whole month"})
    for month, _, ratio, half, _, _ in _chart(found):
        name = "ratio under clear sky, at the zenith angles of the chart"
        points.setdefault(name, {})[month] = _interval(100 * (ratio - 1), 100 * half)
    return points


def responsivity_limits(found: Found) -> dict[str, tuple[float, float]]:
    """
    Limits of the control chart by month.

    Parameters
    ----------
    found : mapping of str to FindingsFile, or sequence of Path
        Month → its findings, or the findings files of the months.

    Returns
    -------
    limits : dict
        Month → lower and upper limit, from certificates and class. [%]
    """
    return {m: (100 * (low - 1), 100 * (high - 1)) for m, _, _, _, low, high in _chart(found)}


def night_points(found: Found) -> Points:
    """
    Night offset of each shortwave component by month.

    Parameters
    ----------
    found : mapping of str to FindingsFile, or sequence of Path
        Month → its findings, or the findings files of the months.

    Returns
    -------
    points : dict
        Component → month → median over the nights with its 95 % interval. [W m-2]
    """
    points: Points = {}
    for month, verdict in _verdicts(found, "nights"):
        for name in COMPONENTS:
            offset = verdict.get(name, {}).get("offset")
            if offset is not None:
                points.setdefault(name, {})[month] = _interval(*offset)
    return points


def by_month(found: Found) -> Mapping[str, FindingsFile]:
    """
    Findings by month.

    Parameters
    ----------
    found : mapping of str to FindingsFile, or sequence of Path
        Month → its findings, or the findings files of the months.

    Returns
    -------
    months : mapping of str to FindingsFile
        Month → its findings.

    Raises
    ------
    ArchiveError
        If a file cannot be read or was altered.
    """
    if isinstance(found, Mapping):
        return found
    files = [read_findings(path) for path in found]
    return {str(file.header["period"]): file for file in files}


def _verdicts(found: Found, check: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
    for month, file in sorted(by_month(found).items()):
        verdict = file.header.get("verdicts", {}).get(check, {})
        yield month, verdict


def _chart(found: Found) -> list[tuple[str, float, float, float, float, float]]:
    """Rows of the newest chart: month, zenith angle, ratio, half width, limits."""
    for _, verdict in reversed(list(_verdicts(found, "responsivity"))):
        if verdict.get("chart"):
            return [(row[0], row[1], *row[-4:]) for row in verdict["chart"]]
    return []


def _interval(value: float, half_width: float) -> tuple[float, float, float]:
    return value, value - half_width, value + half_width


def lean_over_months(found: Found) -> Figure:
    """
    Lean of the global pyranometer over the months.

    Parameters
    ----------
    found : mapping of str to FindingsFile, or sequence of Path
        Month → its findings, or the findings files of the months.

    Returns
    -------
    figure : matplotlib.figure.Figure
        East and north term with 95 % intervals. [degree]
    """
    return trend(lean_points(found), "lean [degree]")


def responsivity_over_months(found: Found) -> Figure:
    """
    Responsivity of global against diffuse and direct over the months.

    Parameters
    ----------
    found : mapping of str to FindingsFile, or sequence of Path
        Month → its findings, or the findings files of the months.

    Returns
    -------
    figure : matplotlib.figure.Figure
        With 95 % intervals, and the limits of the control chart as short lines. [%]
    """
    points = responsivity_points(found)
    figure = trend(points, "global over sum, less 1 [%]")
    (axes,), months = figure.axes, months_of(points)
    for month, limits in responsivity_limits(found).items():
        at = months.index(month)
        axes.hlines(limits, at - 0.3, at + 0.3, colors="0.1", linestyles=":", gid="limit")
    return figure


def night_offsets_over_months(found: Found) -> Figure:
    """
    Night offsets of the shortwave instruments over the months.

    Parameters
    ----------
    found : mapping of str to FindingsFile, or sequence of Path
        Month → its findings, or the findings files of the months.

    Returns
    -------
    figure : matplotlib.figure.Figure
        One line a component, with 95 % intervals. [W m-2]
    """
    return trend(night_points(found), "night offset [W m-2]")
