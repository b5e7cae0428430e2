"""The monthly page of a station: one file of HTML with its pictures inside."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from matplotlib.figure import Figure

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
    gap_rows,
    mean_rows,
)
from sunledger.report.month import StationMonth, station_month
from sunledger.vocabulary import RADIOMETRIC

DPI = 80
STYLE = """
figure{margin:1rem 0;break-inside:avoid}figcaption{color:var(--soft)}
.view{overflow:auto;max-height:90vh;border:1px solid var(--line);background:#fff}
.view img{display:block;width:100%;max-width:60rem;height:auto}
figure:has(.zoom:checked) img{width:250%;max-width:none}
@media(prefers-color-scheme:dark){.view img{filter:brightness(.9)}}
@media print{body{max-width:none;font-size:10pt}.zoom,label,.skip{display:none}
.view{overflow:visible;max-height:none}h2{break-after:avoid}}
"""
Rows = Iterable[Sequence[object]]


def table(caption: str, heads: Sequence[str], rows: Rows, none: str) -> str:
    """
    A table that can be scrolled sideways on a narrow screen.

    Parameters
    ----------
    caption : str
        What it shows.
    heads : sequence of str
        Columns.
    rows : iterable of sequence
        Cells; the first heads its row. All are escaped.
    none : str
        What to say where there is no row.

    Returns
    -------
    html : str
        The table, or a paragraph.
    """
    held = list(rows)
    if not held:
        return f"<p>{esc(none)}</p>\n"
    head = "".join(f'<th scope="col">{esc(h)}</th>' for h in heads)
    body = "".join(
        f'<tr><th scope="row">{esc(row[0])}</th>'
        f"{''.join(f'<td>{esc(cell)}</td>' for cell in row[1:])}</tr>\n"
        for row in held
    )
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{esc(caption)}"><table>'
        f"<caption>{esc(caption)}</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{body}</tbody></table></div>\n"
    )


def picture(figure: Figure, caption: str) -> str:
    """
    A figure inside the page, with a box to tick for a larger view.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure.
    caption : str
        What it shows, also for those who do not see it.

    Returns
    -------
    html : str
        The picture as PNG within the text.
    """
    held = io.BytesIO()
    figure.savefig(held, format="png", dpi=DPI, metadata={"Software": None})
    data = base64.b64encode(held.getvalue()).decode("ascii")
    return (
        f'<figure><figcaption>{esc(caption)} <label><input type="checkbox" class="zoom">'
        ' larger</label></figcaption><div class="view" tabindex="0" role="region"'
        f' aria-label="Picture: {esc(caption)}"><img alt="{esc(caption)}"'
        f' src="data:image/png;base64,{data}"></div></figure>\n'
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
    yield "<h2>What arrived</h2>\n"
    heads = ("Logger", "Data lines", "Kept", "Repeated", "Conflicting", "Rejected")
    yield table("Lines by logger", heads, arrival_rows(month), "No voltage file is held.")
    heads = ("Quantity", "Cause", "Minutes", "What the cause means")
    yield table("Gaps by cause", heads, gap_rows(month), "No gap in any quantity.")
    heads = ("Quantity", "With a value", "Good", "Not evaluated", "Questionable", "Bad", "Missing")
    none = "Nothing was measured."
    yield table("Completeness and grades", heads, completeness_rows(month), none)
    yield "<h2>What the field log says</h2>\n"
    heads = ("Time (UTC)", "What", "Where", "As found", "As left", "Note")
    yield table("Events of the month", heads, event_rows(month), "No event is recorded.")


def _pictures(month: StationMonth) -> Iterator[str]:
    ds = month.minutes
    assert ds is not None
    yield "<h2>The month, minute by minute</h2>\n"
    yield picture(
        figures.events_over_time(month.tables, month.month),
        "Field events and checks over the month",
    )
    for q in (q for q in month.quantities if q in RADIOMETRIC):
        yield f"<h3>{esc(q)}</h3>\n"
        yield picture(figures.day_by_minute(ds, q), f"{q} over days and minutes; hatched: missing")
        yield picture(figures.grades_by_minute(ds, q), f"Grades of {q}; the worse, the darker")
        yield picture(figures.flags_over_time(ds, q), f"Tests that {q} failed, over the month")
    if figures.closure_minutes(ds) is not None:
        yield "<h2>Closure</h2>\n"
        yield picture(figures.closure_scatter(ds), "Global against diffuse plus direct")
        caption = "Closure residual over the azimuth of the sun: a wave is a lean or a clock error"
        yield picture(figures.closure_over_azimuth(ds), caption)
    yield "<h2>Clocks and nights</h2>\n"
    yield picture(figures.clock_residuals(ds), "Clock residual of each logger")
    yield picture(figures.night_offsets(ds), "Night offset of the shortwave quantities")


def _means(month: StationMonth) -> str:
    heads = ("Quantity", "Mean", "± (k = 2)", "Same month of other years", "Unit")
    none = "No monthly mean is held for this month."
    parts = ["<h2>Monthly means</h2>\n", table("Monthly means", heads, mean_rows(month), none)]
    held = [q for q in month.quantities if q in RADIOMETRIC] if month.monthly else []
    parts += [
        picture(figures.monthly_history(month.monthly, q), f"Monthly means of {q}, years as lines")
        for q in held
    ]
    return "".join(parts)


def _over_months(month: StationMonth) -> Iterator[str]:
    yield "<h2>Lean, clock and responsivity over the months</h2>\n"
    if not month.all_findings:
        yield "<p>No diagnosis was made of this or an earlier month.</p>\n"
        return
    for unit, words in (("degree", "Lean"), ("s", "Clock"), ("%", "Responsivity")):
        points = figures.finding_points(month.all_findings, unit)
        if points:
            yield picture(figures.trend(points, f"{words} [{unit}]"), f"{words}: findings by month")
        else:
            yield f"<p>{words}: no finding in {len(month.all_findings)} months diagnosed.</p>\n"


def _changes(month: StationMonth) -> str:
    heads = ("Version", "Issued", "Status", "What happened", "Cause", "Size of the change")
    none = "The month is open, or has no published version."
    rows = table("Versions of the minute file", heads, change_rows(month), none)
    return f"<h2>What changed since the previous version</h2>\n{rows}"
