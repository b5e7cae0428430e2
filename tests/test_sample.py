"""The sample job: what the README promises of it, on the whole invented network."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from archive.compliance import Finding, findings
from northmere.karru_pan import INJECTIONS
from sunledger.config.models.workflow import MonthRange
from sunledger.run.job import Choice, prepare
from sunledger.run.making import minutes_of
from sunledger.run.months import month_bounds

DAY = 86400
PRODUCTS = ("voltage", "minute", "hourly", "daily", "monthly")
# What compliance-checker says although it is as it should be: no entry of the standard name table
# (v93) fits these, and CF makes standard names optional; and a rule of CF-1.12 that it applies to
# CF-1.11, whose conformance document forbids what it asks for.
NAMELESS = (
    "_coverage_fraction",
    "_exposure",
    "_body_temperature",
    "_share_",
    "clock_residual_",
    "clearness_index",
    "diffuse_fraction",
    "relative_sunshine",
    "clear_minutes",
    "_number_of_days",
    "possible_sunshine_duration",
)
LEAP_SECONDS = "has a calendar attribute of standard and it is recommended that the units_metadata"
REMARK = "does not cross 1582-10-15"


def archive_files(folder: Path, product: str) -> list[Path]:
    """Files of one product of both stations."""
    return sorted((folder / "build" / "sample_archive").glob(f"*/{product}/*.nc"))


def is_known(finding: Finding, product: str) -> bool:
    """Whether a finding is one of the exact kinds named above."""
    if LEAP_SECONDS in finding.message or REMARK in finding.message:
        return True
    if finding.message != "standard_name" or "missing the following" not in finding.check:
        return False
    variable = finding.check.split('"')[1]
    # voltages and statuses have no standard name at all
    return product == "voltage" or any(n in variable for n in NAMELESS) or variable in STATUS


STATUS = ("ventilator_speed", "supply_voltage", "fan_speed", "battery_voltage")


@pytest.mark.parametrize("product", PRODUCTS)
def test_every_product_conforms(sample_folder: Path, product: str) -> None:
    """compliance-checker finds nothing for CF-1.11 and ACDD-1.3 but its own known mistakes."""
    files = archive_files(sample_folder, product)
    assert files
    newest = {p.parent.parent.name: p for p in files}
    for path in newest.values():
        unknown = [f for f in findings(path) if not is_known(f, product)]
        assert unknown == [], path.name


def test_a_second_run_makes_nothing(sample_folder: Path) -> None:
    """Everything is fresh, and no file is touched."""
    before = {p: os.stat(p).st_mtime_ns for p in sample_folder.rglob("*.nc")}
    assert prepare(sample_folder / "sample.yaml", Choice()).plan.stale() == ()
    assert {p: os.stat(p).st_mtime_ns for p in sample_folder.rglob("*.nc")} == before


@pytest.mark.parametrize("station", ["osr", "kpn"])
def test_the_result_does_not_depend_on_the_cut(sample_folder: Path, station: str) -> None:
    """A month as one unit, as halves and as single days gives the same minutes, bit for bit."""
    months = MonthRange(first="2031-04", last="2031-04")
    job = prepare(sample_folder / "sample.yaml", Choice(months=months))
    config = job.context.station(station)
    start, end = month_bounds("2031-04")
    whole, _ = minutes_of(job.context, config, start, end)
    middle = start + 15 * DAY
    days = range(start, end, DAY)
    cuts = {
        "halves": [(start, middle), (middle, end)],
        "days": [(day, day + DAY) for day in days],
    }
    for name, pieces in cuts.items():
        parts = [minutes_of(job.context, config, *piece)[0] for piece in pieces]
        joined = xr.concat(parts, "time", data_vars="all", coords="all", join="exact")
        for variable in whole.variables:
            same = np.array_equal(
                whole[variable].values,
                joined[variable].values,
                equal_nan=whole[variable].dtype.kind == "f",
            )
            assert same, f"{variable} differs when cut into {name}"


def test_history_is_in_the_file(sample_folder: Path) -> None:
    """The levelling accident, the re-levelling and the exchanged instrument stand in the file."""
    path = sample_folder / "build" / "sample_archive" / "osr" / "minute" / "osr_minute_2031-04.nc"
    with xr.open_dataset(path, group="metadata/levelling") as table:
        found, left = table["tilt_found"].values, table["tilt_left"].values
        assert (found > 0.5).any()
        assert (left[found > 0.5] < 0.2).all()
    with xr.open_dataset(path) as ds:
        words = ds["ghi_conditions"]
        bits = dict(zip(words.flag_meanings.split(), words.flag_masks, strict=True))
        doubtful = (words.values & bits["level_doubtful"]) != 0
        assert 0.01 < doubtful.mean() < 0.9


def losses(folder: Path, station: str, period: str) -> list[dict[str, Any]]:
    """Growing losses that were found."""
    path = folder / "build/sample_archive" / station / "findings"
    text = (path / f"{station}_findings_{period}.jsonl").read_text(encoding="utf-8")
    rows = [json.loads(line) for line in text.splitlines()]
    return [row for row in rows if row.get("name") == "soiling_drift"]


def test_what_the_dome_of_the_global_lost_is_told(sample_folder: Path) -> None:
    """Karru Pan: 3 % from 14 to 26 April, as the generator has it (sample_raw/northmere)."""
    fault = next(i for i in INJECTIONS if i.kind == "soiled")
    (found,) = losses(sample_folder, "kpn", "2031-04")
    assert (found["target"], fault.settings["component"]) == ("global_1", "ghi")
    last = found["evidence"]["seen"][1]
    truth = -100 * fault.settings["loss"] * (last - fault.start) / (fault.end - fault.start)
    assert found["lower"] < truth < found["upper"]
    assert found["size"] == pytest.approx(truth, abs=0.4)
    assert found["evidence"]["onset_likely"] == pytest.approx(fault.start, abs=2 * DAY)


def test_no_loss_is_told_where_the_days_are_too_few(sample_folder: Path) -> None:
    """Ossel Ridge, May: ten days at hand, of which four of a direct that loses 1.8 % by then."""
    assert losses(sample_folder, "osr", "2031-05") == []


def test_a_tracker_that_says_it_tracks_is_found_stopped(sample_folder: Path) -> None:
    """Ossel Ridge, 3 April 2031, 07:20-12:10 UTC: the direct fades within 16 minutes of it."""
    path = sample_folder / "build" / "sample_archive" / "osr" / "minute" / "osr_minute_2031-04.nc"
    with xr.open_dataset(path) as ds:
        stopped = ds.sel(time=slice("2031-04-03T07:36", "2031-04-03T12:09"))
        words = ds["dni_flags"]
        bits = dict(zip(words.flag_meanings.split(), words.flag_masks, strict=True))
        for quantity in ("dni", "dhi"):
            found = (stopped[f"{quantity}_flags"].values & bits["tracker_off_sun"]) != 0
            assert found.mean() >= 0.99
            assert (stopped[f"{quantity}_grade"].values >= 3).mean() >= 0.99
        before = ds.sel(time=slice("2031-04-03T05:30", "2031-04-03T07:19"))
        assert not ((before["dni_flags"].values & bits["tracker_off_sun"]) != 0).any()
