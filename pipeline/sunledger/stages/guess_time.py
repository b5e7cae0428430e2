"""Which columns of an unknown table hold the time, and how it is written: by trying."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from sunledger.config.models.station import TimeStamp
from sunledger.stages.timestamps import compile_format

DATES = (
    *("%Y-%m-%d", "%Y/%m/%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%Y%m%d"),
    *("%d-%b-%Y", "%d %b %Y", "%b %d %Y", "%d.%m.%y", "%d/%m/%y", "%m/%d/%y", "%Y-%j", "%Y %j"),
)
CLOCKS = ("%H:%M:%S", "%H:%M", "%H:%M:%S.%f", "%H%M%S", "%H%M", "%I:%M:%S %p", "%I:%M %p")
ENOUGH = 0.9
"""Share of the rows that a format must read."""
EPOCH = (10**8, 5 * 10**9)


@dataclass(frozen=True)
class TimeGuess:
    """
    Columns and format of the time.

    Parameters
    ----------
    columns : tuple of int
        Places of the columns, from 0.
    format : str
        As in `station.yaml`.
    share : float
        Share of the rows that it reads. [1]
    regularity : float
        Share of the steps from row to row that are the most frequent one. [1]
    """

    columns: tuple[int, ...]
    format: str
    share: float
    regularity: float


def guess_time(rows: Sequence[Sequence[str]]) -> TimeGuess | None:
    """
    Guess the time columns of some rows.

    Parameters
    ----------
    rows : sequence of sequence of str
        Fields of data rows, all of the same length, in file order.

    Returns
    -------
    guess : TimeGuess or None
        The one that reads most rows at the most regular steps; of equal ones, that of the earlier
        columns. Whether day or month comes first is so told by the steps.
    """
    found = [g for g in _candidates(rows) if g.share >= ENOUGH]
    return max(found, key=lambda g: (round(g.share + g.regularity, 2),), default=None)


def _candidates(rows: Sequence[Sequence[str]]) -> Iterator[TimeGuess]:
    width = len(rows[0]) if rows else 0
    joined = ("".join((date, mark, clock)) for mark, date, clock in product(" T", DATES, CLOCKS))
    alone = [*joined, *(f"{d}{c}" for d, c in product(("%Y%m%d",), ("%H%M", "%H%M%S")))]
    for place in range(width):
        yield from _tried(rows, (place,), alone)
        yield from _tried(rows, (place,), ("iso8601", "epoch_seconds"))
    for place in range(width - 1):
        both = [f"{date} {clock}" for date, clock in product(DATES, CLOCKS)]
        yield from _tried(rows, (place, place + 1), both)
    for size, place in product((4, 3), range(width - 2)):
        if place + size <= width:
            yield from _tried(rows, tuple(range(place, place + size)), ("year_day_hhmm",))


def _tried(
    rows: Sequence[Sequence[str]], columns: tuple[int, ...], formats: Sequence[str]
) -> Iterator[TimeGuess]:
    texts = [" ".join(row[c] for c in columns) for row in rows]
    first = texts[: max(1, len(texts) // 10)]
    for form in formats:
        stamp = compile_format(TimeStamp(columns=tuple(map(str, columns)), format=form), 0)
        if all(stamp.label(text) is None for text in first):
            continue
        labels = [label for text in texts if (label := stamp.label(text)) is not None]
        if form != "epoch_seconds" or all(EPOCH[0] < label < EPOCH[1] for label in labels):
            yield TimeGuess(columns, form, len(labels) / len(texts), _regularity(labels))


def _regularity(labels: Sequence[int]) -> float:
    steps = np.diff(labels)
    rising = steps[steps > 0]
    if not len(rising):
        return 0.0
    return float(np.unique(rising, return_counts=True)[1].max() / len(steps))
