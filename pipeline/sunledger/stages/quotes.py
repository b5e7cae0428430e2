"""Quoted fields: which lines can be read with the quotes simply taken away."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sunledger.stages.blocks import Block


def misquoted(block: Block, quote: bytes, separator: bytes) -> list[int]:
    """
    Lines in which quotes do more than to stand around a plain field.

    Parameters
    ----------
    block : Block
        The lines.
    quote, separator : bytes
        One byte each.

    Returns
    -------
    rows : list of int
        Lines with an unclosed, doubled or stray quote, or a separator or blank at the edge of a
        quoted field; the rule reads them.
    """
    buffer = np.frombuffer(block.data, np.uint8)
    places = np.flatnonzero(buffer == quote[0])
    row = np.searchsorted(block.ends, places)
    first = np.searchsorted(places, block.starts)[row]
    opening = (np.arange(len(places)) - first) % 2 == 0
    # Around the whole block stand line ends, so that its first and last byte have neighbours.
    padded = np.concatenate([[10], buffer, [10]]).astype(np.uint8)
    before, after = padded[places], padded[places + 2]
    fits = np.where(opening, _is_edge(before, separator), _is_edge(after, separator))
    bad = row[~fits].tolist()
    count = np.bincount(row, minlength=len(block.ends))
    bad += np.flatnonzero(count % 2).tolist()
    bad += _inner_separators(buffer, places, row, opening, separator)
    return sorted(set(bad))


def _is_edge(byte: NDArray[np.uint8], separator: bytes) -> NDArray[np.bool_]:
    edges = [10, separator[0], 9] if separator == b" " else [10, separator[0]]
    return np.isin(byte, edges)


def _inner_separators(
    buffer: NDArray[np.uint8],
    places: NDArray[np.intp],
    row: NDArray[np.intp],
    opening: NDArray[np.bool_],
    separator: bytes,
) -> list[int]:
    """Rows in which a separator stands between an opening quote and the next quote."""
    marks = np.flatnonzero(_is_edge(buffer, separator) & (buffer != 10))
    inside = np.searchsorted(marks, places)
    holds = np.zeros(len(places), bool)
    holds[:-1] = opening[:-1] & (inside[1:] > inside[:-1]) & (row[1:] == row[:-1])
    if separator == b" ":
        # Without its quotes an empty field would vanish between blanks.
        holds[:-1] |= opening[:-1] & (places[1:] == places[:-1] + 1)
    return [int(r) for r in row[holds]]
