"""Blocks of lines."""

from __future__ import annotations

import numpy as np
import pytest

from sunledger.stages.blocks import NO_LABEL, Block, Judged, State


@pytest.mark.parametrize(
    "data", [b"a\nbb\n\nc\n", b"a\r\nbb\r\n\r\nc", b"a\rbb\r\rc", b"a\r\nbb\n\nc"]
)
def test_line_ends_of_every_kind(data: bytes) -> None:
    """Numbers of lines are those of an editor."""
    block = Block.of(data)
    assert [block.line(row) for row in range(len(block.ends))] == [b"a", b"bb", b"", b"c"]


def test_lines_found_by_what_they_hold() -> None:
    """Each line once, also at the end of the block."""
    block = Block.of(b"abab\nx\nab\nb")
    assert block.rows_with(b"ab") == [0, 2]
    assert block.rows_with(b"ab", b"b") == [0, 2]  # a line that holds the telltale alone is none
    many = Block.of(b"b\n" * 2000 + b"ab\n")
    assert many.rows_with(b"ab", b"b") == [2000]
    assert block.rows_starting(b"ab").tolist() == [True, False, True, False]
    assert block.rows_starting(b"b").tolist() == [False, False, False, True]


def test_a_second_layout_only_improves() -> None:
    """A verdict with a label beats one without; a good one beats both."""
    first = Judged.empty(4, 1)
    first.state[:] = [State.BAD, State.BAD, State.BAD, State.OTHER]
    first.labels[:] = [NO_LABEL, NO_LABEL, 60, NO_LABEL]
    first.reasons = {0: "a", 1: "a", 2: "a", 3: "7"}
    second = Judged.empty(4, 1)
    second.state[:] = [State.GOOD, State.BAD, State.BAD, State.NO_DATA]
    second.labels[:] = [120, 180, NO_LABEL, NO_LABEL]
    second.values[0][:] = 5.0
    second.reasons = {1: "b", 2: "b"}
    first.improve(second, np.ones(4, bool))
    assert first.state.tolist() == [State.GOOD, State.BAD, State.BAD, State.OTHER]
    assert first.labels.tolist()[:3] == [120, 180, 60]
    assert first.values[0][0] == 5.0
    assert (first.reasons[1], first.reasons[2]) == ("b", "a")
