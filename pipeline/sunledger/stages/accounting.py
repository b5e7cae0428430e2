"""Every reading accounted for: kept, repeated, or conflicting with one of the same label."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

KEPT, CONFLICTING, REPEATED = 0, 1, 2


@dataclass(frozen=True)
class Account:
    """
    Numbers of data lines; what is read is either kept, repeated, conflicting or rejected.

    Parameters
    ----------
    data_lines : int
        Lines read that should hold a reading.
    kept : int
        Readings for use.
    repeated : int
        Readings that were there already, with the same label and the same values.
    conflicting : int
        Readings with the label of another reading of the same rising run, but other values.
    rejected : int
        Lines that could not be read.
    """

    data_lines: int
    kept: int
    repeated: int
    conflicting: int
    rejected: int

    def __post_init__(self) -> None:
        found = self.kept + self.repeated + self.conflicting + self.rejected
        if found != self.data_lines:
            raise AssertionError(f"{self.data_lines} data lines read, {found} accounted for")

    def as_dict(self) -> dict[str, int]:
        """
        The numbers by name.

        Returns
        -------
        numbers : dict
            In the order of the parameters.
        """
        return dict(vars(self))


def rising_runs(labels: NDArray[np.int64], last: int | None = None) -> NDArray[np.int64]:
    """
    Number of the rising run that every label belongs to.

    Parameters
    ----------
    labels : ndarray of int64, shape (row,)
        Labels in file order. [s]
    last : int or None
        Label before the first one.

    Returns
    -------
    run : ndarray of int64, shape (row,)
        0 for the run that ``last`` belongs to; one more wherever the labels run backwards.
    """
    before = np.concatenate([labels[:1] if last is None else [last], labels[:-1]])
    return np.cumsum(labels < before)


def line_status(
    labels: NDArray[np.int64], runs: NDArray[np.int64], values: Sequence[NDArray[np.float64]]
) -> NDArray[np.int8]:
    """
    Whether each reading is kept, repeated or conflicting.

    Parameters
    ----------
    labels : ndarray of int64, shape (row,)
        Labels in file order. [s]
    runs : ndarray of int64, shape (row,)
        Rising run of every reading.
    values : sequence of ndarray of float64, shape (row,)
        Values of every channel; two missing values count as the same.

    Returns
    -------
    status : ndarray of int8, shape (row,)
        `KEPT`, `CONFLICTING` or `REPEATED`.

    Notes
    -----
    A reading is repeated when an earlier one anywhere has its label and its values. It is
    conflicting when an earlier one of its own rising run has its label, but other values. The
    same label after the labels ran backwards, with other values, is a second true reading (the
    clock was set back) and is kept.
    """
    status = np.zeros(len(labels), np.int8)
    rows = _rows_sharing_a_label(labels)
    if not len(rows):
        return status
    keys = np.column_stack([labels[rows], *(_bits(column[rows]) for column in values)])
    repeated = ~_first_of_its_kind(keys)
    second = ~_first_of_its_kind(np.column_stack([labels[rows], runs[rows]]))
    status[rows[second]] = CONFLICTING
    status[rows[repeated]] = REPEATED
    return status


def _rows_sharing_a_label(labels: NDArray[np.int64]) -> NDArray[np.intp]:
    """Rows whose label occurs more than once, in file order."""
    if np.all(labels[1:] > labels[:-1]):
        return np.zeros(0, np.intp)
    order = np.argsort(labels, kind="stable")
    same = labels[order][1:] == labels[order][:-1]
    shared = np.zeros(len(labels), bool)
    shared[order[1:][same]] = True
    shared[order[:-1][same]] = True
    return np.flatnonzero(shared)


def _bits(column: NDArray[np.float64]) -> NDArray[np.int64]:
    """Values as integers that are equal exactly when the values are."""
    plain = np.where(np.isnan(column), np.nan, column + 0.0)  # one NaN, and no negative zero
    return plain.view(np.int64)


def _first_of_its_kind(keys: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which rows are the first with their key."""
    whole = np.ascontiguousarray(keys).view(np.dtype((np.void, keys.itemsize * keys.shape[1])))
    _, first = np.unique(whole.ravel(), return_index=True)
    is_first = np.zeros(len(keys), bool)
    is_first[first] = True
    return is_first
