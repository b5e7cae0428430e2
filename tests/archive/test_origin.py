"""How the same lines lie in raw files changes no value, no version and no logical digest."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

import small_project
from archive.samples import voltage_file
from sunledger.archive.changes import read_record
from sunledger.archive.content import CHANGE_RECORD_ATTRIBUTES, content_digest
from sunledger.archive.listing import published
from sunledger.archive.verify import verify
from sunledger.run.job import Choice, run


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Workflow of a small project that was run."""
    return small_project.made_once(tmp_path_factory.getbasetemp())


def digests(archive: Path) -> dict[str, str]:
    """Logical digest of every published file."""
    return {f.path.name: f.manifest.logical_digest for f in published(archive)}


def split(raw: Path) -> None:
    """Cut every file in the middle of a line's day."""
    for path in sorted(raw.glob("*.csv")):
        head, *lines = path.read_text().splitlines(True)
        for number, part in enumerate((lines[:701], lines[701:])):
            (raw / f"{path.stem}_{number}.csv").write_text(head + "".join(part))
        path.unlink()


def merge(raw: Path) -> None:
    """Join all files of a logger."""
    for logger in small_project.LOGGERS:
        paths = sorted(raw.glob(f"{logger}_*.csv"))
        texts = [p.read_text().splitlines(True) for p in paths]
        lines = [texts[0][0], *(line for text in texts for line in text[1:])]
        for path in paths:
            path.unlink()
        (raw / f"{logger}_all.csv").write_text("".join(lines))


def shuffle(raw: Path) -> None:
    """Names whose order is not that of the readings."""
    for number, path in enumerate(sorted(raw.glob("*.csv"), reverse=True)):
        path.rename(raw / f"{path.stem.split('_')[0]}_{number}.csv")


@pytest.mark.parametrize("arrange", [split, merge, shuffle])
def test_same_logical_digests_and_same_version(
    made: Path, tmp_path: Path, arrange: Callable[[Path], None]
) -> None:
    """A new archive says the same; the old one is restated under its version, in the open."""
    fresh = small_project.copy_of(made, tmp_path / "fresh")
    shutil.rmtree(fresh.parent / "archive")
    grown = small_project.copy_of(made, tmp_path / "grown")
    expected = digests(made.parent / "archive")
    for workflow in (fresh, grown):
        arrange(workflow.parent / "raw")
        _, outcomes = run(workflow, Choice(), lambda *_: None)
        assert {o.done for o in outcomes} == {"written"}, [o.error for o in outcomes]
        archive = workflow.parent / "archive"
        assert digests(archive) == expected
        assert {f.manifest.version for f in published(archive)} == {1}
        assert not list(archive.rglob("superseded"))
        assert verify(archive) == ()
    record = read_record(grown.parent / "archive" / small_project.STATION / "changes.jsonl")
    later = record.entries[len(record.entries) // 2 :]
    assert {e.action for e in later} == {"restated"}
    assert all("raw file" in e.cause for e in later if not e.parts)


def test_rebuild_after_it_was_restated_is_byte_identical(made: Path, tmp_path: Path) -> None:
    workflow = small_project.copy_of(made, tmp_path / "project")
    shuffle(workflow.parent / "raw")
    run(workflow, Choice(), lambda *_: None)
    archive = workflow.parent / "archive"
    before = everything(archive)
    for path in before:
        if path.name != "changes.jsonl":
            path.unlink()
    run(workflow, Choice(), lambda *_: None)
    assert {p.suffix for p in before} == {".nc", ".json", ".jsonl", ".csv", ".txt"}
    assert everything(archive) == before


def everything(archive: Path) -> dict[Path, bytes]:
    """All files of an archive but its bookkeeping."""
    paths = (p for p in archive.rglob("*") if p.is_file() and ".sunledger" not in p.parts)
    return {p: p.read_bytes() for p in paths}


def test_only_what_tells_of_raw_files_is_left_out() -> None:
    """The digest still sees every label and every value of the lines."""
    from dataclasses import replace

    spec = voltage_file()
    seen = content_digest(spec)
    everything = content_digest(spec, CHANGE_RECORD_ATTRIBUTES)
    for name in ("source_file_main", "source_line_main"):
        moved = replace(
            spec,
            variables=tuple(
                replace(v, data=v.data + 1) if v.name == name else v for v in spec.variables
            ),
        )
        assert content_digest(moved) == seen
        assert content_digest(moved, CHANGE_RECORD_ATTRIBUTES) != everything
    for name in ("logger_time_main", "line_status_main", "global_1"):
        data = spec[name].data.copy()
        data[5] = 3
        variables = tuple(replace(v, data=data) if v.name == name else v for v in spec.variables)
        assert content_digest(replace(spec, variables=variables)) != seen
