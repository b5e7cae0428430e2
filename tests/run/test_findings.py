"""Jumps of an hour and other record types: in accounting, manifest and summary of a run."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

import small_project
from sunledger.run.findings import finding_lines
from sunledger.run.job import Choice, run
from sunledger.run.publish import Outcome
from sunledger.run.summary import summary

SPRING, AUTUMN = "2031-06-29 12:00:00", "2031-06-30 15:00:00"  # in the logger's own clock


def quiet(*_: object) -> None:
    """Progress that nobody watches."""


def _moved(workflow: Path, move: Callable[[np.ndarray], np.ndarray]) -> None:
    """Rewrite the labels of the main logger, as if its clock had been moved."""
    for path in sorted((workflow.parent / "raw").glob("main_*.csv")):
        head, *rows = path.read_text(encoding="utf-8").splitlines()
        label = np.array([row[:19] for row in rows], "M8[s]")
        words = [str(t).replace("T", " ") for t in move(label)]
        text = [head, *(w + row[19:] for w, row in zip(words, rows, strict=True))]
        path.write_text("\n".join(text) + "\n", encoding="utf-8")


def _summer(label: np.ndarray) -> np.ndarray:
    """An hour ahead between the two changes."""
    first, last = np.datetime64(SPRING), np.datetime64(AUTUMN)
    return np.where((label > first) & (label <= last), label + np.timedelta64(3600, "s"), label)


def _utc(label: str) -> str:
    return str(np.datetime64(label) - np.timedelta64(3600, "s")).replace("T", " ")


def _entries() -> list[dict[str, Any]]:
    """What puts it right: clock entries of 3600 s, at both changes."""
    return [
        small_project.clock("dst-1", "main", _utc(SPRING), 0) | {"left": 3600},
        small_project.clock("dst-2", "main", _utc(AUTUMN), 3600) | {"left": 0},
    ]


@pytest.fixture
def workflow(tmp_path: Path) -> Path:
    """Three days, with a main logger that followed daylight saving for one of them."""
    path = small_project.write_project(tmp_path / "summer")
    _moved(path, _summer)
    return path


def _minutes(workflow: Path, period: str = "2031-06") -> xr.Dataset:
    path = workflow.parent / "archive" / "tst" / "minute" / f"tst_minute_{period}.nc"
    with xr.open_dataset(path) as ds:
        return ds.load()


def test_a_jump_is_named(workflow: Path) -> None:
    """In the manifest of the voltages and in the summary, with label, file and line."""
    job, outcomes = run(workflow, Choice(), quiet)
    by_name = {o.unit: o for o in outcomes}
    jumps = by_name["tst voltage main 2031-06"].accounting["daylight_saving_jumps"]
    assert jumps == [
        {"label": "2031-06-29T13:01:00", "seconds": 3600, "file": "main_20310629.csv", "line": 662},
        {"label": "2031-06-30T15:01:00", "seconds": -3600, "file": "main_20310630.csv",
         "line": 842},
    ]  # fmt: skip
    assert "daylight_saving_jumps" not in by_name["tst voltage beam 2031-06"].accounting
    manifest = Path(by_name["tst voltage main 2031-06"].path + ".json").read_text(encoding="utf-8")
    assert json.loads(manifest)["accounting"]["daylight_saving_jumps"] == jumps
    text = "\n".join(summary(job, outcomes))
    assert (
        "labels jump forwards by one hour at 2031-06-29T13:01:00 (main_20310629.csv, line" in text
    )
    assert "labels jump backwards by one hour at 2031-06-30T15:01:00" in text
    assert by_name["tst voltage main 2031-06"].accounting["rejected"] == 0


def test_clock_entries_put_it_right(workflow: Path, tmp_path: Path) -> None:
    """Every minute is where it would be had the clock never been moved; nothing is left to say."""
    small_project.edit(workflow, "station/fieldlog", lambda f: f["entries"].extend(_entries()))
    job, outcomes = run(workflow, Choice(), quiet)
    assert not [o for o in outcomes if "daylight_saving_jumps" in o.accounting]
    assert "labels jump" not in "\n".join(summary(job, outcomes))
    steady = small_project.write_project(tmp_path / "steady")
    run(steady, Choice(), quiet)
    for period in ("2031-06", "2031-07"):
        right, put_right = _minutes(steady, period), _minutes(workflow, period)
        for quantity in ("ghi", "dhi", "dni"):
            np.testing.assert_array_equal(put_right[quantity].values, right[quantity].values)


def test_without_entries_the_hour_is_wrong(workflow: Path, tmp_path: Path) -> None:
    """It is taken as logged: nothing is put right by itself."""
    run(workflow, Choice(), quiet)
    steady = small_project.write_project(tmp_path / "steady")
    run(steady, Choice(), quiet)
    right, wrong = _minutes(steady), _minutes(workflow)
    day = slice(1440 * 29, 1440 * 29 + 600)
    np.testing.assert_array_equal(
        wrong["ghi"].values[day][120:], right["ghi"].values[day.start + 60 : day.stop - 60]
    )


@pytest.mark.parametrize(
    ("time", "found", "left"), [("2031-06-26 00:00", 0, 3600), (_utc(AUTUMN), 1800, 0)]
)
def test_an_entry_of_another_time_or_size_explains_nothing(
    workflow: Path, time: str, found: int, left: int
) -> None:
    """Three days earlier, or half an hour."""
    entry = small_project.clock("x-1", "main", time, found) | {"left": left}
    only = [e for e in small_project.entries() if e["id"] != "ck-main-1"]
    small_project.edit(workflow, "station/fieldlog", lambda f: f.update(entries=[*only, entry]))
    small_project.edit(workflow, "workflow", lambda w: w.update(stages=["ingest"]))
    _, outcomes = run(workflow, Choice(), quiet)
    jumps = [j for o in outcomes for j in o.accounting.get("daylight_saving_jumps", ())]
    assert [j["seconds"] for j in jumps] == [3600, -3600]


def test_other_records_are_counted_once_a_file() -> None:
    """A file that bears on two months says the same of both."""
    march = {"other_records": {"a.txt": {"12": 5}, "b.txt": {"12": 2, "9": 1}}}
    april = {"other_records": {"b.txt": {"12": 2, "9": 1}}}
    outcomes = [Outcome(f"tst voltage main 2031-{m}", "written", accounting=a)
                for m, a in (("03", march), ("04", april))]  # fmt: skip
    assert finding_lines(outcomes) == [
        "  lines of other record types, not read: 7 of record 12, 1 of record 9"
    ]


def test_other_records_through_a_run(tmp_path: Path) -> None:
    """They are no data lines, but visible in manifest and summary."""
    workflow = small_project.write_project(tmp_path / "coded")
    for path in (workflow.parent / "raw").glob("main_*.csv"):
        head, *rows = path.read_text(encoding="utf-8").splitlines()
        lines = [f"101,{row}" for row in rows]
        lines[700:700] = ["12,13.1", "12,13.0"]
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        names = ["code", *head.split(",")]

    def coded(station: dict[str, Any]) -> None:
        layout = station["loggers"]["main"]["layouts"][0]
        layout.update(header=[], names=names, record_code="101")

    small_project.edit(workflow, "station/station", coded)
    job, outcomes = run(workflow, Choice(), quiet)
    accounting = {o.unit: o.accounting for o in outcomes}["tst voltage main 2031-06"]
    assert accounting["data_lines"] == accounting["kept"]
    assert accounting["other_records"]["main_20310629.csv"] == {"12": 2}
    text = "\n".join(summary(job, outcomes))
    assert "lines of other record types, not read: 6 of record 12" in text
