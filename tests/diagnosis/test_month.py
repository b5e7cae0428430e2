"""What the checks of a month read."""

from __future__ import annotations

from diagnosed_months import month
from invented_months import Month


def test_each_piece_is_formed_once() -> None:
    """Selection and moments are the same objects when asked for again."""
    given = month(Month(days=3, cloudiness=-1.0))
    assert given.clear is given.clear
    assert given.moments is given.moments
    assert given.moments.minutes.sum() <= given.clear.middle.size
