"""Single lines whose label is years away from the lines around them: a garbled year."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sunledger.stages.tables import Rejection, Table, written_row

FAR = 300 * 86400
"""No pause, file order or clock setting moves labels this far for a line or three. [s]"""
MOST = 3
STEADY = 3
"""Lines before and after that must agree with each other for those between to be called stray."""
REASON = "the label is years away from the lines before and after"


def stray_rows(labels: NDArray[np.int64], before: NDArray[np.int64]) -> NDArray[np.intp]:
    """
    Rows whose label was garbled into another year.

    Parameters
    ----------
    labels : ndarray of int64, shape (row,)
        Labels in file order. [s]
    before : ndarray of int64, shape (earlier,)
        The last labels before them, at most `STEADY`. [s]

    Returns
    -------
    rows : ndarray of int, shape (stray,)
        Up to `MOST` rows in succession that are more than `FAR` away from at least `STEADY` rows
        before and `STEADY` rows after, which lie within `FAR` of each other. A clock that stays
        wrong for longer is no garbled label; its readings are kept.
    """
    every = np.concatenate([before, labels])
    jumps = np.flatnonzero(np.abs(np.diff(every)) > FAR)
    if len(jumps) < 2:
        return np.zeros(0, np.intp)
    edges = np.concatenate([[-1], jumps, [len(every) - 1]])
    width = np.diff(edges)  # rows from one jump to the next
    out, back = jumps[:-1], jumps[1:]
    stray = (width[1:-1] <= MOST) & (width[:-2] >= STEADY) & (width[2:] >= STEADY)
    stray &= np.abs(every[back + 1] - every[out]) <= FAR
    rows = [np.arange(a + 1, b + 1) for a, b in zip(out[stray], back[stray], strict=True)]
    found = np.concatenate([np.zeros(0, np.intp), *rows]) - len(before)
    return np.asarray(found[found >= 0], np.intp)


def ends_in_doubt(labels: NDArray[np.int64]) -> bool:
    """
    Whether the rows after these are needed to judge the last of them.

    Parameters
    ----------
    labels : ndarray of int64, shape (row,)
        Labels in file order. [s]

    Returns
    -------
    doubt : bool
        True where a jump stands among the last rows.
    """
    return bool((np.abs(np.diff(labels[-(MOST + STEADY + 1) :])) > FAR).any())


def without_strays(table: Table, before: NDArray[np.int64], columns: dict[str, str]) -> Table:
    """
    The same table with stray lines among the rejected ones.

    Parameters
    ----------
    table : Table
        Lines of a file.
    before : ndarray of int64, shape (earlier,)
        The last labels before them. [s]
    columns : dict of str
        Channel → column, for the text of the line, which is no longer at hand.

    Returns
    -------
    table : Table
        With as many data lines as before.
    """
    rows = stray_rows(table.label_time, before)
    if not len(rows):
        return table
    rejected = list(table.rejected)
    for row in rows.tolist():
        label = int(table.label_time[row])
        written = {c: float(table.values[n][row]) for n, c in columns.items()}
        text = written_row(label, written)
        rejected.append(Rejection(int(table.line[row]), REASON, text, label))
    stay = np.ones(len(table.label_time), bool)
    stay[rows] = False
    return replace(
        table,
        label_time=table.label_time[stay],
        line=table.line[stay],
        values={name: column[stay] for name, column in table.values.items()},
        rejected=sorted(rejected, key=lambda r: r.line),
    )
