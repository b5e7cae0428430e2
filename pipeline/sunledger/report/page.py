"""The monthly page of a station: one file of HTML with its pictures inside."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from sunledger.archive.atomic import replace_text
from sunledger.archive.catalog_pages import html_page
from sunledger.archive.free_text import html_text as esc
from sunledger.report import figures
from sunledger.report.facts_tables import (
    arrival_rows,
    change_rows,
    completeness_rows,
    event_rows,
    finding_rows,
    gap_table,
    mean_rows,
    watchdog_rows,
)
from sunledger.report.figures_of_findings import evidence_pictures, sun_path_map
from sunledger.report.means import monthly_means
from sunledger.report.month import StationMonth, station_month
from sunledger.report.parts import STYLE, picture, table
from sunledger.report.trends import lean_points, night_points, responsivity_points
from sunledger.vocabulary import QUANTITIES, RADIOMETRIC

BY_MINUTE = (
    (figures.day_by_minute, "{} over days and minutes; hatched: missing", True),
    (figures.grades_by_minute, "Grades of {}; the worse, the darker", True),
    (figures.flags_by_minute, "Number of tests that {} failed; the more, the darker", True),
    (figures.flags_over_time, "Which tests {} failed, over the month", False),
)
"""Figures of each quantity, their words, and whether they are to be looked at closely."""
OVER_MONTHS = (
    (lean_points, figures.lean_over_months, "Lean of the global pyranometer, 95 % intervals"),
    (
        responsivity_points,
        figures.responsivity_over_months,
        "Responsivity of global against diffuse and direct, 95 % intervals; dotted: limits",
    ),
    (night_points, figures.night_offsets_over_months, "Night offsets, 95 % intervals"),
)


def month_page(month: StationMonth) -> str:
    """
    The monthly page of a station.

    Parameters
    ----------
    month : StationMonth
        What the archive holds.

    Returns
    -------
    html : str
        One page that needs nothing else.
    """
    parts = [_head(month), *_record_parts(month)]
    if month.minutes is not None and month.minutes.sizes["time"]:
        parts += _pictures(month)
    parts += [_means(month), *_over_months(month), _changes(month)]
    return html_page(f"{month.title}: {month.month}", "".join(parts), STYLE)


def write_month_page(archive: Path, station: str, month: str, output: Path) -> Path:
    """
    Write the monthly page of a station.

    Parameters
    ----------
    archive : Path
        The archive.
    station : str
        Identifier.
    month : str
        Such as ``2031-04``.
    output : Path
        File to write.

    Returns
    -------
    path : Path
        The file.

    Raises
    ------
    ArchiveError
        If the archive has no such station, or the month is not written so.
    """
    replace_text(output, month_page(station_month(archive, station, month)).encode())
    return output


def _head(month: StationMonth) -> str:
    if month.minute is None:
        return "<p><strong>No minute file is held for this month.</strong></p>\n"
    m = month.minute.manifest
    said = f"Minute file version {m.version}, {m.status}; times are UTC."
    return f"<p>{esc(said)}</p>\n"


def _record_parts(month: StationMonth) -> Iterator[str]:
    yield "<h2>Findings, the costliest first</h2>\n"
    none = "No diagnosis was made of this month."
    if month.findings is not None:
        checks = ", ".join(sorted(month.findings.header.get("verdicts", {}))) or "none"
        none = f"The diagnosis found nothing above its limits. Checks that were made: {checks}."
    heads: tuple[str, ...] = (
        "Finding",
        "Where",
        "Size (95 % interval)",
        "Costs the mean",
        "What to do",
        "Open",
    )
    yield table("Findings with suggested actions", heads, finding_rows(month), none)
    yield from _evidence(month)
    yield "<h2>What arrived</h2>\n"
    heads = ("Logger", "Data lines", "Kept", "Repeated", "Conflicting", "Rejected")
    yield table("Lines by logger", heads, arrival_rows(month), "No voltage file is held.")
    heads, gaps = gap_table(month)
    none = "No gap in any quantity." if month.quantities else "Nothing arrived to have gaps."
    yield table("Gaps by cause, in intervals of the file", heads, gaps, none)
    heads = ("Quantity", "With a value", "Good", "Not evaluated", "Questionable", "Bad", "Missing")
    none = "Nothing was measured."
    yield table("Completeness and grades", heads, completeness_rows(month), none)
    yield "<h2>What the field log says</h2>\n"
    heads = ("Time (UTC)", "What", "Where", "As found", "As left", "Note")
    yield table("Events of the month", heads, event_rows(month), "No event is recorded.")


def _evidence(month: StationMonth) -> Iterator[str]:
    """What the findings rest on; and where shadows stood, whether or not one was found."""
    if month.minute is None or month.findings is None:
        return
    path = month.minute.path
    for figure, caption in evidence_pictures(month.findings.rows, path):
        yield picture(figure, caption)
    caption = "Sun-path map of shadows, with the horizon profile that they suggest"
    yield picture(sun_path_map(path), caption)


def _pictures(month: StationMonth) -> Iterator[str]:
    ds = month.minutes
    assert ds is not None
    yield "<h2>The month, minute by minute</h2>\n"
    yield picture(
        figures.events_over_time(month.tables, month.month),
        "Field events and checks over the month",
    )
    for q in (q for q in month.quantities if q in RADIOMETRIC):
        yield f"<h3>{esc(q)}: {esc(QUANTITIES[q].long_name)}</h3>\n"
        for draw, words, close in BY_MINUTE:
            yield picture(draw(ds, q), words.format(q), close)
    if figures.closure_minutes(ds) is not None:
        yield "<h2>Closure</h2>\n"
        yield picture(figures.closure_scatter(ds), "Global against diffuse plus direct")
        caption = "Closure residual over the azimuth of the sun: a wave is a lean or a clock error"
        yield picture(figures.closure_over_azimuth(ds), caption, close=True)
    yield "<h2>Clocks and nights</h2>\n"
    heads = ("What", "Value (95 % interval)", "What it means")
    none = "The watchdog had too few clear steady minutes this month."
    yield table(
        "Clock and level watchdog, from the closure of the month", heads, watchdog_rows(month), none
    )
    yield picture(figures.clock_residuals(ds), "Clock residual of each logger")
    yield picture(figures.night_offsets(ds), "Night offset of the shortwave quantities")


def _means(month: StationMonth) -> str:
    heads = ("Quantity", "Mean", "± (k = 2)", "Same month of other years", "Unit")
    none = "No monthly mean is held for this month."
    parts = ["<h2>Monthly means</h2>\n", table("Monthly means", heads, mean_rows(month), none)]
    held = [q for q in month.quantities if q in RADIOMETRIC] if month.monthly else []
    means = monthly_means(month.monthly) if held else {}
    parts += [
        picture(figures.monthly_history(means, q), f"Monthly means of {q}, years as lines")
        for q in held
    ]
    return "".join(parts)


def _over_months(month: StationMonth) -> Iterator[str]:
    yield "<h2>Lean, responsivity and night offset over the months</h2>\n"
    found = month.all_findings
    if not found:
        yield "<p>No diagnosis was made of this or an earlier month.</p>\n"
        return
    count = f"{len(found)} month{'s' if len(found) > 1 else ''} diagnosed"
    for points, draw, words in OVER_MONTHS:
        if points(found):
            yield picture(draw(found), words)
        else:
            yield f"<p>{esc(words)}: not enough evidence in {count}.</p>\n"
    for unit, words in (("degree", "Lean"), ("s", "Clock"), ("%", "Responsivity")):
        above = figures.finding_points(found, unit)
        if above:
            label = f"{words} [{unit}]"
            yield picture(figures.trend(above, label), f"{words}: findings above their limits")
        else:
            yield f"<p>{words}: no finding above its limit in {count}.</p>\n"


def _changes(month: StationMonth) -> str:
    heads = ("Version", "Issued", "Status", "What happened", "Cause", "Size of the change")
    none = "The month is open, or has no published version."
    rows = table("Versions of the minute file", heads, change_rows(month), none)
    return f"<h2>What changed since the previous version</h2>\n{rows}"
