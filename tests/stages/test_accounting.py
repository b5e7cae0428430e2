"""Kept, repeated, conflicting."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunledger.stages.accounting import (
    CONFLICTING,
    KEPT,
    REPEATED,
    Account,
    line_status,
    rising_runs,
)


def _status(rows: list[tuple[int, float]]) -> list[int]:
    labels = np.array([label for label, _ in rows], np.int64)
    values = np.array([value for _, value in rows])
    return line_status(labels, rising_runs(labels), [values]).tolist()


def test_the_same_label_and_values_anywhere_is_a_repeat() -> None:
    """Also after the labels ran backwards; missing equals missing."""
    nan = float("nan")
    assert _status([(1, 5.0), (1, 5.0), (2, nan), (1, 5.0), (2, nan), (3, -0.0), (3, 0.0)]) == [
        KEPT, REPEATED, KEPT, REPEATED, REPEATED, KEPT, REPEATED,
    ]  # fmt: skip


def test_other_values_in_one_rising_run_conflict() -> None:
    """The first is kept, the later ones stay beside it."""
    assert _status([(1, 5.0), (2, 5.0), (2, 6.0), (2, 7.0), (2, 6.0), (3, 1.0)]) == [
        KEPT, KEPT, CONFLICTING, CONFLICTING, REPEATED, KEPT,
    ]  # fmt: skip


def test_other_values_after_the_labels_ran_backwards_are_a_true_reading() -> None:
    """The clock was set back: both readings were really taken."""
    assert _status([(1, 5.0), (2, 5.0), (3, 5.0), (2, 6.0), (3, 6.0), (4, 1.0)]) == [KEPT] * 6


def test_an_infinite_value_is_a_value() -> None:
    """Over range is not missing."""
    assert _status([(1, np.inf), (1, np.nan), (1, np.inf)]) == [KEPT, CONFLICTING, REPEATED]


def test_all_channels_count() -> None:
    """One different channel is enough."""
    labels = np.array([1, 1, 1])
    columns = [np.array([1.0, 1.0, 1.0]), np.array([2.0, 3.0, 2.0])]
    assert line_status(labels, np.zeros(3, int), columns).tolist() == [KEPT, CONFLICTING, REPEATED]


def test_runs_go_on_from_a_last_label() -> None:
    """Equal labels do not end a run."""
    labels = np.array([3, 3, 4, 2, 5])
    assert rising_runs(labels).tolist() == [0, 0, 0, 1, 1]
    assert rising_runs(labels, 4).tolist() == [1, 1, 1, 2, 2]
    assert rising_runs(np.zeros(0, np.int64), 4).tolist() == []


@given(
    st.lists(st.tuples(st.integers(0, 6), st.sampled_from([1.0, 2.0, float("nan")])), max_size=20)
)
def test_statuses_follow_their_definition(rows: list[tuple[int, float]]) -> None:
    """The sentence of the rule, row by row."""
    run, expected = 0, []
    seen: list[tuple[int, str, int]] = []
    for i, (label, value) in enumerate(rows):
        run += i > 0 and label < rows[i - 1][0]
        same = [entry for entry in seen if entry[0] == label]
        if any(entry[1] == repr(value) for entry in same):
            expected.append(REPEATED)
        else:
            expected.append(CONFLICTING if any(entry[2] == run for entry in same) else KEPT)
        seen.append((label, repr(value), run))
    assert _status(rows) == expected


def test_an_account_must_add_up() -> None:
    """Otherwise a line was lost without a word."""
    assert Account(10, 4, 3, 2, 1).as_dict()["conflicting"] == 2
    with pytest.raises(AssertionError, match="11 data lines read, 10 accounted for"):
        Account(11, 4, 3, 2, 1)
