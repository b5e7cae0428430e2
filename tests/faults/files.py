"""Faults of delivery: what happens to the lines of a logger's table on their way."""

from __future__ import annotations

import numpy as np

GARBAGE = "\x00\udcff}{~#\x7f"
"""Rubbish; the surrogate stands for the byte 0xFF, which is no UTF-8 (`surrogateescape`)."""


def power_gap(time: np.ndarray, start: float, end: float) -> np.ndarray:
    """
    Rows that a logger writes in spite of a power cut.

    Parameters
    ----------
    time : ndarray, shape (rows,)
        True time of each row's interval start. [s]
    start, end : float
        When the power is off. [s]

    Returns
    -------
    kept : ndarray of bool, shape (rows,)
        False in the gap.
    """
    return np.asarray((time < start) | (time >= end))


def delivered_twice(
    lines: list[str], next_lines: list[str], header: int, tail: int, head: int
) -> list[str]:
    """
    A second file that repeats the end of one day and the beginning of the next.

    Parameters
    ----------
    lines, next_lines : list of str
        Lines of both days' files, with their headers.
    header : int
        Header lines of a file.
    tail, head : int
        Data lines taken from the end of the first and the beginning of the second.

    Returns
    -------
    overlap : list of str
        Lines of the extra file, with a header.
    """
    data, next_data = lines[header:], next_lines[header:]
    return lines[:header] + data[len(data) - tail :] + next_data[:head]


def garbled(line: str, generator: np.random.Generator, length: int = 6) -> str:
    """
    A line of which a stretch was overwritten by rubbish in transmission.

    Parameters
    ----------
    line : str
        Line without its end.
    generator : numpy.random.Generator
        Chooses the stretch and the rubbish.
    length : int
        Characters overwritten.

    Returns
    -------
    line : str
        Same length; no separator is added, some may be lost.
    """
    at = int(generator.integers(0, max(1, len(line) - length)))
    picks = generator.integers(0, len(GARBAGE), size=min(length, len(line)))
    rubbish = "".join(GARBAGE[n] for n in picks)
    return line[:at] + rubbish + line[at + length :]


def truncated(line: str, generator: np.random.Generator) -> str:
    """
    A line of which the end is missing.

    Parameters
    ----------
    line : str
        Line without its end.
    generator : numpy.random.Generator
        Chooses where it is cut, between a tenth and nine tenths.

    Returns
    -------
    line : str
        Beginning of the line.
    """
    share = float(generator.uniform(0.1, 0.9))
    return line[: max(1, int(len(line) * share))]
