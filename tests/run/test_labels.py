"""Months of labels that cannot be right: kept out of products and of "now", never unsaid."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import raw_tables
import small_project
from sunledger.archive.minute_series import read_minutes
from sunledger.config.models.base import parse_utc
from sunledger.config.models.station import Station
from sunledger.run.file_index import FileIndex, IndexedFile
from sunledger.run.job import Choice, check, prepare, run
from sunledger.run.labels import label_problems, newest_label, odd_months
from sunledger.run.months import month_bounds

STATION: Station = raw_tables.station(main=raw_tables.logger())


def _index(*files: dict[str, int]) -> FileIndex:
    return FileIndex(
        tuple(
            IndexedFile(
                f"{i}.txt", 1, 1, "", "", months=months, data_lines=sum(months.values()),
                spans={m: (month_bounds(m)[0], month_bounds(m)[1] - 60) for m in months},
            )
            for i, months in enumerate(files)
        )
    )  # fmt: skip


FULL = {f"2031-{m:02}": 40000 for m in range(1, 7)}


@pytest.mark.parametrize(
    ("more", "odd"),
    [
        ({}, {}),
        ({"2031-07": 1}, {}),  # the first line of the next month
        ({"2131-03": 1}, {"2131-03": "astray"}),
        ({"2031-09": 10}, {"2031-09": "astray"}),
        ({"2031-09": 11}, {}),
        ({"2131-03": 3, "2131-04": 3}, {"2131-03": "astray", "2131-04": "astray"}),
        ({"2000-01": 5000}, {"2000-01": "early"}),  # the station is there since 2030-01-01
        ({"2000-01": 3}, {"2000-01": "astray"}),
        ({"2036-01": 300}, {"2036-01": "detached"}),
        ({"2036-01": 300, "2036-02": 300}, {"2036-01": "detached", "2036-02": "detached"}),
        ({"2036-01": 20000}, {}),  # a station that was opened again
        ({"2032-03": 300}, {}),  # a pause of less than a year
    ],
)
def test_which_months_are_odd(more: dict[str, int], odd: dict[str, str]) -> None:
    """By the number of their lines and by what lies beside them."""
    assert odd_months(_index(FULL, more), STATION) == odd
    newest = max(m for m in {**FULL, **more} if m not in odd)
    assert newest_label(_index(FULL, more), STATION) == month_bounds(newest)[1] - 60


def test_few_lines_alone_are_not_odd() -> None:
    """A logger that has just begun, and none at all."""
    assert odd_months(_index({"2031-03": 1}), STATION) == {}
    assert odd_months(_index({"2031-03": 3}, {"2031-08": 2}), STATION) == {}
    assert newest_label(_index(), STATION) is None


def test_what_is_said() -> None:
    """File, lines, month and what becomes of them."""
    odd = {"2131-03": 2, "2000-01": 1440, "2036-01": 300}
    said = label_problems(_index(FULL, odd), STATION, "main")
    assert said == [
        "1.txt: 1440 data lines with labels in 2000-01, before the station's first site period:"
        " in the voltages of logger main, in minutes only where clock checks say when they were"
        " written",
        "1.txt: 300 data lines with labels in 2036-01, more than a year after all others of logger"
        " main: not taken for the run's date; state as_of in the workflow if they are right",
        "1.txt: 2 data lines with labels in 2131-03, far from all other labels of logger main: in"
        " no product",
    ]


def quiet(*_: object) -> None:
    """Progress that nobody watches."""


def test_garbled_and_lost_dates_through_a_run(tmp_path: Path) -> None:
    """A garbled year at a file's end, and a clock that lost its date for an hour."""
    workflow = small_project.write_project(tmp_path, as_of=None)
    raw = tmp_path / "raw" / "main_20310630.csv"
    lines = raw.read_text(encoding="utf-8").splitlines()
    lines[-1] = lines[-1].replace("2031", "2131", 1)
    lines[101:161] = [f"2000-01-01 00:{i:02}{line[16:]}" for i, line in enumerate(lines[101:161])]
    raw.write_text("\n".join(lines) + "\n", encoding="utf-8")
    job = prepare(workflow, Choice())
    assert [p for p in job.raw_problems if "2131-07, far from" in p]
    assert [p for p in job.raw_problems if "60 data lines with labels in 2000-01" in p]
    assert job.context.as_of == 1940716800  # 2031-07-02 00:00
    names = {u.name for u in job.plan.units}
    assert "tst voltage main 2000-01" in names
    assert not [n for n in names if "2131" in n or "minute 2000" in n]
    _, outcomes = run(workflow, Choice(), quiet)
    kept = sum(o.accounting["kept"] for o in outcomes if " voltage main " in o.unit)
    assert kept == 3 * 1440 - 1
    assert [o for o in outcomes if o.done != "written"] == []


def test_a_clock_that_restarted_is_put_right_by_the_field_log(tmp_path: Path) -> None:
    """An hour from 2000-01-01 on: no minutes without the record, all of them with it."""
    workflow = small_project.write_project(tmp_path, as_of=None)
    run(workflow, Choice(), quiet)
    minutes = tmp_path / "archive" / "tst" / "minute" / "tst_minute_2031-06.nc"
    right = read_minutes(minutes)["ghi"].values
    raw = tmp_path / "raw" / "main_20310630.csv"
    lines = raw.read_text(encoding="utf-8").splitlines()
    at = lines.index(next(line for line in lines if line.startswith("2031-06-30 12:00")))
    lost = [f"2000-01-01 00:{i:02}{line[16:]}" for i, line in enumerate(lines[at : at + 60])]
    raw.write_text("\n".join([*lines[:at], *lost, *lines[at + 60 :]]) + "\n", encoding="utf-8")
    run(workflow, Choice(), quiet)
    assert np.isnan(read_minutes(minutes)["ghi"].values).sum() == np.isnan(right).sum() + 60
    # labels mark ends in UTC+1: 12:00 began at 10:59 UTC, 2000-01-01 00:00 at 22:59 the day before
    begin = "2031-06-30 10:59:00"
    error = parse_utc("1999-12-31 22:59:00") - parse_utc(begin)
    small_project.note(
        workflow,
        small_project.clock("ck-lost", "main", begin, 0) | {"left": error},
        small_project.clock("ck-found", "main", "2031-06-30 11:59:00", error),
    )
    run(workflow, Choice(), quiet)
    np.testing.assert_array_equal(read_minutes(minutes)["ghi"].values, right)


def test_a_garbled_year_inside_a_file_is_quarantined(tmp_path: Path) -> None:
    """It is rejected in the month of its neighbours, and nothing else changes."""
    workflow = small_project.write_project(tmp_path, as_of=None)
    raw = tmp_path / "raw" / "beam_20310630.csv"
    text = raw.read_text(encoding="utf-8")
    raw.write_text(text.replace("2031-06-30 12:00", "2931-06-30 12:00"), encoding="utf-8")
    job, outcomes = run(workflow, Choice(), quiet)
    assert job.raw_problems == ()
    assert check(workflow)[0].stations
    by_name = {o.unit: o.accounting for o in outcomes}
    assert by_name["tst voltage beam 2031-06"]["rejected"] == 1
    assert not [n for n in by_name if "2931" in n]
