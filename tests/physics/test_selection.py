"""The better of two sources: by hand, by its laws, and however it is cut."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from sunledger.physics.selection import FIRST, NONE, SECOND, lasting_choice, reach

MASKS = st.lists(st.booleans(), min_size=1, max_size=120)


def test_by_hand() -> None:
    """A lapse is widened to five samples; four left between two of them are too few, five do.

    Lapses at 7, 16 and 26 of 35 samples reach from 5 to 9, 14 to 18 and 24 to 28; between them
    10 to 13 (four) and 19 to 23 (five) are left.
    """
    first = np.ones(35, bool)
    first[[7, 16, 26]] = False
    got = lasting_choice(first, np.ones(35), 5)
    assert got.tolist() == [1] * 5 + [2] * 14 + [1] * 5 + [2] * 5 + [1] * 6


def test_the_other_is_used_only_where_it_counts() -> None:
    """Else nothing is; a choice of single samples takes whatever there is."""
    first, second = np.array([1, 1, 0, 0, 1], bool), np.array([1, 0, 1, 0, 0], bool)
    assert lasting_choice(first, second, 1).tolist() == [FIRST, FIRST, SECOND, NONE, FIRST]
    assert lasting_choice(first, np.zeros(5), 5).tolist() == [NONE] * 5


def stretches(source: np.ndarray) -> list[tuple[int, int]]:
    """Source and length of each stretch."""
    cuts = np.flatnonzero(np.diff(source)) + 1
    return [(int(part[0]), part.size) for part in np.split(source, cuts)]


@given(MASKS, st.integers(1, 7))
def test_changes_are_never_closer_than_the_least_stretch(first: list[bool], least: int) -> None:
    """Between two changes; what the ends of the series cut off may be shorter."""
    got = lasting_choice(first, np.ones(len(first)), least)
    assert all(length >= least for _, length in stretches(got)[1:-1])
    assert not np.any((got == FIRST) & ~np.array(first))


@given(MASKS, MASKS, st.integers(1, 7), st.data())
def test_however_it_is_cut(
    first: list[bool], second: list[bool], least: int, data: st.DataObject
) -> None:
    """A piece with a halo of the declared reach gives what the whole gives."""
    size = min(len(first), len(second))
    one, two = np.array(first[:size]), np.array(second[:size])
    low = data.draw(st.integers(0, size - 1))
    high = data.draw(st.integers(low + 1, size))
    start, end = max(low - reach(least), 0), min(high + reach(least), size)
    piece = lasting_choice(one[start:end], two[start:end], least)
    whole = lasting_choice(one, two, least)
    assert_array_equal(piece[low - start : high - start], whole[low:high])


@pytest.mark.parametrize("least", [2, 5])
def test_a_shorter_halo_would_not_do(least: int) -> None:
    """The reach is no larger than it has to be."""
    short = reach(least) - 1
    rng = np.random.default_rng(1)
    differs = False
    for _ in range(400):
        one = rng.random(60) < 0.85
        cut = lasting_choice(one[30 - short : 31 + short], np.ones(1 + 2 * short), least)[short]
        differs |= bool(cut != lasting_choice(one, np.ones(60), least)[30])
    assert differs
