"""Making one unit: what fails fails alone, what has no irradiance still has its flags."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

import real_month
import small_project
from small_project import edit
from sunledger.archive.manifest import read_manifest
from sunledger.archive.minute_series import read_minutes
from sunledger.errors import SunledgerError
from sunledger.run import making
from sunledger.run.guarding import published
from sunledger.run.job import Choice, prepare, run
from sunledger.run.making import run_unit, stored_outcome
from sunledger.run.minutes import FILES_A_MONTH, bit_counts, load_readings, minutes_of
from sunledger.run.publish import Outcome
from sunledger.run.unit import Unit
from sunledger.vocabulary import CONDITIONS, TESTS

UP_TO_FLAGS = ["ingest", "calibrate", "time_correct", "qc_flag"]
JULY, DAY = 1940630400, 86400  # 2031-07-01 00:00 UTC
APART = ["2031-05-10", "2031-07-20"]  # two months that do not touch


def quiet(*_: Any) -> None:
    """Progress that nobody watches."""


def by_name(outcomes: list[Outcome]) -> dict[str, Outcome]:
    """Outcomes by name without the station."""
    return {o.unit.partition(" ")[2]: o for o in outcomes}


def archived(workflow: Path, product: str, period: str, logger: str = "") -> Path:
    """A product of the small project."""
    words = "_".join(filter(None, ("tst", product, logger, period)))
    return workflow.parent / "archive" / "tst" / product / f"{words}.nc"


def has(ds: xr.Dataset, name: str, bit: str) -> np.ndarray:
    """Where a word of the archive has a bit, by the file's own words."""
    masks = dict(zip(ds[name].flag_meanings.split(), ds[name].flag_masks, strict=True))
    return (ds[name].values & masks[bit]) != 0


def test_one_corrupt_file_fails_alone(tmp_path: Path) -> None:
    """The month that needs it fails with its name, and so do the year files; the rest is made."""
    workflow = small_project.write_project(tmp_path / "p", APART, minutes=60, stages=["ingest"])
    run(workflow, Choice(), quiet)
    archived(workflow, "voltage", "2031-05", "beam").write_bytes(b"rubbish" * 99)
    edit(workflow, "workflow", lambda w: w.pop("stages"))
    _, outcomes = run(workflow, Choice(), quiet)
    found = by_name(outcomes)
    assert found["minute 2031-07"].done == "written"
    assert found["minute 2031-05"].done == "failed"
    assert "tst_voltage_beam_2031-05.nc" in found["minute 2031-05"].error
    for product in ("hourly", "daily", "monthly"):
        assert found[f"{product} 2031"].done == "failed"
        assert found[f"{product} 2031"].error == "not made: tst minute 2031-05 failed"
    assert not archived(workflow, "minute", "2031-05").exists()
    assert not archived(workflow, "daily", "2031").exists()


def test_without_any_calibration(tmp_path: Path) -> None:
    """Voltages, flags and conditions, and no irradiance; year files without a value."""
    workflow = small_project.write_project(tmp_path / "p", ["2031-05-10"], minutes=60)

    def no_certificates(inventory: Any) -> None:
        for item in inventory["instruments"]:
            item.pop("calibrations", None)

    edit(workflow, "station/instruments", no_certificates)
    _, outcomes = run(workflow, Choice(), quiet)
    assert {o.done for o in outcomes} == {"written"}, [o.error for o in outcomes]
    with xr.open_dataset(archived(workflow, "voltage", "2031-05", "main")) as ds:
        logged = int(real_month.published()["ghi"].iloc[:60].count())
        assert int(ds["global_1_mean"].notnull().sum()) == logged
    with xr.open_dataset(archived(workflow, "minute", "2031-05")) as ds:
        logged = ds["clock_residual_beam"].notnull().values
        assert np.count_nonzero(logged) == 60
        for quantity in ("ghi", "dhi", "dni"):
            assert int(ds[quantity].notnull().sum()) == 0
            assert has(ds, f"{quantity}_conditions", "no_calibration").all()
            assert has(ds, f"{quantity}_flags", "missing").all()
    with xr.open_dataset(archived(workflow, "daily", "2031")) as ds:
        assert int(ds["ghi"].notnull().sum()) == 0


def test_a_month_into_which_no_reading_falls(tmp_path: Path) -> None:
    """Labels of July, but the clock was known to be half an hour ahead: all belong to June."""
    workflow = small_project.write_project(
        tmp_path / "p", ["2031-07-01"], minutes=20, stages=UP_TO_FLAGS
    )
    for name in small_project.LOGGERS:
        ahead = small_project.clock(f"ck-{name}-2", name, "2031-07-05", 1800.0)
        ahead_before = small_project.clock(f"ck-{name}-0", name, "2031-06-20", 0.0)
        small_project.note(workflow, ahead_before | {"left": 1800.0}, ahead)
    _, outcomes = run(workflow, Choice(), quiet)
    found = by_name(outcomes)
    assert found["minute 2031-07"].done == "empty"
    assert found["minute 2031-07"].error == "no reading falls into it"
    assert not archived(workflow, "minute", "2031-07").exists()


def test_nothing_rests_on_a_vanished_raw_file(project: Path) -> None:
    """The archived voltages of a month whose raw files are gone are not read for its neighbour."""
    raw = project.parent / "raw"
    for name in small_project.LOGGERS:
        (raw / f"{name}_20310629.csv").unlink()
        (raw / f"{name}_20310630.csv").unlink()
    job = prepare(project, Choice())
    unit = next(u for u in job.plan.units if u.name == "tst minute 2031-07")
    assert archived(project, "voltage", "2031-06", "main").exists()
    config = job.context.station("tst")
    start = JULY - DAY
    whole, _ = minutes_of(job.context, config, start, start + 2 * DAY)
    held, _ = minutes_of(job.context, config, start, start + 2 * DAY, unit.after)
    assert int(whole["ghi"].notnull().sum()) == 2880
    assert int(held["ghi"].notnull().sum()) == 1440 + 61  # what stands under July labels


def test_minutes_do_not_depend_on_the_cut(project: Path) -> None:
    """Six hours across the end of a month: as one, and as two pieces cut there, bit for bit."""
    context = prepare(project, Choice()).context
    config = context.station("tst")
    whole, _ = minutes_of(context, config, JULY - 10800, JULY + 10800)
    parts = [
        minutes_of(context, config, *piece)[0]
        for piece in ((JULY - 10800, JULY), (JULY, JULY + 10800))
    ]
    xr.testing.assert_identical(whole, xr.concat(parts, "time", join="exact"))


def test_readings_of_two_months_keep_their_lines_apart(project: Path) -> None:
    """File numbers of different label months do not coincide."""
    context = prepare(project, Choice()).context
    config = context.station("tst")
    _, period = minutes_of(context, config, JULY - DAY, JULY + DAY)
    readings = load_readings(context.archive, period)
    labels = readings["logger_time_main"].values
    files = readings["source_file_main"].values
    months = labels.astype("M8[s]").astype("M8[M]").astype(int)
    assert labels.size > 2 * 1440
    assert len(set(months)) == 2
    apart = [set(files[months == m] // FILES_A_MONTH) for m in sorted(set(months))]
    assert apart == [{0}, {1}]


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (SunledgerError("month.csv:3: no such column"), "month.csv:3: no such column"),
        (OSError(28, "No space left on device"), "No space left on device"),
        (FileNotFoundError(2, "No such file or directory", "raw/x.csv"), "raw/x.csv"),
        (MemoryError(), "MemoryError"),
        (ZeroDivisionError("division by zero"), "ZeroDivisionError: division by zero ("),
    ],
    ids=["expected", "disk", "vanished", "memory", "bug"],
)
def test_a_failure_is_named_with_its_cause(
    monkeypatch: pytest.MonkeyPatch, error: BaseException, words: str
) -> None:
    """Whatever a unit raises becomes a failed outcome; a bug is named with its place."""

    def fail(*_: Any) -> None:
        raise error

    monkeypatch.setitem(making.MAKERS, "minute", fail)
    unit = Unit("minute", "tst", "minute", "2031-05", "key", {})
    outcome = published(run_unit(None, unit, ()))  # type: ignore[arg-type]
    assert (outcome.unit, outcome.done) == ("tst minute 2031-05", "failed")
    assert words in outcome.error


def test_an_empty_month_is_left_out_of_the_year(monkeypatch: pytest.MonkeyPatch) -> None:
    """A minute file of an earlier time must not enter a year file once its month is empty."""
    seen: list[Unit] = []
    monkeypatch.setitem(
        making.MAKERS, "aggregate", lambda _, unit: seen.append(unit) or Outcome("", "written")
    )
    unit = Unit("aggregate", "tst", "daily", "2031", "key", {}, months=("2031-05", "2031-06"))
    unit = replace(unit, after=tuple(f"tst minute {m}" for m in unit.months))
    before = (Outcome("tst minute 2031-05", "written"), Outcome("tst minute 2031-06", "empty"))
    assert published(run_unit(None, unit, before)).done == "written"  # type: ignore[arg-type]
    assert seen[0].months == ("2031-05",)


def test_bits_are_counted() -> None:
    """Two minutes with one bit, one with another; bits that never occur are not listed."""
    missing, stuck = TESTS["missing"].mask, TESTS["stuck_value"].mask
    work = CONDITIONS["maintenance"].mask
    ds = xr.Dataset(
        {
            "ghi_flags": ("time", np.array([missing, missing | stuck, 0], np.int32)),
            "ghi_conditions": ("time", np.array([0, 0, work], np.int32)),
        }
    )
    assert bit_counts(ds, ("ghi",), "flags") == {"ghi": {"missing": 2, "stuck_value": 1}}
    assert bit_counts(ds, ("ghi",), "conditions") == {"ghi": {"maintenance": 1}}


def test_accounting_adds_up(made: Path) -> None:
    """Lines of the voltages and minutes of the month, as the manifests keep them."""
    job = prepare(made, Choice())
    found = by_name([stored_outcome(job.context, u) for u in job.plan.units])
    lines = [o.accounting for n, o in found.items() if n.startswith("voltage")]
    for line in lines:
        parts = ("kept", "repeated", "conflicting", "rejected")
        assert sum(line[p] for p in parts) == line["data_lines"]
    assert sum(line["data_lines"] for line in lines) == 2 * 3 * 1440
    june = found["minute 2031-06"]
    assert june.accounting["minutes"] == 30 * 1440
    there = int(real_month.published()["dni"].iloc[: 2 * 1440].count())
    assert june.accounting["present"]["dni"] == there
    assert june.flags_raised["dni"]["missing"] == 30 * 1440 - there


def test_a_vanished_manifest_is_a_failure(project: Path) -> None:
    """A fresh unit whose manifest is taken away while the run goes on is not called unchanged."""
    job = prepare(project, Choice())
    unit = next(u for u in job.plan.units if u.name == "tst minute 2031-07")
    archived(project, "minute", "2031-07").with_suffix(".nc.json").unlink()
    outcome = stored_outcome(job.context, unit)
    assert outcome.done == "failed"
    assert "manifest vanished" in outcome.error


def test_a_later_clock_check_retimes_and_reversions(project: Path) -> None:
    """Held and unverified until then; spread over the time since the last check; or held again."""
    june = archived(project, "minute", "2031-06")
    before = read_minutes(june).sel(time=slice("2031-06-29T06:00", "2031-06-30T22:00"))
    unverified = CONDITIONS["clock_unverified"].mask
    assert (before["ghi_conditions"].values & unverified != 0).all()
    assert (before["clock_residual_main"].values == 0).all()
    # 1 s a day since 10 February: 139 to 141 s by then, two minutes and 19 to 21 s
    small_project.note(project, small_project.clock("ck-late", "main", "2031-07-02", 142.0))
    for policy, moved, residual in (("interpolate", 2, -20.0), ("hold", 0, 0.0)):
        edit(project, "processing", lambda p, w=policy: p.update(time_correct={"policy": w}))
        run(project, Choice(), quiet)
        after = read_minutes(june).sel(time=before["time"])
        assert (after["ghi_conditions"].values & unverified == 0).all()
        np.testing.assert_allclose(after["clock_residual_main"].values, residual, atol=1.2)
        was, now = before["ghi"].values, after["ghi"].values
        np.testing.assert_array_equal(now[: now.size - moved], was[moved:])
    manifest = read_manifest(june)
    assert (manifest.version, manifest.status) == (3, "provisional")
    kept = sorted(path.name for path in (june.parent / "superseded").glob("*2031-06*.nc"))
    assert kept == ["tst_minute_2031-06_v1.nc", "tst_minute_2031-06_v2.nc"]
