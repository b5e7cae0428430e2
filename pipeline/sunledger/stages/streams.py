"""Raw files as bytes: plain or compressed, inside the raw folder, within limits, in pieces."""

from __future__ import annotations

import bz2
import hashlib
import lzma
import stat
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import IO, Any, Self

from sunledger.errors import RawFileError

PIECE_BYTES = 6 << 20
"""Of a file of any size: its readings never lie in memory at once."""
SHORT_FILE_BYTES, LARGE_PIECE_BYTES = 128 << 20, 9 << 20
"""A file up to the first is read in larger pieces, each of which costs some 30 ms of its own."""
READ_BYTES = 3 << 20
LEAST_ASIDE = 1 << 20
"""Shorter blocks are digested at once: handing them to a thread would cost more. [byte]"""
MAX_INFLATED_BYTES = 2 << 30
MAX_RATIO = 1000
# Below this size a high ratio is no danger: a short table of one repeated line reaches it too.
RATIO_FREE_BYTES = 64 << 20
MAX_UNBROKEN_BYTES = 256 << 20
CUT = "file cut inside its compression"
_BROKEN = (zlib.error, OSError, lzma.LZMAError, EOFError, ValueError)
_INPUT_BYTES = 4096  # an error in the compressed data loses at most what this many bytes held


@dataclass(frozen=True)
class RawText:
    """
    Contents of a raw file.

    Parameters
    ----------
    data : bytes
        What the file holds, after decompression.
    cut : bool
        Whether the compression ended, or broke, before the data did.
    """

    data: bytes
    cut: bool = False


@dataclass
class RawFile:
    """
    One raw file, opened only when its pieces are asked for.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        The end of ``path`` that lies below the raw folder, with forward slashes.
    sha256 : str
        Digest of the file's bytes as they lie on disk; set by reading the file to its end.
    """

    path: Path
    name: str
    sha256: str = field(default="", compare=False)

    @property
    def root(self) -> Path:
        """
        The raw folder.

        Returns
        -------
        root : Path
            ``path`` without ``name``.
        """
        return self.path.parents[len(PurePosixPath(self.name).parts) - 1]


def open_text(path: Path, root: Path) -> RawText:
    """
    Read a whole raw file, decompressed.

    Parameters
    ----------
    path : Path
        Plain, gzip, bzip2, xz or zip file; told apart by its first bytes.
    root : Path
        Raw folder that the file must lie in, also after following links.

    Returns
    -------
    text : RawText
        The bytes, and whether the compression was cut.

    Raises
    ------
    RawFileError
        If the path leaves the raw folder or is no regular file, or inflates beyond the limits.
    """
    found: list[bytes] = []
    cut = False
    for piece in read_pieces(RawFile(path, _below(path, root)), PIECE_BYTES):
        found.append(piece.data)
        cut = cut or piece.cut
        if sum(map(len, found)) > MAX_INFLATED_BYTES:
            raise RawFileError(
                path, 0, f"larger than {MAX_INFLATED_BYTES} bytes; read it in pieces"
            )
    return RawText(b"".join(found), cut)


def _below(path: Path, root: Path) -> str:
    try:
        return path.relative_to(root).as_posix()
    except ValueError:
        raise RawFileError(path, 0, f"leads outside the raw folder {root}") from None


def read_pieces(raw: RawFile, size: int | None = None) -> Iterator[RawText]:
    """
    Read a raw file in pieces that end at a line end, and digest it on the way.

    Parameters
    ----------
    raw : RawFile
        The file; its ``sha256`` is set once the last piece has been taken.
    size : int or None
        Bytes to aim at for a piece; None by the length of the file.

    Yields
    ------
    piece : RawText
        Consecutive bytes; the last piece may lack its line end, and alone may be ``cut``.

    Raises
    ------
    RawFileError
        If the path leaves the raw folder or is no regular file, or inflates beyond the limits.
    """
    path = checked_path(raw.path, raw.root)
    if size is None:
        short = path.stat().st_size <= SHORT_FILE_BYTES
        size = LARGE_PIECE_BYTES if short else PIECE_BYTES
    with path.open("rb") as stream, _Digest() as digest:
        source = _Source(stream, digest)
        head = stream.read(8)
        stream.seek(0)
        chunks = _inflated(raw.path, source, head, size)
        yield from _at_line_ends(raw.path, chunks, source, size)
        source.drain()
        raw.sha256 = digest.hexdigest()


class _Digest:
    """SHA-256 beside the reading: large blocks are digested in a thread while they are parsed."""

    def __init__(self) -> None:
        self.sha, self.pool = hashlib.sha256(), ThreadPoolExecutor(1)
        self.waiting: Future[None] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.pool.shutdown()

    def update(self, block: bytes) -> None:
        """Take a block; blocks are digested in the order in which they came, one at a time."""
        self._settle()
        if len(block) < LEAST_ASIDE:
            self.sha.update(block)
        else:
            self.waiting = self.pool.submit(self.sha.update, block)

    def _settle(self) -> None:
        if self.waiting is not None:
            self.waiting.result()
            self.waiting = None

    def hexdigest(self) -> str:
        """Digest of all blocks."""
        self._settle()
        return self.sha.hexdigest()


def checked_path(path: Path, root: Path) -> Path:
    """
    Resolve a path and refuse it outside the raw folder.

    Parameters
    ----------
    path, root : Path
        The file, and the raw folder.

    Returns
    -------
    path : Path
        Absolute path without links.

    Raises
    ------
    RawFileError
        If the file is missing, its links run in a circle, it lies outside ``root``, or is no
        regular file.
    """
    try:
        real = path.resolve(strict=True)
        mode = real.stat().st_mode
    except (OSError, RuntimeError) as error:
        circle = isinstance(error, RuntimeError) or getattr(error, "errno", None) == 40
        why = "its symbolic links run in a circle" if circle else "cannot be opened"
        raise RawFileError(path, 0, why) from error
    if not real.is_relative_to(root.resolve()):
        raise RawFileError(path, 0, f"leads outside the raw folder {root}")
    if not stat.S_ISREG(mode):
        raise RawFileError(path, 0, "is not a regular file")
    return real


class _Source:
    """The file's own bytes, digested as they are read; knows whether the compression was cut."""

    def __init__(self, stream: IO[bytes], digest: _Digest) -> None:
        self.stream, self.digest = stream, digest
        self.cut = False
        self.taken = 0

    def blocks(self, size: int) -> Iterator[bytes]:
        """Take the file's bytes in blocks of a given size."""
        while block := self.stream.read(size):
            self.digest.update(block)
            self.taken += len(block)
            yield block

    def drain(self) -> None:
        """Digest what the decompressor did not ask for."""
        for _ in self.blocks(READ_BYTES):
            pass


def _inflated(path: Path, source: _Source, head: bytes, size: int) -> Iterator[bytes]:
    if head.startswith(b"\x1f\x8b"):
        return _limited(path, source, _decompressed(source, lambda: zlib.decompressobj(wbits=31)))
    if head.startswith(b"BZh"):
        return _limited(path, source, _decompressed(source, bz2.BZ2Decompressor))
    if head.startswith(b"\xfd7zXZ\x00"):
        return _limited(path, source, _decompressed(source, lzma.LZMADecompressor))
    if head.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return _zip_members(path, source)
    # as large as a piece: most files then are one block, and are not put together again
    return source.blocks(max(size, READ_BYTES))


def _decompressed(source: _Source, make: Callable[[], Any]) -> Iterator[bytes]:
    """Decompress member after member; what follows an error or a cut is given up."""
    engine = make()
    for block in source.blocks(_INPUT_BYTES):
        while block:
            if engine.eof:
                # Tapes and modems pad the end of a compressed file with NUL bytes.
                block = block.lstrip(b"\0")
                if not block:
                    break
                engine = make()
            before = engine.copy() if hasattr(engine, "copy") else None
            try:
                yield engine.decompress(block)
            except _BROKEN:
                source.cut = True
                yield from _last_bytes(before, block)
                return
            block = engine.unused_data if engine.eof else b""
    source.cut = not engine.eof


def _last_bytes(engine: Any, block: bytes) -> Iterator[bytes]:
    """What can still be decompressed of a block with an error in it, byte by byte."""
    if engine is None:
        return
    try:
        for at in range(len(block)):
            yield engine.decompress(block[at : at + 1])
    except _BROKEN:
        return


def _limited(path: Path, source: _Source, chunks: Iterable[bytes]) -> Iterator[bytes]:
    """Pass the chunks on until they exceed the limits on size or ratio."""
    given = 0
    for chunk in chunks:
        given += len(chunk)
        _check_limits(path, given, source.taken)
        yield chunk


def _check_limits(path: Path, inflated: int, compressed: int) -> None:
    if inflated > MAX_INFLATED_BYTES:
        raise RawFileError(path, 0, f"inflates to more than {MAX_INFLATED_BYTES} bytes; refused")
    if inflated > RATIO_FREE_BYTES and inflated > MAX_RATIO * max(compressed, 1):
        raise RawFileError(path, 0, f"inflates to more than {MAX_RATIO} times its size; refused")


def _zip_members(path: Path, source: _Source) -> Iterator[bytes]:
    """Members of a zip file one after the other, in the order of their names."""
    given = 0
    try:
        with zipfile.ZipFile(source.stream) as archive:
            for info in sorted(archive.infolist(), key=lambda i: i.filename):
                if info.flag_bits & 1:
                    raise RawFileError(path, 0, f"member {info.filename!r} is encrypted")
                with archive.open(info) as member:
                    while chunk := member.read(1 << 16):
                        given += len(chunk)
                        _check_limits(path, given, info.compress_size)
                        yield chunk
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError):
        source.cut = True
    finally:
        source.stream.seek(0)


def _at_line_ends(
    path: Path, chunks: Iterable[bytes], source: _Source, size: int
) -> Iterator[RawText]:
    """Gather chunks and cut them after a line end."""
    held: list[bytes] = []
    length = 0
    for chunk in chunks:
        held.append(chunk)
        length += len(chunk)
        at = _last_line_end(chunk) if length >= size else 0
        if at:
            head = memoryview(chunk)[:at]
            yield RawText(b"".join([*held[:-1], head]))
            held, length = [chunk[at:]], len(chunk) - at
        elif length > MAX_UNBROKEN_BYTES:
            raise RawFileError(path, 0, f"no line end within {MAX_UNBROKEN_BYTES} bytes; refused")
    yield RawText(b"".join(held), source.cut)


def _last_line_end(data: bytes) -> int:
    """Position after the last line end; a closing CR may be half of a CR LF and is left."""
    at = data.rfind(b"\n") + 1
    return at or data.rfind(b"\r", 0, len(data) - 1) + 1
