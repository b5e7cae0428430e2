"""Rows of numbers to the text a logger writes, one file a day of its own dates."""

from __future__ import annotations

import gzip
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from northmere.noise import Floats
from northmere.shapes import Logger

DAY = 86400
MEANINGS = {"mean": "mid", "minimum": "least", "maximum": "most", "deviation": "spread"}


@dataclass(frozen=True)
class Table:
    """
    What one logger wrote.

    Parameters
    ----------
    logger : Logger
        Who wrote it.
    label : ndarray of int64, shape (rows,)
        Label of each row in the logger's clock and zone, as if that were UTC. [s]
    true_start : ndarray of float, shape (rows,)
        Start of each interval in true UTC; for tests, never written. [s]
    columns : mapping
        Column name → values in the unit written; NaN missing, infinity over range.
    """

    logger: Logger
    label: NDArray[np.int64]
    true_start: Floats
    columns: Mapping[str, Floats]


def header_lines(logger: Logger, seconds: bool) -> list[str]:
    """
    Header of a logger's table.

    Parameters
    ----------
    logger : Logger
        Gives layout and columns.
    seconds : bool
        Whether the table has a column of seconds.

    Returns
    -------
    lines : list of str
        Without line ends.
    """
    layout = logger.layout
    stamps = stamp_names(logger, seconds)
    words = {
        "file": [layout.title],
        "names": [*stamps, *(c.name for c in logger.columns)],
        "units": [*("" for _ in stamps), *(c.unit for c in logger.columns)],
        "statistics": [*("" for _ in stamps), *(MEANINGS[c.statistic] for c in logger.columns)],
    }
    quote = layout.quote
    return [
        layout.separator.join(f"{quote}{word}{quote}" for word in words[line])
        for line in layout.header
    ]


def stamp_names(logger: Logger, seconds: bool) -> tuple[str, ...]:
    """
    Names of the time columns.

    Parameters
    ----------
    logger : Logger
        Gives the layout.
    seconds : bool
        Whether the interval is shorter than a minute, which adds a column to a layout whose
        stamp has no seconds.

    Returns
    -------
    names : tuple of str
        In order.
    """
    extra = ("second",) if seconds and logger.layout.stamp == "year_day_hhmm" else ()
    return (*logger.layout.stamp_names, *extra)


def _iso_stamps(label: NDArray[np.int64]) -> list[str]:
    text = np.datetime_as_string(label.astype("datetime64[s]"))
    return [stamp.replace("T", " ") for stamp in text.tolist()]


def _year_day_stamps(label: NDArray[np.int64], separator: str, seconds: bool) -> list[str]:
    # Midnight belongs to the day that ends, as 2400.
    day = written_day(label, "year_day_hhmm")
    second = label - day * DAY
    year = day.astype("datetime64[D]").astype("datetime64[Y]")
    of_year = day - year.astype("datetime64[D]").astype(np.int64) + 1
    hhmm = second // 3600 * 100 + second % 3600 // 60
    parts = [year.astype(np.int64) + 1970, of_year, hhmm]
    form = separator.join(["%d"] * 3)
    if seconds:
        parts, form = [*parts, second % 60], form + separator + "%d"
    return [form % row for row in zip(*(p.tolist() for p in parts), strict=True)]


def written_day(label: NDArray[np.int64], stamp: str) -> NDArray[np.int64]:
    """
    Day under which a row is written and filed.

    Parameters
    ----------
    label : ndarray of int64, shape (rows,)
        Labels in the logger's own clock and zone. [s]
    stamp : str
        ``iso`` or ``year_day_hhmm``; in the latter, midnight belongs to the day that ends.

    Returns
    -------
    day : ndarray of int64, shape (rows,)
        Days since 1970-01-01.
    """
    return np.asarray((label - (stamp == "year_day_hhmm")) // DAY)


def data_lines(table: Table, seconds: bool) -> list[str]:
    """
    Data lines of a table.

    Parameters
    ----------
    table : Table
        What was logged.
    seconds : bool
        Whether the interval is shorter than a minute.

    Returns
    -------
    lines : list of str
        One a row, without line ends.
    """
    layout = table.logger.layout
    if layout.stamp == "iso":
        stamps = _iso_stamps(table.label)
    else:
        stamps = _year_day_stamps(table.label, layout.separator, seconds)
    form = layout.separator.join(["%s", *(c.form for c in table.logger.columns)])
    values = [table.columns[c.name].tolist() for c in table.logger.columns]
    lines = [form % row for row in zip(stamps, *values, strict=True)]
    missing = layout.missing
    over = f"{layout.quote}{layout.over_range}{layout.quote}"
    odd = np.zeros(table.label.size, dtype=bool)
    for column in table.columns.values():
        odd |= ~np.isfinite(column)
    for row in np.flatnonzero(odd):
        lines[row] = lines[row].replace("nan", missing).replace("inf", over)
    return lines


def day_files(table: Table, seconds: bool) -> dict[str, list[str]]:
    """
    Lines of a table by the file they are delivered in.

    Parameters
    ----------
    table : Table
        What was logged.
    seconds : bool
        Whether the interval is shorter than a minute.

    Returns
    -------
    files : dict of list of str
        File name without ending → header and data lines.
    """
    header, lines = header_lines(table.logger, seconds), data_lines(table, seconds)
    day = written_day(table.label, table.logger.layout.stamp)
    files: dict[str, list[str]] = {}
    starts = np.flatnonzero(np.diff(day, prepend=day[:1] - 1))
    for start, end in zip(starts, [*starts[1:], day.size], strict=True):
        name = np.datetime_as_string(day[start].astype("datetime64[D]")).replace("-", "")
        files.setdefault(f"{table.logger.name}_{name}", list(header)).extend(lines[start:end])
    return files


def packed(lines: list[str]) -> bytes:
    """
    Compressed file, the same bytes whenever and wherever it is made from the same lines.

    Parameters
    ----------
    lines : list of str
        Without line ends.

    Returns
    -------
    data : bytes
        Gzip without name or date.
    """
    text = "\n".join(lines) + "\n"
    return gzip.compress(text.encode("utf-8", "surrogateescape"), compresslevel=9, mtime=0)
