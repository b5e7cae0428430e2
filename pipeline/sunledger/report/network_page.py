"""The page that compares the stations of a network for a month."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from sunledger.archive.atomic import replace_text
from sunledger.archive.catalog_pages import html_page
from sunledger.archive.free_text import html_text as esc
from sunledger.report.facts_tables import finding_words
from sunledger.report.figures_of_network import good_shares, means_by_station
from sunledger.report.month import written
from sunledger.report.network import RULE, StationState, network_month, reasons
from sunledger.report.parts import STYLE, cell, form, keep, picture, table
from sunledger.vocabulary import RADIOMETRIC

Beside = Callable[[str], Sequence[tuple[str, str]]]
"""Station → address and name of the pages about it that lie beside the network's."""
FORM_STYLE = "table.form td,table.form th{border-bottom:1px solid var(--line);vertical-align:top}\n"
FORM_STYLE += (
    "td.keep{white-space:nowrap}.hidden{position:absolute;clip-path:inset(50%);width:1px;height:1px;"
    "overflow:hidden}\n"
)


def network_page(states: Sequence[StationState], month: str, beside: Beside | None = None) -> str:
    """
    The page of a network for a month.

    Parameters
    ----------
    states : sequence of StationState
        In the order in which they need a visit.
    month : str
        Such as ``2031-04``.
    beside : callable or None
        Pages to link to; None for none.

    Returns
    -------
    html : str
        One page that needs nothing else.
    """
    if not states:
        return html_page(f"Network: {month}", "<p>The archive holds no station.</p>\n", STYLE)
    heads = ("", "Station", "Why", "Pages", "Last cleaning", "Last entry of the log")
    rows = [_row(i, s, beside) for i, s in enumerate(states, start=1)]
    parts = [
        "<h2>Who needs a visit first</h2>\n",
        f"<p>{esc(RULE)}</p>\n",
        form("Who needs a visit first", heads, rows),
        "<h2>Findings of all stations</h2>\n",
        table(
            "Findings with suggested actions",
            ("Station", "Finding", "Where", "Costs the mean", "What to do"),
            _finding_rows(states),
            "No finding above its limits in any diagnosis.",
        ),
        "<h2>Grades</h2>\n",
        picture(good_shares(states), "Share of minutes graded good, by quantity and station"),
        table(
            "Shares of the minutes of the file",
            ("Station", "Quantity", "Good", "Not evaluated", "Questionable", "Bad", "Missing"),
            _share_rows(states),
            "Nothing arrived from any station.",
        ),
        "<h2>Monthly means</h2>\n",
        *_means(states, month),
    ]
    return html_page(f"Network: {month}", "".join(parts), STYLE + FORM_STYLE)


def write_network_page(archive: Path, month: str, output: Path) -> Path:
    """
    Write the page of a network, with links to the pages of stations that lie beside it.

    Parameters
    ----------
    archive : Path
        The archive.
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
        If the month is not written so, or the system refuses to write.
    """
    names = {f"report_{month}.html": "month", "visit_sheet.html": "visit sheet"}

    def beside(station: str) -> list[tuple[str, str]]:
        there = ((f"{station}/{name}", words) for name, words in names.items())
        return [(path, words) for path, words in there if (output.parent / path).is_file()]

    states = network_month(archive, month)
    replace_text(output, network_page(states, month, beside).encode())
    return output


def _row(number: int, state: StationState, beside: Beside | None) -> Sequence[str]:
    hidden = f'<span class="hidden"> of {esc(state.station)}</span>'
    links = " ".join(
        f'<a href="{esc(path)}">{esc(words)}{hidden}</a>'
        for path, words in (beside(state.station) if beside else ())
    )
    return (
        cell(number),
        f'<th scope="row">{esc(state.title)} ({esc(state.station)})</th>',
        cell(reasons(state)),
        f"<td>{links or '–'}</td>",
        keep(written(state.cleaned)[:10]),
        keep(written(state.noted)[:10]),
    )


def _finding_rows(states: Sequence[StationState]) -> Iterator[Sequence[object]]:
    for state in states:
        for row in state.rows:
            effect = f"{row['effect']:.2g} W m-2"
            yield state.station, finding_words(row), row["target"], effect, row["action"]


def _share_rows(states: Sequence[StationState]) -> Iterator[Sequence[object]]:
    names = ("good", "not_evaluated", "questionable", "bad", "missing")
    for state in states:
        for quantity, shares in state.shares.items():
            cells = (f"{100 * shares.get(n, 0.0):.1f}\N{NO-BREAK SPACE}%" for n in names)
            yield state.station, quantity, *cells


def _means(states: Sequence[StationState], month: str) -> Iterator[str]:
    held = [q for q in RADIOMETRIC if any(month in s.means.get(q, {}) for s in states)]
    if not held:
        yield "<p>No monthly mean is held for this month.</p>\n"
    for quantity in held:
        words = f"Monthly mean of {quantity} with its expanded uncertainty"
        yield picture(means_by_station(states, month, quantity), words)
