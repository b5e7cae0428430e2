"""A published file and its manifest are kept beside, once, and never overwritten."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sunledger.archive import superseding
from sunledger.archive.atomic import replace_text
from sunledger.archive.manifest import Manifest, read_manifest, write_manifest
from sunledger.archive.superseding import supersede
from sunledger.errors import ArchiveError


def published(folder: Path, content: bytes, version: int) -> tuple[Path, Manifest]:
    """A file with its manifest."""
    path = folder / "ossel_minute_2031-03.nc"
    path.write_bytes(content)
    manifest = Manifest("minute", "ossel", "2031-03", "k", version=version)
    write_manifest(path, manifest)
    return path, manifest


def test_superseded_file_is_kept_beside_with_its_manifest(tmp_path: Path) -> None:
    path, manifest = published(tmp_path, b"first", 1)
    kept = supersede(path, manifest)
    assert kept == tmp_path / "superseded" / "ossel_minute_2031-03_v1.nc"
    assert path.read_bytes() == b"first"  # readers find a file until the new one replaces it
    assert kept.read_bytes() == b"first"
    assert read_manifest(kept) == manifest


def test_replacing_the_file_does_not_change_what_was_kept(tmp_path: Path) -> None:
    path, manifest = published(tmp_path, b"first", 1)
    kept = supersede(path, manifest)
    replace_text(path, b"second")
    assert kept is not None
    assert (kept.read_bytes(), path.read_bytes()) == (b"first", b"second")


def test_superseding_again_is_no_fault_but_another_file_is_never_overwritten(
    tmp_path: Path,
) -> None:
    path, manifest = published(tmp_path, b"first", 1)
    assert supersede(path, manifest) == supersede(path, manifest)
    replace_text(path, b"other")
    with pytest.raises(ArchiveError, match=r"_v1\.nc: already holds another file"):
        supersede(path, manifest)
    assert (tmp_path / "superseded" / "ossel_minute_2031-03_v1.nc").read_bytes() == b"first"


def test_open_file_is_not_kept(tmp_path: Path) -> None:
    path, manifest = published(tmp_path, b"open", 0)
    assert supersede(path, replace(manifest, status="open")) is None
    assert not (tmp_path / "superseded").exists()


def test_file_system_without_links_gets_a_copy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(superseding.errno.EPERM, "no links here")

    monkeypatch.setattr(superseding.os, "link", refuse)
    path, manifest = published(tmp_path, b"first", 1)
    kept = supersede(path, manifest)
    assert kept is not None
    assert kept.read_bytes() == b"first"
    assert kept.stat().st_ino != path.stat().st_ino
    replace_text(path, b"other")
    with pytest.raises(ArchiveError, match="already holds another file"):
        supersede(path, manifest)
