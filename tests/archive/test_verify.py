"""Every missing, altered and foreign file is named; a sound archive has no finding."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from archive.small import small_archive
from sunledger.archive.changes import read_record
from sunledger.archive.manifest import checked_manifest, manifest_path, write_manifest
from sunledger.archive.verify import Finding, file_of, verify
from sunledger.archive.withdraw import withdraw
from sunledger.errors import ArchiveError

MINUTES = "ossel/minute/ossel_minute_2031-03.nc"
OLD = "ossel/minute/superseded/ossel_minute_2031-03_v1.nc"
RECORD = "ossel/changes.jsonl"


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive as it should be."""
    return small_archive(tmp_path_factory.mktemp("archive"))


@pytest.fixture
def archive(sound: Path, tmp_path: Path) -> Path:
    """A copy that may be damaged."""
    return Path(shutil.copytree(sound, tmp_path / "archive"))


def kinds(findings: tuple[Finding, ...]) -> set[tuple[str, str]]:
    """Path and kind of each."""
    return {(f.path, f.kind) for f in findings}


def test_sound_archive_has_no_finding(sound: Path) -> None:
    assert verify(sound) == ()


def test_no_archive(tmp_path: Path) -> None:
    with pytest.raises(ArchiveError, match="nowhere: no such folder"):
        verify(tmp_path / "nowhere")


@pytest.mark.parametrize("name", [MINUTES, OLD, f"{MINUTES}.json", f"{OLD}.json", RECORD])
def test_missing_file_is_named(archive: Path, name: str) -> None:
    (archive / name).unlink()
    assert (name, "missing") in kinds(verify(archive, content=False))


@pytest.mark.parametrize("name", ["stray.txt", "ossel/minute/note.txt", "ossel/x/y.nc"])
def test_foreign_file_is_named(archive: Path, name: str) -> None:
    (archive / name).parent.mkdir(exist_ok=True)
    (archive / name).write_text("x")
    assert kinds(verify(archive, content=False)) == {(name, "foreign")}


def test_link_is_foreign_and_rest_of_an_interrupted_write_is_told(archive: Path) -> None:
    (archive / "ossel" / "minute" / ".x.nc.partial").write_bytes(b"")
    (archive / "ossel" / "away").symlink_to("/", target_is_directory=True)
    found = {f.path: f for f in verify(archive, content=False)}
    assert "interrupted write" in found["ossel/minute/.x.nc.partial"].why
    assert found["ossel/away"].kind == "foreign"


def test_sound_copy_in_a_wrong_place_is_foreign(archive: Path) -> None:
    other = archive / "ossel" / "minute" / "ossel_minute_2031-04.nc"
    shutil.copy(archive / MINUTES, other)
    shutil.copy(archive / f"{MINUTES}.json", manifest_path(other))
    assert {f.kind for f in verify(archive, content=False)} == {"foreign"}


def flip(path: Path, place: int, bits: int) -> None:
    """Alter one byte."""
    content = bytearray(path.read_bytes())
    content[place] ^= bits
    path.write_bytes(bytes(content))


def test_every_single_altered_byte_is_found(archive: Path) -> None:
    """150 seeded trials, every kind of file in turn; the benchmark makes 1,000."""
    rng = np.random.default_rng(20310301)
    files = sorted(p for p in archive.rglob("*") if p.is_file())
    assert {p.suffix for p in files} == {".nc", ".json", ".jsonl", ".csv", ".txt"}
    for trial in range(150):
        path = files[trial % len(files)]
        place = int(rng.integers(path.stat().st_size))
        bits = int(rng.integers(1, 256))
        flip(path, place, bits)
        found = verify(archive, content=False)
        name = str(path.relative_to(archive))
        assert name in {f.path for f in found}, (name, place, bits)
        flip(path, place, bits)
    assert verify(archive) == ()


def test_other_bytes_of_the_same_record_are_found(archive: Path) -> None:
    """A letter written in another way is the same JSON, but not what was written."""
    withdraw(archive / "ossel", "monthly", "2031", "wrong Öffnung", "2031-10-01")
    record = archive / RECORD
    assert b"\\u00d6" in record.read_bytes()
    assert verify(archive) == ()
    record.write_bytes(record.read_bytes().replace(b"\\u00d6", b"\\u00D6"))
    (found,) = verify(archive, content=False)
    assert (found.path, found.why) == (RECORD, "its text is not as it was written")


def test_line_taken_from_the_record_leaves_its_file_foreign(archive: Path) -> None:
    record = archive / RECORD
    kept = [line for line in record.read_bytes().splitlines(True) if b'"monthly"' not in line]
    record.write_bytes(b"".join(kept))
    assert ("ossel/monthly/ossel_monthly_2031.nc", "foreign") in kinds(verify(archive))


def test_first_version_taken_from_the_record_is_missed(archive: Path) -> None:
    record = archive / RECORD
    record.write_bytes(b"".join(record.read_bytes().splitlines(True)[1:]))
    assert any("version 1 of minute 2031-03" in f.why for f in verify(archive, content=False))


def test_older_version_put_back_by_hand_contradicts_the_record(archive: Path) -> None:
    shutil.copy(archive / OLD, archive / MINUTES)
    shutil.copy(archive / f"{OLD}.json", archive / f"{MINUTES}.json")
    (found,) = verify(archive, content=False)
    assert (found.path, found.kind) == (f"{MINUTES}.json", "contradiction")
    assert "version 1 instead of 2" in found.why


def test_manifest_rewritten_for_other_content_is_found_by_the_logical_digest(archive: Path) -> None:
    """Whoever alters a file and its manifest's SHA-256 alike is still found."""
    from dataclasses import replace

    import netCDF4

    from sunledger.archive.digest import file_sha256

    path = archive / MINUTES
    with netCDF4.Dataset(path, "a") as ds:
        ds["ghi"][100] = 999.0
    manifest = checked_manifest(path)
    size = path.stat().st_size
    write_manifest(path, replace(manifest, file_sha256=file_sha256(path), size=size))
    assert verify(archive, content=False) == ()
    assert any("logical digest" in f.why for f in verify(archive))


def test_record_that_cannot_be_read_leaves_the_files_checked_by_manifest(archive: Path) -> None:
    (archive / RECORD).write_bytes(b"{}\n" + (archive / RECORD).read_bytes())
    flip(archive / MINUTES, 1000, 1)
    found = kinds(verify(archive, content=False))
    assert (RECORD, "altered") in found
    assert (MINUTES, "altered") in found


def test_place_of_an_entry(archive: Path) -> None:
    entry = read_record(archive / RECORD).entries[0]
    assert file_of(archive / "ossel", entry) == archive / MINUTES
