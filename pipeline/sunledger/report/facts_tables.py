"""Rows of the tables of a month's page, from what the archive holds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from sunledger.diagnosis.findings import NAMES
from sunledger.report.gaps import CAUSES, causes_of_gaps
from sunledger.report.means import monthly_means
from sunledger.report.month import StationMonth, written
from sunledger.vocabulary import GRADES, QUANTITIES

Row = tuple[object, ...]


def arrival_rows(month: StationMonth) -> Iterator[Row]:
    """
    Line accounting, a logger a row.

    Parameters
    ----------
    month : StationMonth
        The month.

    Yields
    ------
    row : tuple
        Logger, lines read, kept, repeated, conflicting, rejected.
    """
    names = ("data_lines", "kept", "repeated", "conflicting", "rejected")
    for logger, said in sorted(month.lines.items()):
        yield logger, *(f"{int(said.get(n, 0)):,}" for n in names)


def gap_table(month: StationMonth) -> tuple[tuple[str, ...], list[Row]]:
    """
    Gaps by cause, a column a quantity.

    Parameters
    ----------
    month : StationMonth
        The month.

    Returns
    -------
    heads, rows : tuple of str, list of tuple
        Cause with what it means, intervals without a value of each quantity that lacks any; no
        row where nothing is missing.
    """
    counts = {q: causes_of_gaps(month, q) for q in month.quantities}
    lacking = [q for q in counts if counts[q]]
    rows: list[Row] = [
        (f"{cause}: {meaning}", *(f"{counts[q].get(cause, 0):,}" for q in lacking))
        for cause, meaning in CAUSES.items()
        if any(cause in counts[q] for q in lacking)
    ]
    return ("Cause", *(q.replace("_", " ") for q in lacking)), rows


def completeness_rows(month: StationMonth) -> Iterator[Row]:
    """
    Completeness and grades.

    Parameters
    ----------
    month : StationMonth
        The month.

    Yields
    ------
    row : tuple
        Quantity, share of the file's intervals with a value, share of each grade.
    """
    ds = month.minutes
    if ds is None or not ds.sizes["time"]:
        return
    for quantity in month.quantities:
        grade = ds[f"{quantity}_grade"].values
        shares = [np.mean(np.isfinite(ds[quantity].values))]
        shares += [np.mean(grade == code) for code in GRADES.values()]
        yield quantity, *(f"{100 * share:.2f}\N{NO-BREAK SPACE}%" for share in shares)


def finding_rows(month: StationMonth) -> Iterator[Row]:
    """
    Findings, the one that costs most first.

    Parameters
    ----------
    month : StationMonth
        The month.

    Yields
    ------
    row : tuple
        What it is, where, its size with interval, effect on the mean, action, causes left open.
    """
    for row in () if month.findings is None else month.findings.rows:
        size = f"{row['size']:.3g} {row['unit']} ({row['lower']:.3g} to {row['upper']:.3g})"
        effect = f"{row['effect']:.2g} W m-2"
        yield (
            finding_words(row),
            row["target"],
            size,
            effect,
            row["action"],
            "; ".join(row["cannot_tell"]),
        )


def watchdog_rows(month: StationMonth) -> Iterator[Row]:
    """
    What closure says of clock and level over the whole month, judged or not.

    Parameters
    ----------
    month : StationMonth
        The month.

    Yields
    ------
    row : tuple
        What, its value with interval, what it means.
    """
    said = {} if month.findings is None else month.findings.header.get("verdicts", {})
    terms = said.get("constant_terms", {})
    for key, what, unit, meaning in (
        ("east_degree", "East-west term", "°", "lean toward east, or one of the next two"),
        ("as_clock_error_s", "The same as a clock error", " s", "logger less true time"),
        ("as_longitude_error_degree", "The same as an error of the longitude", "°", "site papers"),
        ("north_degree", "North term", "°", "lean toward north, or responsivity"),
        ("responsivity_percent", "Responsivity of global", " %", "against diffuse and direct"),
    ):
        if key in terms:
            value, half = terms[key]
            yield what, f"{value:+.2f}{unit} ± {half:.2f}{unit}", meaning
    yield from _changes(said.get("changes", {}))


def _changes(told: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    """Steps and drift since the last check, as clock error and as lean."""
    if "east_step_s" in told:
        seconds, lean = told["east_step_s"], told["east_step_degree"]
        last = told.get("since", {})
        since = f"since {last['kind']} {last['id']}" if last else "no check before is on record"
        size = f"{seconds[0]:+.0f} s ± {seconds[1]:.0f} s, {lean[0]:+.2f}° ± {lean[1]:.2f}°"
        yield "Largest step of the east-west term", size, since
        rate, half = told["east_drift_s_per_day"]
        yield "Its drift", f"{rate:+.1f} s ± {half:.1f} s a day", f"data from {told['data_from']}"
    if told.get("verdict"):
        yield "Changes since the last check", str(told["verdict"]), "only changes raise findings"


def finding_words(row: Mapping[str, Any]) -> str:
    """
    What a finding is, in words.

    Parameters
    ----------
    row : dict
        From a findings file.

    Returns
    -------
    words : str
        Of the closed list of names; a name that it does not know is written out.
    """
    return NAMES.get(row["name"], str(row["name"]).replace("_", " "))


def events_of(tables: Any) -> list[tuple[float, str, str, str, str, str]]:
    """
    Events, level checks and clock checks of the history tables in the order of time.

    Parameters
    ----------
    tables : mapping
        Name of a table → column → values.

    Returns
    -------
    events : list of tuple
        Time [s], kind, where, as found, as left, note.
    """
    found = [
        (float(t), kind.replace("_", " "), where, f, left, note)
        for t, kind, where, f, left, note in _columns(
            tables.get("event"), "event_", "start type positions found left note"
        )
    ]
    found += [
        (float(t), "level check", where, f"{f:g}°", _number(left, "°"), note)
        for t, where, f, left, note in _columns(
            tables.get("levelling"),
            "",
            "levelling_time levelled_position tilt_found tilt_left levelling_note",
        )
    ]
    found += [
        (float(t), "clock check", where, f"{f:+g} s", _number(left, " s"), "")
        for t, where, f, left in _columns(
            tables.get("clock_check"), "clock_", "check_time check_logger error_found error_left"
        )
    ]
    return sorted(found)


def event_rows(month: StationMonth) -> Iterator[Row]:
    """
    Events within the month.

    Parameters
    ----------
    month : StationMonth
        The month.

    Yields
    ------
    row : tuple
        Time, kind, where, as found, as left, note.
    """
    for time, *rest in events_of(month.tables):
        if written(time).startswith(month.month):
            yield written(time), *rest


def mean_rows(month: StationMonth) -> Iterator[Row]:
    """
    Monthly means beside those of the same month of other years.

    Parameters
    ----------
    month : StationMonth
        The month.

    Yields
    ------
    row : tuple
        Quantity, mean, expanded uncertainty, mean of other years with their number, unit.
    """
    means = monthly_means(month.monthly)
    for q, values in means.items():
        if month.month not in values:
            continue
        value, error = values[month.month]
        own = month.month[5:]
        others = [v for m, (v, _) in values.items() if m[5:] == own and m != month.month]
        past = f"{np.mean(others):.1f} of {len(others)}" if others else "none yet"
        width = f"{error:.1f}" if np.isfinite(error) else "–"
        yield q, f"{value:.1f}", width, past, QUANTITIES[q].units


def change_rows(month: StationMonth) -> Iterator[Row]:
    """
    Versions of the minute file, the newest first.

    Parameters
    ----------
    month : StationMonth
        The month.

    Yields
    ------
    row : tuple
        Version, date, status, action, cause, mean change of each quantity.
    """
    for e in reversed(month.changes):
        sizes = "; ".join(
            f"{name} {size['mean']:+.3g} {QUANTITIES[name].units}"
            for name, size in sorted(e.size_of_change.items())
            if "mean" in size and name in QUANTITIES
        )
        yield e.version, e.issued, e.status, e.action, e.cause, sizes or "–"


def _number(value: float, unit: str) -> str:
    return f"{value:.3g}{unit}" if np.isfinite(value) else "–"


def _columns(table: Any, prefix: str, names: str) -> Iterator[Any]:
    """Rows of some columns of a history table; none where there is no such table."""
    held = [() if table is None else table[prefix + name] for name in names.split()]
    return zip(*held, strict=True)
