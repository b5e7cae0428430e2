"""The catalogue for people: plain HTML that needs no script, on any screen, light or dark."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sunledger.archive.catalog_facts import MonthFacts, page_link
from sunledger.archive.catalog_picture import month_picture, station_map
from sunledger.archive.catalog_stac import station_title
from sunledger.archive.changes import Entry
from sunledger.archive.free_text import html_text as esc
from sunledger.archive.listing import Published

# Blue and vermilion of Okabe and Ito (2008), "Color Universal Design", told apart by all; and
# every line has its own dashes and its name at the end.
STYLE = """
:root{color-scheme:light dark;--ink:#1a1a1a;--paper:#fff;--soft:#5a5a5a;--line:#c9c9c9;
--card:#f6f6f4;--link:#0b57a4;--one:#1a1a1a;--two:#b34700;--three:#0072b2}
@media(prefers-color-scheme:dark){:root{--ink:#ececec;--paper:#16181a;--soft:#b4b4b4;--line:#4a4d50;
--card:#202326;--link:#8ec7ff;--one:#ececec;--two:#ffa94d;--three:#6cc4ff}}
*{box-sizing:border-box}body{margin:0 auto;max-width:76rem;padding:1rem;background:var(--paper);
color:var(--ink);font:1rem/1.5 system-ui,sans-serif}a{color:var(--link)}
a:focus-visible,[tabindex]:focus-visible,summary:focus-visible{outline:3px solid var(--link);
outline-offset:2px}.skip{position:absolute;left:-99rem}.skip:focus{position:static}
h1{font-size:1.6rem;line-height:1.2}h2{font-size:1.25rem;margin-top:2rem}h3{margin:.2rem 0}
.wide{overflow-x:auto}table{border-collapse:collapse;width:100%}
th,td{text-align:left;padding:.35rem .7rem;border-bottom:1px solid var(--line)}
td.n,th.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
caption{text-align:left;color:var(--soft);padding:.3rem 0}td.d{white-space:nowrap}
.months{display:grid;gap:1rem;grid-template-columns:repeat(auto-fill,minmax(min(20rem,100%),1fr))}
article{background:var(--card);border:1px solid var(--line);border-radius:.4rem;padding:.8rem}
article.withdrawn{border:3px double var(--ink)}dl{display:grid;grid-template-columns:auto 1fr;
gap:.1rem .7rem;margin:.4rem 0}dt{color:var(--soft)}dd{margin:0}
ul{padding-left:1.2rem}pre{overflow-x:auto;background:var(--card);padding:.8rem}
code{overflow-wrap:anywhere;font-size:.85em}.digest{display:block;color:var(--soft)}
.look{width:100%;height:auto}.look text{font-size:11px;fill:var(--ink)}
.look path{fill:none;stroke-width:1.8;stroke-linecap:round}.look .grid{stroke:var(--line);
stroke-width:.7}.look path.ghi{stroke:var(--one)}.look path.dni{stroke:var(--two);
stroke-dasharray:6 3}.look path.dhi{stroke:var(--three);stroke-dasharray:1.5 3}
.map{width:100%;max-width:32rem;height:auto}.map path{fill:none;stroke:var(--line);
stroke-width:.5}.map .zero{stroke:var(--soft)}.map circle{fill:var(--two);stroke:var(--paper)}
.look text.dni{fill:var(--two)}.look text.dhi{fill:var(--three)}
"""


@dataclass(frozen=True)
class StationPage:
    """
    What the page of a station tells.

    Parameters
    ----------
    station : str
        Identifier.
    about : dict
        Global attributes of one of its files.
    periods : dict
        Month or year → its files.
    facts : dict
        Month → facts of the minute file.
    changes : tuple of (Entry, tuple of str)
        The change record with the months affected.
    folder : Path
        Folder of the station in the archive.
    """

    station: str
    about: Mapping[str, Any]
    periods: Mapping[str, Sequence[Published]]
    facts: Mapping[str, MonthFacts]
    changes: tuple[tuple[Entry, tuple[str, ...]], ...]
    folder: Path


def html_page(title: str, body: str, style: str = "") -> str:
    """
    A whole page that needs no script and nothing from elsewhere.

    Parameters
    ----------
    title : str
        Heading.
    body : str
        HTML below the heading.
    style : str
        More rules of style.

    Returns
    -------
    html : str
        The page.
    """
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{esc(title)}</title>\n<style>{STYLE}{style}</style>\n</head>\n<body>\n"
        '<a class="skip" href="#main">To the content</a>\n'
        f'<main id="main">\n<h1>{esc(title)}</h1>\n{body}</main>\n</body>\n</html>\n'
    )


def _share(value: float) -> str:
    return f"{100 * value:.1f} %"


def _place(about: Mapping[str, Any]) -> tuple[str, str, str]:
    latitude, longitude = float(about["geospatial_lat_min"]), float(about["geospatial_lon_min"])
    north, east = "N" if latitude >= 0 else "S", "E" if longitude >= 0 else "W"
    height = float(about["geospatial_vertical_min"])
    return f"{abs(latitude):.4f}° {north}", f"{abs(longitude):.4f}° {east}", f"{height:.0f} m"


def overall_completeness(page: StationPage) -> float | None:
    """
    Share of minutes with global irradiance, or else the first quantity, over all months.

    Parameters
    ----------
    page : StationPage
        The station.

    Returns
    -------
    share : float or None
        Mean over the months; None without a month of minutes. [1]
    """
    values = [next(iter(f.completeness.values()), None) for f in page.facts.values()]
    main = [f.completeness.get("ghi", v) for f, v in zip(page.facts.values(), values, strict=True)]
    known = [v for v in main if v is not None]
    return sum(known) / len(known) if known else None


def index_page(stations: Sequence[StationPage]) -> str:
    """
    The first page: all stations, from north to south.

    Parameters
    ----------
    stations : sequence of StationPage
        The stations.

    Returns
    -------
    html : str
        The page.
    """
    heads = ("Station", "Latitude", "Longitude", "Altitude", "From", "To", "Months", "Complete")
    numbers = ("Latitude", "Longitude", "Altitude", "Months", "Complete")
    kinds = {h: ' class="n"' if h in numbers else "" for h in heads}
    cells = "".join(f'<th scope="col"{kind}>{h}</th>' for h, kind in kinds.items())
    ordered = sorted(stations, key=lambda s: -float(s.about["geospatial_lat_min"]))
    rows = "".join(_station_row(s) for s in ordered)
    return html_page(
        "Solar radiation archive",
        "<p>Solar and longwave irradiance of ground stations, minute by minute, with flags, grade"
        " and uncertainty, in CF NetCDF. For programs: "
        '<a href="catalog.json">catalog.json</a>.</p>\n'
        f"{station_map([_dot(s) for s in ordered])}\n"
        '<div class="wide" tabindex="0" role="region" aria-label="Table of stations">\n'
        "<table><caption>Stations from north to south. Complete: mean share of minutes with global"
        f" irradiance.</caption>\n<thead><tr>{cells}</tr></thead>\n<tbody>{rows}</tbody></table>\n"
        "</div>\n",
    )


def _dot(page: StationPage) -> tuple[str, str, float, float]:
    longitude, latitude = (float(page.about[f"geospatial_{w}_min"]) for w in ("lon", "lat"))
    return station_title(page.about), f"{page.station}/index.html", longitude, latitude


def _station_row(page: StationPage) -> str:
    months = sorted(page.facts)
    complete = overall_completeness(page)
    share = "–" if complete is None else _share(complete)
    first, last = (months[0], months[-1]) if months else ("–", "–")
    link = f'<a href="{page.station}/index.html">{esc(station_title(page.about))}</a>'
    place = "".join(f'<td class="n">{esc(p)}</td>' for p in _place(page.about))
    rest = f'<td class="d">{first}</td><td class="d">{last}</td><td class="n">{len(months)}</td>'
    rest += f'<td class="n">{share}</td>'
    return f'<tr><th scope="row">{link}</th>{place}{rest}</tr>\n'


def station_page(page: StationPage, path: Path) -> str:
    """
    The page of a station.

    Parameters
    ----------
    page : StationPage
        What it tells.
    path : Path
        Where it will stand; links are relative to it.

    Returns
    -------
    html : str
        The page.
    """
    latitude, longitude, height = _place(page.about)
    a = page.about
    years = sorted((p for p in page.periods if "-" not in p), reverse=True)
    months = sorted((p for p in page.periods if "-" in p), reverse=True)
    parts = [
        '<nav><a href="../index.html">All stations</a></nav>\n',
        f"<p>{esc(a.get('summary', ''))}</p>\n<dl><dt>Place</dt>"
        f"<dd>{latitude}, {longitude}, {height} above sea level</dd>"
        f"<dt>Licence</dt><dd>{esc(a.get('license', ''))}</dd>"
        f"<dt>Contact</dt><dd>{esc(a.get('creator_institution', ''))},"
        f" {esc(a.get('creator_email', ''))}</dd></dl>\n",
        _citation(page),
        _opening(page),
        "<h2>Years: hourly, daily and monthly means</h2>\n",
        '<div class="months">\n',
        *(_card(page, y, path) for y in years),
        "</div>\n<h2>Months</h2>\n<p>Pictures show daily means in W m-2 over the day of the month:"
        " global horizontal (ghi, solid), direct normal (dni, dashed), diffuse (dhi, dotted). Days"
        " of which a tenth or more is missing are gaps.</p>\n"
        '<div class="months">\n',
        *(_card(page, m, path) for m in months),
        "</div>\n",
        *_changes(page, path),
    ]
    return html_page(station_title(a), "".join(parts))


def _citation(page: StationPage) -> str:
    a = page.about
    year = str(a.get("date_issued", ""))[:4]
    text = (
        f"{a.get('creator_name', '')} ({year}): Solar and longwave irradiance at"
        f" {station_title(a)}. {a.get('publisher_name', '')}. {a.get('metadata_link', '')}."
    )
    return (
        f"<h2>How to cite</h2>\n<p>{esc(text)} Name the product, its period and version"
        " as given below.</p>\n"
    )


def _opening(page: StationPage) -> str:
    names = f"{page.station}_minute_*.nc"
    code = (
        "import xarray as xr\n\n"
        "xr.set_options(use_new_combine_kwarg_defaults=True)\n"
        f'minutes = xr.open_mfdataset("{names}")\n'
        'good = minutes["ghi"].where(minutes["ghi_grade"] == 1)'
    )
    box = '<pre tabindex="0" role="region" aria-label="Python code">'
    return f"<h2>How to open in Python</h2>\n{box}<code>{esc_lines(code)}</code></pre>\n"


def esc_lines(text: str) -> str:
    """
    Text of several lines for an HTML page.

    Parameters
    ----------
    text : str
        Our own text.

    Returns
    -------
    escaped : str
        With its lines and its indents.
    """
    import html

    return html.escape(text, quote=True)


def _card(page: StationPage, period: str, path: Path) -> str:
    files = page.periods[period]
    facts = page.facts.get(period)
    withdrawn = any(f.manifest.status == "withdrawn" for f in files)
    kind = ' class="withdrawn"' if withdrawn else ""
    parts = [f'<article{kind} id="p{period}"><h3>{period}</h3>']
    if facts is not None:
        parts.append(
            month_picture(f"{station_title(page.about)} {period}, daily means", facts.days)
        )
        parts.append(_facts(facts))
    parts.append("<ul>")
    parts += [_download(page, f, path) for f in files]
    return "".join([*parts, "</ul></article>\n"])


def _facts(facts: MonthFacts) -> str:
    rows = []
    for quantity, share in facts.completeness.items():
        grades = ", ".join(
            f"{name.replace('_', ' ')} {_share(part)}"
            for name, part in facts.grades.get(quantity, {}).items()
            if name != "missing"
        )
        flags = ", ".join(
            f"{name.replace('_', ' ')} {_share(part)}"
            for name, part in facts.flags.get(quantity, {}).items()
        )
        said = f"{_share(share)} of minutes" + (f"; {grades}" if grades else "")
        said += f"; flagged: {flags}" if flags else ""
        rows.append(f"<dt>{quantity}</dt><dd>{esc(said)}</dd>")
    return f"<dl>{''.join(rows)}</dl>{_findings(facts.findings)}"


def _findings(findings: list[str] | None) -> str:
    if findings is None:
        return "<p>Findings: no diagnosis was made.</p>"
    if not findings:
        return "<p>Findings: none.</p>"
    items = "".join(f"<li>{esc(finding)}</li>" for finding in findings)
    return f"<p>Findings, the one that costs most first:</p><ol>{items}</ol>"


def _download(page: StationPage, file: Published, path: Path) -> str:
    m = file.manifest
    product = file.recorded_product.replace("_", " ")
    status = m.status if m.status == "open" else f"version {m.version}, {m.status}"
    reason = _reason(page, file) if m.status == "withdrawn" else ""
    megabytes = f"{m.size / 1e6:.2f} MB"
    return (
        f'<li><a href="{page_link(path, file.path)}" download>{esc(product)} {m.period}</a>'
        f" ({esc(status)}, {megabytes})"
        + (f"<br><strong>Withdrawn, do not use: {esc(reason)}</strong>" if reason else "")
        + f'<code class="digest">SHA-256 {m.file_sha256}</code></li>'
    )


def _reason(page: StationPage, file: Published) -> str:
    key = (file.recorded_product, file.manifest.period)
    causes = [e.cause for e, _ in page.changes if (e.product, e.period) == key]
    return causes[-1] if causes else "no reason recorded"


def _changes(page: StationPage, path: Path) -> Iterator[str]:
    table = page_link(path, page.folder / "changes.csv")
    words = page_link(path, page.folder / "CHANGES.txt")
    yield (
        "<h2>Changes</h2>\n<p>Everything that was issued: "
        f'<a href="{words}">in words</a>, <a href="{table}">as a table</a>. Revisions and'
        " withdrawals:</p>\n"
    )
    revised = [p for p in page.changes if p[0].action == "revised" or p[0].status == "withdrawn"]
    if not revised:
        yield "<p>None.</p>\n"
        return
    heads = ("Date", "File", "Version", "Cause", "Size of the change")
    cells = "".join(f'<th scope="col">{h}</th>' for h in heads)
    yield '<div class="wide" tabindex="0" role="region" aria-label="Table of changes"><table>'
    yield f"<thead><tr>{cells}</tr></thead><tbody>\n"
    for entry, months in reversed(revised):
        yield _change_row(entry, months)
    yield "</tbody></table></div>\n"


def _change_row(entry: Entry, months: tuple[str, ...]) -> str:
    sizes = "; ".join(
        f"{series} mean {size['mean']:+.3g} W m-2, {_share(size['share_changed'])} of samples"
        for series, size in sorted(entry.size_of_change.items())
        if "mean" in size and not series.endswith("_uncertainty")
    )
    affected = f" ({', '.join(months)})" if entry.parts and months else ""
    cells = (
        entry.issued,
        f"{entry.product} {entry.period}{affected}",
        f"{entry.version}, {entry.status}",
        entry.cause,
        sizes or ("flags or settings" if entry.action == "revised" else "–"),
    )
    return f"<tr>{''.join(f'<td>{esc(cell)}</td>' for cell in cells)}</tr>\n"
