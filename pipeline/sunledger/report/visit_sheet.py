"""The sheet for a site visit: a printable form, filled in with what the record says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sunledger.archive.catalog_pages import html_page
from sunledger.archive.free_text import html_text as esc
from sunledger.config.loading import StationConfig
from sunledger.config.models.checklist import Checklist, Item, Place
from sunledger.config.models.checks import CheckSettings
from sunledger.config.visit_entries import written
from sunledger.report.facts_tables import finding_words
from sunledger.report.parts import cell, form, keep, table
from sunledger.report.visit_facts import (
    Standing,
    due,
    entry_words,
    last_of,
    newest_entry,
    standing_now,
)

CAUTIONS = (
    "A tracker moves without warning and does not stop for a hand or a cable: switch its drive off"
    " before reaching into it, and keep sleeves, hair and straps away.",
    "Heights: use the protection against falls that the site's rules ask for; stay off wet, iced"
    " or stormy platforms; tell somebody when you go up and when you are down.",
    "Mains: boxes and cables with mains in them are for licensed electricians.",
    "Lightning: come down when thunder is heard or a storm is near, and wait as long as the local"
    " rule says.",
    "Never look at the sun, with the eye, through a sight or along a pyrheliometer: align by the"
    " spot of light and by the shadow.",
    "Local rules and licensed trades decide, also where this sheet says otherwise.",
)
"""Printed first on every sheet, whatever the station's checklist says."""
_TILT = f"°&nbsp;toward{6 * '&nbsp;'}°"
UNITS = {
    "level_check": _TILT,
    "level_again": _TILT,
    "clock_check": "s",
    "thermal_sensor_check": "K",
}
"""Units in the cells to be filled in, by kind of entry."""
PRACTICE = "common practice"
STYLE = """
.caution{border:3px double var(--ink);padding:.4rem 1rem;margin:1rem 0}
.caution ul{margin:.3rem 0}.source{display:block;color:var(--soft);font-size:.85em}
table.form{margin-bottom:1rem}table.form td,table.form th{border:1px solid var(--line);
vertical-align:top}td.keep{white-space:nowrap}
table.form td.blank{min-width:8rem;height:3.2rem;text-align:right;vertical-align:bottom;
color:var(--soft)}table.form td.mark{font-size:1.4rem;text-align:center}
table.form th[scope=rowgroup]{font-weight:400;min-width:14rem}
@page{size:A4 landscape;margin:12mm}
@media print{body{max-width:none;padding:0;font-size:9.5pt}.skip{display:none}
table.form td.blank{height:2.4rem}
.wide{overflow:visible}h2,h3,h2+p{break-after:avoid}tr,.caution{break-inside:avoid}
table.form td,table.form th{border-color:#555}thead{display:table-header-group}}
"""
Findings = Sequence[Mapping[str, Any]]


def visit_sheet(
    config: StationConfig,
    checklist: Checklist,
    settings: CheckSettings,
    findings: tuple[str, Findings] | None = None,
) -> str:
    """
    The sheet of a station for the next visit.

    Parameters
    ----------
    config : StationConfig
        The station's files.
    checklist : Checklist
        Its checklist.
    settings : CheckSettings
        The plans of cleaning and levelling.
    findings : tuple of (str, sequence of dict) or None
        Newest month diagnosed and its findings; None where no archive was named.

    Returns
    -------
    html : str
        One page that needs nothing else; all that people wrote is escaped.
    """
    parts = [
        _cautions(checklist),
        _visit(config),
        _stands(config),
        _due(config, settings),
        _findings(findings),
        *(_place(number, p, config) for number, p in enumerate(checklist.places, start=1)),
        _exchanges(),
        _remarks(config),
    ]
    return html_page(
        f"Site visit: {config.station.name} ({config.station.id})", "".join(parts), STYLE
    )


def _cautions(checklist: Checklist) -> str:
    items = "".join(f"<li>{esc(c)}</li>" for c in (*CAUTIONS, *checklist.cautions))
    return f'<section class="caution"><h2>Cautions</h2><ul>{items}</ul></section>\n'


def _visit(config: StationConfig) -> str:
    newest = newest_entry(config)
    known = "has no entry yet" if newest is None else f"ends with {written(newest)}"
    heads = ("Day (UTC)", "Arrived (UTC)", "Left (UTC)", "Role", "Weather and sky")
    said = (
        f"<p>Everything below that is not blank comes from the record, whose field log {known}"
        " (UTC). Write times in UTC, what was found before what was left.</p>\n"
    )
    return f"{said}{form('The visit', heads, [_blank_row(5)])}"


def _stands(config: StationConfig) -> str:
    heads = (
        *("Position", "Instrument", "Serial number", "Sensitivity", "Since"),
        *("Ventilated", "Shade"),
    )
    rows = [_standing_row(s) for s in standing_now(config)]
    loggers = [
        (
            cell(name),
            keep(g.serial_number),
            keep(_clock(g.utc_offset)),
            cell(_clock_check(config, name)),
        )
        for name, g in config.station.loggers.items()
    ]
    return (
        "<h2>What stands here</h2>\n"
        "<p>By the record; read each serial number on the instrument.</p>\n"
        f"{form('What stands here', heads, rows)}<h3>Loggers</h3>\n"
        + form("Loggers", ("Logger", "Serial number", "Its clock", "Last clock check"), loggers)
    )


def _clock_check(config: StationConfig, logger: str) -> str:
    return entry_words(last_of(config, "clock_check", logger))


def _standing_row(row: Standing) -> Sequence[str]:
    name = cell(f"{row.position} ({row.quantity})" if row.quantity else row.position)
    if row.period is None:
        return name, cell("nothing stands here"), *(cell("–") for _ in range(5))
    entry, known, cert = row.period.entry, row.instrument, row.certificate
    kind = "not in the inventory" if known is None else known.kind.replace("_", " ")
    iso = f", class {known.iso_class}" if known and known.iso_class else ""
    sensitivity = "none"
    if cert is not None:
        value = f"{cert.sensitivity.as_left:g} {cert.sensitivity.unit}"
        sensitivity = f"{value}, certificate {cert.certificate} of {cert.date}"
    return (
        name,
        cell(f"{kind}{iso}"),
        keep(row.serial),
        cell(sensitivity),
        keep(written(row.period.start)[:10]),
        cell("yes" if entry.ventilated else "no"),
        cell(entry.shade),
    )


def _clock(offset: int) -> str:
    sign, rest = "-" if offset < 0 else "+", abs(offset) // 60
    return f"UTC{sign}{rest // 60:02d}:{rest % 60:02d}"


def _due(config: StationConfig, settings: CheckSettings) -> str:
    heads = ("Position", "What", "Last", "Due by")
    rows = [
        (cell(where), cell(words), cell(last), keep(day))
        for where, words, last, day in due(config, settings)
    ]
    title = f"<h3>Last cleaning and level, and when they are due ({PRACTICE})</h3>\n"
    return title + form("Last cleaning and level", heads, rows)


def _findings(findings: tuple[str, Findings] | None) -> str:
    title = "<h2>Open findings</h2>\n"
    if findings is None:
        return f"{title}<p>No diagnosis of this station was at hand.</p>\n"
    month, rows = findings
    heads = ("Finding", "Where", "Size", "What to do")
    cells = (
        (finding_words(r), r["target"], f"{r['size']:.3g} {r['unit']}", r["action"]) for r in rows
    )
    none = f"The diagnosis of {month} found nothing above its limits that is not accepted."
    return title + table(f"Found in {month}, the costliest first", heads, cells, none)


def _place(number: int, place: Place, config: StationConfig) -> str:
    caution = f'<p class="caution">{esc(place.caution)}</p>\n' if place.caution else ""
    heads = ("What to do", "Where", "The record says", "As found", "As left", "Done")
    rows = [row for item in place.items for row in _item_rows(item, config)]
    title = f"{number}. {place.place}"
    return f"<h2>{esc(title)}</h2>\n{caution}{form(title, heads, rows)}"


def _item_rows(item: Item, config: StationConfig) -> Iterator[Sequence[str]]:
    places = (*item.positions, *item.loggers) or ("",)
    source = f'<span class="source">({esc(item.source or PRACTICE)})</span>'
    do = f'<th scope="rowgroup" rowspan="{len(places)}">{esc(item.do)} {source}</th>'
    blank = f'<td class="blank">{UNITS.get(item.entry or "", "")}</td>'
    done = '<td class="mark">☐</td>'
    for number, where in enumerate(places):
        said = cell(_recorded(item, where, config))
        yield "" if number else do, cell(where or "–"), said, blank, blank, done


def _recorded(item: Item, where: str, config: StationConfig) -> str:
    """What the record says that bears on an item at one place."""
    kind = "level_check" if item.entry == "level_again" else item.entry
    if kind is None or kind == "visit":
        return "–"
    stands = next((s for s in standing_now(config) if s.position == where), None)
    if kind in ("exchange", "serial_number"):
        return (stands.serial if stands else "") or "nothing stands here"
    said = entry_words(last_of(config, kind, where))
    home = config.station.tracker_home_azimuth
    if kind == "tracker_homing" and home is not None:
        said = f"home azimuth {home:g}° in station.yaml, from the tracker's manual; {said}"
    return said


def _exchanges() -> str:
    heads = (
        *("Position", "Taken down: serial number", "Time (UTC)", "Put up: serial number"),
        *("Time (UTC)", "Ventilated", "Shade"),
    )
    title = "<h2>What was exchanged</h2>\n"
    return title + form("Exchanged instruments", heads, [_blank_row(len(heads))] * 3)


def _remarks(config: StationConfig) -> str:
    said = (
        "Enter this sheet with the visit form, which has a row for what is told above:"
        f" sunledger visit template WORKFLOW {config.station.id}, then sunledger fieldlog add."
    )
    box = form("Remarks", ("Remarks",), [_blank_row(1)] * 2)
    return f"<h2>Remarks</h2>\n{box}<p>{esc(said)}</p>\n"


def _blank_row(count: int) -> list[str]:
    return ['<td class="blank"></td>'] * count
