"""Commands on an archive: exit codes and what they print."""

from __future__ import annotations

import json
import multiprocessing
from pathlib import Path

import pytest
from typer.testing import CliRunner

from archive.small import small_archive
from sunledger.cli import app
from sunledger.cli_archive import DONE, REFUSED, SOMETHING_FOUND
from sunledger.errors import ArchiveError
from sunledger.run.lock import archive_lock


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    """A small archive."""
    return small_archive(tmp_path / "archive")


def call(*words: object) -> tuple[int, str]:
    """Exit code, and all that was printed."""
    result = CliRunner().invoke(app, [str(w) for w in words])
    return result.exit_code, result.output


def test_verify(archive: Path) -> None:
    assert call("verify", archive) == (DONE, f"{archive}: no findings\n")
    (archive / "ossel" / "changes.jsonl").unlink()
    code, said = call("verify", archive, "--quick")
    assert code == SOMETHING_FOUND
    assert "ossel/changes.jsonl: missing: " in said
    assert call("verify", archive / "x") == (REFUSED, f"{archive}/x: no such folder\n")


def test_compare(archive: Path) -> None:
    assert call("compare", archive, archive)[0] == DONE
    minutes = archive / "ossel" / "minute"
    old = minutes / "superseded" / "ossel_minute_2031-03_v1.nc"
    code, said = call("compare", old, minutes / "ossel_minute_2031-03.nc")
    assert code == SOMETHING_FOUND
    assert "  ghi: " in said
    assert "W m-2" in said
    assert call("compare", archive, archive / "x")[0] == REFUSED


def test_withdraw(archive: Path) -> None:
    words = ("withdraw", archive, "ossel", "monthly", "2031", "--reason", "mixed up")
    code, said = call(*words, "--date", "2031-11-02")
    assert code == DONE
    assert said == "ossel monthly 2031: version 1 withdrawn on 2031-11-02 (mixed up)\n"
    assert call("verify", archive)[0] == DONE
    code, said = call(*words, "--date", "yesterday")
    assert (code, "must be YYYY-MM-DD" in said) == (REFUSED, True)
    assert call("withdraw", archive, "../x", *words[3:], "--date", "2031-11-02")[0] == REFUSED
    assert call("withdraw", archive, "other", *words[3:], "--date", "2031-11-02")[0] == REFUSED


def hold(archive: Path, held: multiprocessing.Event, done: multiprocessing.Event) -> None:
    """Hold an archive in another process."""
    with archive_lock(archive):
        held.set()
        done.wait(60)


def test_withdraw_waits_for_nobody_and_says_who_holds_the_archive(archive: Path) -> None:
    context = multiprocessing.get_context("spawn")
    held, done = context.Event(), context.Event()
    other = context.Process(target=hold, args=(archive, held, done))
    other.start()
    try:
        assert held.wait(60)
        words = ("withdraw", archive, "ossel", "monthly", "2031", "--reason", "x")
        code, said = call(*words, "--date", "2031-11-02")
    finally:
        done.set()
        other.join()
    assert code == REFUSED
    assert f"another run holds it (process {other.pid}, since 20" in said
    assert "UTC)" in said


def test_export(archive: Path, tmp_path: Path) -> None:
    target = tmp_path / "x.csv"
    words = ("export", archive, "ossel", "minute", "-o", target, "--from", "2031-03-02")
    assert call(*words) == (DONE, f"{target}: 1,440 rows of 1 files\n")
    assert target.read_text(encoding="utf-8").startswith("# title: ")
    assert call("export", archive, "ossel", "hourly", "-o", target)[0] == REFUSED


def test_provenance_and_deposit(archive: Path, tmp_path: Path) -> None:
    chain = tmp_path / "chain.json"
    assert call("provenance", archive, "ossel", "-o", chain)[0] == DONE
    assert json.loads(chain.read_text())["wasDerivedFrom"]
    bag = tmp_path / "bag"
    code, said = call("deposit", archive, "ossel", "-o", bag, "--product", "monthly")
    assert code == DONE
    assert said.startswith(f"{bag}: 1 files, ")
    assert call("deposit", archive, "ossel", "-o", bag)[0] == REFUSED


def test_catalog(archive: Path) -> None:
    assert call("catalog", archive) == (DONE, f"{archive}/catalog: 6 pages written\n")
    assert call("catalog", archive) == (DONE, f"{archive}/catalog: 0 pages written\n")


def test_debug_shows_the_traceback(archive: Path) -> None:
    result = CliRunner().invoke(app, ["verify", str(archive / "x"), "--debug"])
    assert isinstance(result.exception, ArchiveError)


def test_status(archive: Path) -> None:
    """What it holds, as text and for scripts; exit 2 without an archive."""
    code, said = call("status", archive)
    assert code == DONE
    assert said.splitlines()[0] == "No run was logged"
    assert "ossel minute: " in said
    code, said = call("status", archive, "--json")
    plain = json.loads(said)
    assert (code, plain["run"]) == (DONE, None)
    assert "minute" in {row["product"] for row in plain["held"]}
    assert call("status", archive / "x") == (REFUSED, f"{archive}/x: no such folder\n")
