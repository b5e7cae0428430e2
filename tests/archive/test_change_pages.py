"""Table and page say per version: cause, months affected, size of the change."""

from __future__ import annotations

import csv
import io
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from archive.samples import minute_file
from archive.small import CAUSE, small_archive
from sunledger.archive.change_pages import (
    COLUMNS,
    NO_VALUE,
    PAGE_NAME,
    TABLE_NAME,
    change_page,
    change_table,
    months_affected,
    refresh_change_pages,
    write_change_pages,
)
from sunledger.archive.changes import RECORD_NAME, ChangeRecord, Entry, read_record
from sunledger.errors import ArchiveError


def entry(version: int, action: str, parts: dict[str, str]) -> Entry:
    """An entry of a year file."""
    return Entry(
        "daily", "2031", version, "provisional", action, "2031-07-01", "s 1", "c", "d", parts
    )


def test_months_affected_are_those_whose_values_changed() -> None:
    entries = (
        entry(1, "created", {"2031-01": "a"}),
        entry(1, "extended", {"2031-01": "a", "2031-02": "b"}),
        entry(2, "revised", {"2031-01": "A", "2031-02": "b"}),
        entry(2, "restated", {"2031-01": "A", "2031-02": "b"}),
    )
    months = [m for _, m in months_affected(ChangeRecord(entries))]
    assert months == [("2031-01",), ("2031-02",), ("2031-01",), ("2031-01", "2031-02")]


def test_table_has_a_row_per_series_with_the_size(tmp_path: Path) -> None:
    folder = small_archive(tmp_path) / "ossel"
    text = (folder / "changes.csv").read_bytes().decode()
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert tuple(rows[0]) == COLUMNS
    (revised,) = (r for r in rows if r["action"] == "revised")
    expected = 0.25 * float(np.nanmean(minute_file(days=2)["ghi"].data.astype(float)))
    assert (revised["series"], revised["version"]) == ("ghi", "2")
    assert float(revised["mean"]) == pytest.approx(expected, rel=1e-5)
    assert revised["cause"] == f"'{CAUSE}"  # what begins as a formula does not stay one
    assert {r["months_affected"] for r in rows if r["product"] == "monthly"} == {
        "2031-01 2031-02 2031-03"
    }


def test_page_is_readable(tmp_path: Path) -> None:
    page = (small_archive(tmp_path) / "ossel" / "CHANGES.txt").read_text(encoding="utf-8")
    assert "minute 2031-03: revised (version 2, provisional, sunledger 0.1.0)" in page
    assert "cause: =certificate N-001" in page
    assert "ghi: " in page
    assert page.index("2031-09-01") < page.index("2031-04-05")
    assert max(map(len, page.splitlines())) <= 100


def test_revision_that_changed_no_value_says_so() -> None:
    first = entry(1, "created", {"2031-01": "a"})
    again = entry(2, "revised", {"2031-01": "a"})
    page = change_page(ChangeRecord((first, again)), "x").decode()
    assert f"months: {NO_VALUE}"[:80] in page
    alone = replace(again, parts={}, product="minute", period="2031-01")
    assert NO_VALUE in change_page(ChangeRecord((alone,)), "x").decode()


def test_order_in_which_workers_finished_does_not_show(tmp_path: Path) -> None:
    record = read_record(small_archive(tmp_path) / "ossel" / "changes.jsonl")
    other = ChangeRecord((record.entries[2], *record.entries[:2]))
    assert change_table(other) == change_table(record)
    assert change_page(other, "ossel") == change_page(record, "ossel")


def test_nothing_is_written_twice(tmp_path: Path) -> None:
    folder = small_archive(tmp_path) / "ossel"
    assert write_change_pages(folder) == ()
    (folder / "CHANGES.txt").unlink()
    assert write_change_pages(folder) == (folder / "CHANGES.txt",)


def test_pages_that_a_killed_run_left_behind_are_brought_up_to_date(tmp_path: Path) -> None:
    """By the times of the files; looked at once, also where they said the same already."""
    folder = small_archive(tmp_path) / "ossel"
    record, pages = folder / RECORD_NAME, [folder / TABLE_NAME, folder / PAGE_NAME]
    wanted = [page.read_bytes() for page in pages]
    newer = max(page.stat().st_mtime for page in pages) + 5
    os.utime(record, (newer - 10, newer - 10))
    assert not refresh_change_pages(folder)
    os.utime(record, (newer - 2, newer - 2))
    pages[1].write_bytes(b"of the run before")
    os.utime(pages[1], (newer - 9, newer - 9))
    assert refresh_change_pages(folder)
    assert [page.read_bytes() for page in pages] == wanted
    os.utime(record, (newer - 20, newer - 20))
    assert not refresh_change_pages(folder)
    pages[0].unlink()
    assert refresh_change_pages(folder)
    assert [page.read_bytes() for page in pages] == wanted
    assert not refresh_change_pages(tmp_path)


def test_pages_that_find_no_room_stop_no_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """It is told, and they are behind still."""

    def full(*_: object) -> None:
        raise ArchiveError("CHANGES.txt: cannot be written: No space left on device")

    folder = small_archive(tmp_path) / "ossel"
    (folder / PAGE_NAME).unlink()
    monkeypatch.setattr("sunledger.archive.change_pages.replace_text", full)
    assert refresh_change_pages(folder)
    assert "No space left on device" in caplog.text
    assert refresh_change_pages(folder)
