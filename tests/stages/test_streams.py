"""Raw files: every compression, cuts, limits, and paths that must be refused."""

from __future__ import annotations

import bz2
import gzip
import hashlib
import io
import lzma
import os
import zipfile
from pathlib import Path

import pytest

from sunledger.errors import RawFileError
from sunledger.stages import streams
from sunledger.stages.streams import RawFile, open_text, read_pieces

TEXT = b"".join(b"2031-03-08 %02d:%02d,%d.5\n" % (i // 60, i % 60, i) for i in range(1440))


def _zip(data: bytes) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("day.txt", data)
    return held.getvalue()


PACKERS = {
    "plain": lambda d: d,
    "gzip": gzip.compress,
    "bzip2": bz2.compress,
    "xz": lzma.compress,
    "zip": _zip,
}


@pytest.mark.parametrize("kind", PACKERS)
def test_every_compression_gives_the_same_text(kind: str, tmp_path: Path) -> None:
    """The kind is told by the first bytes, not by the name."""
    path = tmp_path / "day.txt"
    path.write_bytes(PACKERS[kind](TEXT))
    assert open_text(path, tmp_path) == streams.RawText(TEXT, cut=False)


@pytest.mark.parametrize("kind", ["gzip", "bzip2", "xz"])
def test_members_one_after_the_other_are_one_text(kind: str, tmp_path: Path) -> None:
    """Loggers append compressed members to one file."""
    path = tmp_path / "day.txt"
    path.write_bytes(PACKERS[kind](TEXT) * 2 + (b"\0" * 7 if kind == "gzip" else b""))
    assert open_text(path, tmp_path) == streams.RawText(TEXT * 2, cut=False)


@pytest.mark.parametrize("kind", ["gzip", "xz", "bzip2", "zip"])
def test_a_cut_compression_gives_what_can_be_read(kind: str, tmp_path: Path) -> None:
    """What was decoded is the beginning of the text, and the cut is told."""
    path = tmp_path / "day.txt"
    packed = PACKERS[kind](TEXT)
    path.write_bytes(packed[: len(packed) // 2])
    text = open_text(path, tmp_path)
    assert text.cut
    assert TEXT.startswith(text.data)
    if kind == "gzip":
        assert len(text.data) > len(TEXT) // 4


def test_a_damaged_gzip_gives_all_before_the_damage(tmp_path: Path) -> None:
    """A wrong checksum loses nothing but the trust in the end."""
    path = tmp_path / "day.txt"
    packed = bytearray(gzip.compress(TEXT))
    packed[-6] ^= 0xFF
    path.write_bytes(packed)
    assert open_text(path, tmp_path) == streams.RawText(TEXT, cut=True)


@pytest.mark.parametrize("kind", ["gzip", "bzip2", "xz", "zip"])
def test_a_bomb_is_refused(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By ratio once it is large, and by size."""
    path = tmp_path / "bomb.txt"
    path.write_bytes(PACKERS[kind](b"0" * (1 << 20)))
    monkeypatch.setattr(streams, "RATIO_FREE_BYTES", 1 << 18)
    monkeypatch.setattr(streams, "MAX_RATIO", 100)
    with pytest.raises(RawFileError, match=r"bomb\.txt: inflates to more than 100 times"):
        open_text(path, tmp_path)
    monkeypatch.setattr(streams, "MAX_INFLATED_BYTES", 1 << 18)
    with pytest.raises(RawFileError, match="inflates to more than 262144 bytes"):
        open_text(path, tmp_path)


def test_a_gzip_of_zeros_is_refused_with_the_real_limits(tmp_path: Path) -> None:
    """65 MiB of one byte deflate by more than 1000."""
    path = tmp_path / "bomb.txt"
    path.write_bytes(gzip.compress(b"0" * (66 << 20)))
    with pytest.raises(RawFileError, match="1000 times its size"):
        open_text(path, tmp_path)


def test_paths_outside_the_raw_folder_are_refused(tmp_path: Path) -> None:
    """By a link, by dots, or by a circle of links."""
    root = tmp_path / "raw"
    root.mkdir()
    (tmp_path / "secret.txt").write_bytes(TEXT)
    (root / "link.txt").symlink_to(tmp_path / "secret.txt")
    (root / "one").symlink_to(root / "two")
    (root / "two").symlink_to(root / "one")
    for name in ("link.txt", "../secret.txt"):
        with pytest.raises(RawFileError, match="leads outside the raw folder"):
            open_text(root / name, root)
    with pytest.raises(RawFileError, match="run in a circle"):
        open_text(root / "one", root)
    with pytest.raises(RawFileError, match="cannot be opened"):
        open_text(root / "none.txt", root)


def test_what_is_no_regular_file_is_refused(tmp_path: Path) -> None:
    """A named pipe would wait for ever."""
    os.mkfifo(tmp_path / "pipe.txt")
    with pytest.raises(RawFileError, match="not a regular file"):
        open_text(tmp_path / "pipe.txt", tmp_path)


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
@pytest.mark.parametrize("size", [1, 100, 5000])
def test_pieces_end_at_line_ends_and_join_to_the_file(
    end: bytes, size: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No piece cuts a line, and the digest is that of the file on disk."""
    data = TEXT.replace(b"\n", end)
    (tmp_path / "day.txt").write_bytes(data)
    raw = RawFile(tmp_path / "day.txt", "day.txt")
    monkeypatch.setattr(streams, "READ_BYTES", 64)
    pieces = [piece.data for piece in read_pieces(raw, size)]
    assert b"".join(pieces) == data
    assert len(pieces) > 4
    assert all(piece.endswith(end) for piece in pieces[:-1])
    assert raw.sha256 == hashlib.sha256(data).hexdigest()


def test_a_file_without_line_ends_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Memory stays bounded."""
    monkeypatch.setattr(streams, "MAX_UNBROKEN_BYTES", 1 << 16)
    (tmp_path / "day.txt").write_bytes(b"7" * (1 << 18))
    monkeypatch.setattr(streams, "READ_BYTES", 1 << 12)
    with pytest.raises(RawFileError, match="no line end within 65536 bytes"):
        list(read_pieces(RawFile(tmp_path / "day.txt", "day.txt"), 1 << 10))
