"""Versions: the same content keeps its entry, added months extend, changed values revise."""

from __future__ import annotations

import json
import multiprocessing
from dataclasses import replace
from pathlib import Path

import pytest

from sunledger.archive.changes import (
    ChangeRecord,
    Entry,
    Made,
    append_entry,
    is_recorded,
    next_entry,
    read_record,
    restated,
)
from sunledger.archive.manifest import sealed
from sunledger.errors import ArchiveError

JANUARY = Made(
    "hourly", "2031", "d1", "2031-02-05", "sunledger 0.1.0", "first run", parts={"2031-01": "a"}
)
FEBRUARY = replace(
    JANUARY, logical_digest="d2", issued="2031-03-05", parts={"2031-01": "a", "2031-02": "b"}
)
RECALIBRATED = replace(
    FEBRUARY, logical_digest="d3", issued="2031-06-01", parts={"2031-01": "A", "2031-02": "b"}
)


def history(*made: Made) -> ChangeRecord:
    """Record after these files were made one after another."""
    record = ChangeRecord()
    for each in made:
        entry = next_entry(record, each)
        if not is_recorded(record, entry):
            record = ChangeRecord((*record.entries, entry))
    return record


def versions(record: ChangeRecord) -> list[tuple[int, str, str]]:
    """Version, action and digest of each entry."""
    return [(e.version, e.action, e.logical_digest) for e in record.entries]


def test_created_extended_revised() -> None:
    assert versions(history(JANUARY, FEBRUARY, RECALIBRATED)) == [
        (1, "created", "d1"),
        (1, "extended", "d2"),
        (2, "revised", "d3"),
    ]


def test_month_added_and_another_changed_is_a_revision() -> None:
    both = replace(FEBRUARY, parts={"2031-01": "A", "2031-02": "b"})
    assert versions(history(JANUARY, both))[-1] == (2, "revised", "d2")


def test_month_taken_away_is_a_revision() -> None:
    without = replace(FEBRUARY, logical_digest="d4", parts={"2031-02": "b"})
    assert versions(history(JANUARY, FEBRUARY, without))[-1] == (2, "revised", "d4")


def test_same_months_with_other_tables_is_a_revision() -> None:
    other = replace(FEBRUARY, logical_digest="d5")
    assert versions(history(JANUARY, FEBRUARY, other))[-1] == (2, "revised", "d5")


def test_files_without_parts_are_revised() -> None:
    month = Made("minute", "2031-03", "d1", "2031-05-01", "sunledger 0.1.0")
    assert versions(history(month, replace(month, logical_digest="d2")))[-1] == (2, "revised", "d2")


def test_rebuild_takes_date_and_software_from_the_record() -> None:
    record = history(JANUARY, FEBRUARY, RECALIBRATED)
    later = replace(RECALIBRATED, issued="2040-01-01", software="sunledger 9", cause="rebuild")
    entry = next_entry(record, later)
    assert entry is record.entries[-1]
    assert (entry.version, entry.issued, entry.software) == (2, "2031-06-01", "sunledger 0.1.0")
    assert is_recorded(record, entry)


def test_rebuild_month_by_month_uses_the_entries_of_then() -> None:
    record = history(JANUARY, FEBRUARY)
    later = replace(JANUARY, issued="2040-01-01")
    assert next_entry(record, later) is record.entries[0]


def test_return_to_content_of_an_older_version_is_a_revision() -> None:
    record = history(JANUARY, FEBRUARY, RECALIBRATED, replace(FEBRUARY, issued="2031-07-01"))
    assert versions(record)[-1] == (3, "revised", "d2")


def test_status_is_restated_under_the_same_version() -> None:
    final = replace(FEBRUARY, status="final", issued="2031-09-01")
    record = history(JANUARY, FEBRUARY, final)
    assert versions(record)[-1] == (1, "restated", "d2")
    assert record.entries[-1].status == "final"
    assert next_entry(record, replace(final, issued="2040-01-01")) is record.entries[-1]
    withdrawn = history(JANUARY, FEBRUARY, final, replace(final, status="withdrawn"))
    assert versions(withdrawn)[-1] == (1, "restated", "d2")


def test_status_taken_back_is_restated_too() -> None:
    record = history(FEBRUARY, replace(FEBRUARY, status="final"), FEBRUARY)
    assert [e.status for e in record.entries] == ["provisional", "final", "provisional"]
    assert {e.version for e in record.entries} == {1}


def test_rebuild_month_by_month_leaves_a_later_final_status_alone() -> None:
    record = history(JANUARY, FEBRUARY, replace(FEBRUARY, status="final"))
    assert next_entry(record, replace(JANUARY, issued="2040-01-01")) is record.entries[0]


def test_open_files_have_no_version_and_are_not_recorded(tmp_path: Path) -> None:
    entry = next_entry(ChangeRecord(), replace(JANUARY, status="open"))
    assert (entry.version, entry.status) == (0, "open")
    assert is_recorded(ChangeRecord(), entry)
    with pytest.raises(ValueError, match="open files are not recorded"):
        append_entry(tmp_path / "changes.jsonl", entry)
    assert versions(history(replace(JANUARY, status="open"), FEBRUARY)) == [(1, "created", "d2")]


def test_other_products_and_periods_do_not_matter() -> None:
    record = history(JANUARY)
    for other in (replace(JANUARY, product="daily"), replace(JANUARY, period="2032")):
        entry = next_entry(record, replace(other, logical_digest="d9"))
        assert (entry.version, entry.action) == (1, "created")


def entries() -> tuple[Entry, ...]:
    """Three entries."""
    return history(JANUARY, FEBRUARY, RECALIBRATED).entries


def test_record_comes_back_as_appended(tmp_path: Path) -> None:
    path = tmp_path / "station" / "changes.jsonl"
    assert read_record(path) == ChangeRecord()
    for entry in entries():
        append_entry(path, entry)
    assert read_record(path) == ChangeRecord(entries())
    assert len(path.read_bytes().splitlines()) == 3


def test_torn_last_line_is_reported_and_the_next_entry_is_not_glued_to_it(tmp_path: Path) -> None:
    path = tmp_path / "changes.jsonl"
    first, second, third = entries()
    append_entry(path, first)
    append_entry(path, second)
    path.write_bytes(path.read_bytes()[:-30])
    torn = read_record(path)
    assert torn.entries == (first,)
    assert [(f.line, f.severity) for f in torn.faults] == [(2, "warning")]
    append_entry(path, third)
    assert read_record(path).entries == (first, third)
    assert "changes.jsonl:2: warning: " in str(read_record(path).faults[0])


@pytest.mark.parametrize("change", [{"version": "1"}, {"status": "fine"}, {"parts": []}, {"x": 1}])
def test_altered_line_stops(tmp_path: Path, change: dict[str, object]) -> None:
    path = tmp_path / "changes.jsonl"
    append_entry(path, entries()[0])
    plain = {k: v for k, v in json.loads(path.read_text()).items() if k != "seal"}
    path.write_text(json.dumps(sealed({**plain, **change})) + "\n")
    with pytest.raises(ArchiveError, match=r"changes\.jsonl:1: is no entry of a change record"):
        read_record(path)


def append_many(path: Path, product: str) -> None:
    """Fifty entries of one process."""
    for number in range(50):
        append_entry(path, replace(entries()[0], product=product, cause="x" * number))


def test_several_processes_append_whole_lines(tmp_path: Path) -> None:
    path = tmp_path / "changes.jsonl"
    context = multiprocessing.get_context("spawn")
    processes = [context.Process(target=append_many, args=(path, p)) for p in ("minute", "daily")]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
    record = read_record(path)
    assert len(record.entries) == 100
    assert record.faults == ()


def test_line_that_was_altered_stops(tmp_path: Path) -> None:
    path = tmp_path / "changes.jsonl"
    append_entry(path, entries()[0])
    path.write_bytes(path.read_bytes().replace(b'"version":1', b'"version":2'))
    with pytest.raises(ArchiveError, match=r"changes\.jsonl:1: is no entry of a change record"):
        read_record(path)


def test_withdrawn_values_stay_withdrawn_when_made_again_but_other_values_are_a_revision() -> None:
    record = history(JANUARY, replace(JANUARY, status="withdrawn", cause="wrong instrument"))
    assert next_entry(record, replace(JANUARY, issued="2040-01-01")) is record.entries[-1]
    other = next_entry(record, replace(JANUARY, logical_digest="d9"))
    assert (other.version, other.action, other.status) == (2, "revised", "provisional")


def test_same_content_from_other_raw_files_is_restated() -> None:
    record = history(JANUARY)
    made = replace(JANUARY, issued="2031-12-01", cause="raw file b.csv: new")
    entry = restated(record.entries[0], made)
    assert (entry.version, entry.action, entry.issued) == (1, "restated", "2031-12-01")
    assert entry.logical_digest == record.entries[0].logical_digest
