"""A BagIt 1.0 package (RFC 8493): payload, manifests, tag files; plain files, nothing else."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Mapping
from pathlib import Path

from sunledger.archive.free_text import one_line
from sunledger.errors import ArchiveError

ALGORITHMS = ("sha256", "sha512")
_DECLARATION = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
_BLOCK = 1 << 20
# Names that need no escaping, about which writers of bags disagree ("%" becomes "%25" in RFC 8493).
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]*")


def write_bag(target: Path, payload: Mapping[str, Path | bytes], info: Mapping[str, str]) -> None:
    """
    Write a bag; the folder appears under its name only when it is whole.

    Parameters
    ----------
    target : Path
        Folder of the bag; must not be there yet.
    payload : dict
        Path below ``data/`` → a file to copy, or content.
    info : dict
        Lines of ``bag-info.txt``, without ``Payload-Oxum``, which is made here.

    Raises
    ------
    ArchiveError
        If the target is there, a name is not safe, or the system refuses to write.
    """
    target = Path(target)
    if target.exists():
        raise ArchiveError(f"{target}: is there already; a bag is never changed")
    for name in payload:
        for word in name.split("/"):
            _checked(word)
    partial = target.with_name(f".{target.name}.partial")
    try:
        shutil.rmtree(partial, ignore_errors=True)
        partial.mkdir(parents=True)
        for name, source in payload.items():
            _put(partial / "data" / name, source)
        _tags(partial, info)
        os.replace(partial, target)
    except OSError as error:
        shutil.rmtree(partial, ignore_errors=True)
        raise ArchiveError(f"{target}: cannot be written: {error.strerror or error}") from error


def _checked(word: str) -> None:
    if not _NAME.fullmatch(word):
        raise ArchiveError(f"{word!r}: names in a bag are of A-Z, a-z, 0-9, and _ . - after that")


def _put(path: Path, source: Path | bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    if isinstance(source, bytes):
        path.write_bytes(source)
    else:
        shutil.copyfile(source, path)


def _tags(bag: Path, info: Mapping[str, str]) -> None:
    payload = sorted(p for p in (bag / "data").rglob("*") if p.is_file())
    oxum = f"{sum(p.stat().st_size for p in payload)}.{len(payload)}"
    lines = [f"{key}: {one_line(value)}" for key, value in info.items()]
    _text(bag / "bagit.txt", _DECLARATION)
    _text(bag / "bag-info.txt", "".join(f"{x}\n" for x in [*lines, f"Payload-Oxum: {oxum}"]))
    _manifests(bag, "manifest", payload)
    tags = sorted(p for p in bag.iterdir() if p.is_file())
    _manifests(bag, "tagmanifest", tags)


def _manifests(bag: Path, kind: str, files: list[Path]) -> None:
    digests = {p: _digests(p) for p in files}
    for number, algorithm in enumerate(ALGORITHMS):
        lines = [f"{digests[p][number]}  {p.relative_to(bag).as_posix()}\n" for p in files]
        _text(bag / f"{kind}-{algorithm}.txt", "".join(lines))


def _digests(path: Path) -> list[str]:
    hashes = [hashlib.new(name) for name in ALGORITHMS]
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            for each in hashes:
                each.update(block)
    return [each.hexdigest() for each in hashes]


def _text(path: Path, content: str) -> None:
    path.write_bytes(content.encode())
