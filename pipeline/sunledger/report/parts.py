"""Parts of the pages that people read: tables, and pictures inside the page."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable, Sequence

from matplotlib.figure import Figure

from sunledger.archive.free_text import html_text as esc

DPI, CLOSE_DPI = 80, 200
"""Dots an inch of a picture, and of one that is to be looked at closely: a dot a minute."""
LONGEST_KEPT = 20
"""Letters from which on a cell that begins with a number may be broken."""
COMPRESSION = 3
"""Of pictures; more costs more time than it saves room."""
INCH = 7.0
"""Width on the page of an inch of a figure. [rem]"""
STYLE = """
figure{margin:1rem 0;break-inside:avoid}figcaption{color:var(--soft)}
.view{overflow:auto;max-height:90vh}
.view img{display:block;width:100%;height:auto;border:1px solid var(--line);background:#fff}
table .when{white-space:nowrap}
figure:has(.zoom:checked) img{width:250%;max-width:none!important}
label{white-space:nowrap;padding:.3rem 0;display:inline-block}
@media(prefers-color-scheme:dark){.view img{filter:brightness(.9)}}
@page{size:A4;margin:14mm}
@media print{body{max-width:none;padding:0;font-size:9.5pt}.zoom,label,.skip{display:none}
.view,.wide{overflow:visible;max-height:none}h2,h3,figcaption,caption{break-after:avoid}
th,td{padding:.2rem .4rem;overflow-wrap:break-word}tr{break-inside:avoid}
figure{margin:.5rem 0}.view img{border:0;max-height:120mm;width:auto;max-width:100%}}
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
        f'<tr><th scope="row"{_kept(row[0])}>{esc(row[0])}</th>'
        f"{''.join(f'<td{_kept(cell)}>{esc(cell)}</td>' for cell in row[1:])}</tr>\n"
        for row in held
    )
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{esc(caption)}"><table>'
        f"<caption>{esc(caption)}</caption><thead><tr>{head}</tr></thead>"
        f"<tbody>{body}</tbody></table></div>\n"
    )


def _kept(cell: object) -> str:
    """Times, numbers with their unit, and names of one word are not broken."""
    text = str(cell)
    number = text[:1].isdigit() or (text[:1] in "+-" and text[1:2].isdigit())
    return ' class="when"' if (number and len(text) < LONGEST_KEPT) or " " not in text else ""


def picture(figure: Figure, caption: str, close: bool = False) -> str:
    """
    A figure inside the page.

    Parameters
    ----------
    figure : Figure
        The figure.
    caption : str
        What it shows, also for those who do not see it.
    close : bool
        To be looked at closely: finer, and with a box to tick for a larger view.

    Returns
    -------
    html : str
        The picture as PNG within the text.
    """
    held = io.BytesIO()
    dpi = CLOSE_DPI if close else DPI
    figure.savefig(
        held,
        format="png",
        dpi=dpi,
        metadata={"Software": None},
        pil_kwargs={"compress_level": COMPRESSION},
    )
    data = base64.b64encode(held.getvalue()).decode("ascii")
    box = ' <label><input type="checkbox" class="zoom"> larger</label>' if close else ""
    wide = INCH * figure.get_size_inches()[0]
    return (
        f"<figure><figcaption>{esc(caption)}{box}</figcaption>"
        f'<div class="view" tabindex="0" role="region" aria-label="Picture: {esc(caption)}">'
        f'<img alt="{esc(caption)}" style="max-width:{wide:.0f}rem"'
        f' src="data:image/png;base64,{data}"></div></figure>\n'
    )


def form(title: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """
    A ruled table, that can be scrolled sideways on a narrow screen.

    Parameters
    ----------
    title : str
        What it is for, for those who do not see it.
    heads : sequence of str
        Columns.
    rows : sequence of sequence of str
        Whole cells in HTML.

    Returns
    -------
    html : str
        The table.
    """
    head = "".join(f'<th scope="col">{esc(h)}</th>' for h in heads)
    body = "".join(f"<tr>{''.join(row)}</tr>\n" for row in rows)
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{esc(title)}">'
        f'<table class="form"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>\n'
    )


def cell(text: object) -> str:
    """
    A cell of text.

    Parameters
    ----------
    text : object
        Anything that has a text.

    Returns
    -------
    html : str
        Escaped.
    """
    return f"<td>{esc(text)}</td>"


def keep(text: object) -> str:
    """
    A cell whose text is not broken, such as a serial number or a date.

    Parameters
    ----------
    text : object
        Anything that has a text.

    Returns
    -------
    html : str
        Escaped.
    """
    return f'<td class="keep">{esc(text)}</td>'
