"""Which quoted lines can be read with the quotes taken away."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

import raw_tables
from sunledger.stages.blocks import Block
from sunledger.stages.columns import split_fields
from sunledger.stages.quotes import misquoted


def test_lines_are_told_apart() -> None:
    """Plain quoting passes; everything else is left to the rule."""
    lines = [
        b'"a","b",c', b'a,"b"', b'"a,b",c', b'"a', b'a"b,c', b'"a""b",c', b'"a" ,b', b'"a"b,"c"',
    ]  # fmt: skip
    block = Block.of(b"\n".join(lines))
    assert misquoted(block, b'"', b",") == [2, 3, 4, 5, 6, 7]


@given(st.lists(st.text('a",', max_size=8), min_size=1, max_size=4), st.sampled_from(",; "))
def test_what_passes_has_the_same_fields_without_quotes(lines: list[str], separator: str) -> None:
    """The rule for fields is the judge."""
    lines = [line.replace(",", separator) for line in lines]
    word = {",": "comma", ";": "semicolon", " ": "blanks"}[separator]
    quoted = raw_tables.layout(quote='"', separator=word)
    bare = raw_tables.layout(separator=word)
    bad = misquoted(Block.of("\n".join(lines).encode()), b'"', separator.encode())
    for row, line in enumerate(lines):
        if row not in bad and line.strip():
            assert split_fields(line, quoted) == split_fields(line.replace('"', ""), bare)
