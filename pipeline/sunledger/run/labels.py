"""Months of labels that cannot be right: garbled years, and clocks that lost their date.

The rule, by the lines that the file index counts for each month of a logger's own labels:

- *astray*: at most `FEW_LINES` lines and `FEW_SHARE` of the logger's lines, and neither the month
  before nor the one after holds more. No product is made of it.
- *early*: it ended before the station's first site period began. Voltages are archived; no minutes,
  unless clock checks say when the clock that lost its date wrote them.
- *detached*: it comes after more than `PAUSE` months without a line, and all from there on is at
  most `FEW_SHARE` of the logger's lines. Voltages are archived; it does not set the run's date.

All three are named with their files and lines in every run, and none says what "now" is. The raw
files stay as they are: a clock entry, or `as_of` in the workflow, puts right what is right.
"""

from __future__ import annotations

from collections import Counter
from functools import lru_cache
from itertools import pairwise

import numpy as np

from sunledger.config.models.station import Station
from sunledger.run.file_index import FileIndex
from sunledger.run.months import month_bounds

FEW_LINES = 10
FEW_SHARE = 0.01
PAUSE = 12
WORDS = {
    "astray": "far from all other labels of logger {logger}: in no product",
    "early": "before the station's first site period: in the voltages of logger {logger}, in"
    " minutes only where clock checks say when they were written",
    "detached": "more than a year after all others of logger {logger}: not taken for the run's"
    " date; state as_of in the workflow if they are right",
}


def odd_months(index: FileIndex, station: Station) -> dict[str, str]:
    """
    Months of labels that are not taken as they stand.

    Parameters
    ----------
    index : FileIndex
        Raw files of one logger.
    station : Station
        With its site periods.

    Returns
    -------
    odd : dict of str
        Month → ``astray``, ``early`` or ``detached``.
    """
    lines = _lines_by_month(index)
    first_site = min(period.valid_from for period in station.site)
    odd = dict.fromkeys(_detached(lines), "detached")
    odd |= {m: "early" for m in lines if month_bounds(m)[1] <= first_site}
    return odd | dict.fromkeys(_astray(lines), "astray")


def _lines_by_month(index: FileIndex) -> Counter[str]:
    lines: Counter[str] = Counter()
    for file in index.files:
        lines.update(file.months)
    return lines


@lru_cache(maxsize=4096)
def _number(month: str) -> int:
    return int(np.datetime64(month, "M").astype(np.int64))


def _astray(lines: Counter[str]) -> list[str]:
    few = min(FEW_LINES, FEW_SHARE * lines.total())
    full = {_number(m) for m, n in lines.items() if n > few}
    return [m for m, n in lines.items() if n <= few and not full & {_number(m) - 1, _number(m) + 1}]


def _detached(lines: Counter[str]) -> list[str]:
    """Months after a long pause that together are few."""
    months, few = sorted(lines, key=_number), FEW_SHARE * lines.total()
    for number, (before, month) in enumerate(pairwise(months), 1):
        if _number(month) - _number(before) > PAUSE:
            later = months[number:]
            if sum(lines[m] for m in later) <= few:
                return later
    return []


def newest_label(index: FileIndex, station: Station) -> int | None:
    """
    Latest label of a logger in a month that is not odd.

    Parameters
    ----------
    index : FileIndex
        Raw files of one logger.
    station : Station
        With its site periods.

    Returns
    -------
    label : int or None
        In the logger's own clock; None without a reading. [s]
    """
    odd = odd_months(index, station)
    labels = [last for f in index.files for m, (_, last) in f.spans.items() if m not in odd]
    return max(labels, default=None)


def label_problems(index: FileIndex, station: Station, logger: str) -> list[str]:
    """
    What is odd about the labels of a logger's files, in words.

    Parameters
    ----------
    index : FileIndex
        Raw files of one logger.
    station : Station
        With its site periods.
    logger : str
        Its name.

    Returns
    -------
    problems : list of str
        One for each file and odd month, with the number of lines.
    """
    odd = odd_months(index, station)
    return [
        f"{file.path}: {count} data lines with labels in {month}, "
        + WORDS[odd[month]].format(logger=logger)
        for file in index.files
        for month, count in sorted(file.months.items())
        if month in odd
    ]
