"""Pieces that are kept between runs: whole as they were saved, or not at all."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sunledger.run.pieces import keep_only, load_piece, save_piece

ARRAYS = {
    "time": np.arange(3, dtype=np.int64),
    "about": np.array([0.1, np.nan, -0.0]),
    "word": np.array([1, 2, 3], np.int8),
}
TOLD = {"interval": 60, "text": "\udc80 µ", "rows": [[1, None], [2, "x"]]}


def test_what_was_saved(tmp_path: Path) -> None:
    """Bits, kinds, order of the names, and the plain data beside them."""
    save_piece(tmp_path / "a.piece", ARRAYS, TOLD)
    held = load_piece(tmp_path / "a.piece")
    assert held is not None
    arrays, told = held
    assert list(arrays) == list(ARRAYS)
    assert told == TOLD
    for name, array in ARRAYS.items():
        assert arrays[name].dtype == array.dtype
        assert arrays[name].tobytes() == array.tobytes()


@pytest.mark.parametrize("at", [0.01, 0.3, 0.6, 0.97])
def test_a_damaged_piece_is_none(tmp_path: Path, at: float) -> None:
    """Cut, or with a byte changed within its data."""
    path = tmp_path / "a.piece"
    save_piece(path, {"x": np.arange(4000.0)}, TOLD)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(at * len(whole))])
    assert load_piece(path) is None
    changed = bytearray(whole)
    changed[len(whole) // 2] ^= 1
    path.write_bytes(bytes(changed))
    assert load_piece(path) is None


def test_a_piece_that_is_not_there(tmp_path: Path) -> None:
    """Is none."""
    assert load_piece(tmp_path / "a.piece") is None


def test_only_the_pieces_of_its_month_go(tmp_path: Path) -> None:
    """Those named stay, and those of other months."""
    for name in ("2031-06_a", "2031-06_b", "2031-07_a"):
        save_piece(tmp_path / f"{name}.piece", {}, None)
    keep_only(tmp_path, "2031-06", {"2031-06_b.piece"})
    assert sorted(p.stem for p in tmp_path.iterdir()) == ["2031-06_b", "2031-07_a"]
