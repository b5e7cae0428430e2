"""Which months a file holds and reads by each clock, across the turn of month and year."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import small_project
from invented import station_config
from sunledger.config.models.base import parse_utc
from sunledger.physics.sun import sun_times
from sunledger.run.clocks import (
    clock_words,
    closed_until,
    months_held,
    months_read,
    time_base,
    window,
)
from sunledger.run.job import Choice, run


def station(**changes: Any) -> Any:
    """The invented station at 10.2 degree east."""
    return station_config(**changes).station


NEPAL = {"local_standard_time": "+05:45", "longitude": 85.3}
WEST = {"local_standard_time": "-03:30", "longitude": -52.7}
YEAR = [f"2031-{m:02d}" for m in range(1, 13)]
AFTER = parse_utc("2032-03-01")


def test_the_station_says_its_standard_time() -> None:
    """Else that of the nearest meridian of full hours."""
    assert time_base("local", station(**NEPAL)).offset == 20700
    assert time_base("local", station()).offset == 3600
    assert time_base("local", station(longitude=-52.7)).offset == -4 * 3600
    assert time_base("", station(**NEPAL)).bounds("2031", 60)[0] == parse_utc("2031-01-01")


def test_files_name_their_clock() -> None:
    """The variable that holds it, and the clock in words."""
    assert clock_words("", station()) == ("", "")
    words = ("local_standard_time", "local standard time (UTC+05:45)")
    assert clock_words("local", station(**NEPAL)) == words
    assert clock_words("local", station(**WEST))[1].endswith("(UTC-03:30)")
    assert clock_words("solar", station())[0] == "true_solar_time"


@pytest.mark.parametrize(
    ("part", "place", "month", "months"),
    [
        ("", NEPAL, "2031-01", ["2030-12", "2031-01", "2031-02"]),
        ("local", NEPAL, "2031-01", ["2030-12", "2031-01"]),
        ("local", WEST, "2031-12", ["2031-12", "2032-01"]),
        ("local", WEST, "2031-02", ["2031-02", "2031-03"]),
        ("solar", NEPAL, "2031-03", ["2031-02", "2031-03"]),
        ("solar", WEST, "2031-12", ["2031-12", "2032-01"]),
    ],
)
def test_months_read(part: str, place: dict[str, Any], month: str, months: list[str]) -> None:
    """Those that a month of the clock touches, over the turn of the year as well."""
    base = time_base(part, station(**place))
    assert months_read(base, month, station(**place)) == months


def test_a_month_that_goes_on_waits_for_the_next() -> None:
    """In the west the last hours of a month lie in the next one of UTC."""
    until = parse_utc("2031-06-01")
    known = YEAR[:5]
    for part, place, held in (
        ("", WEST, known),
        ("local", WEST, known[:-1]),
        ("local", NEPAL, known),
        ("solar", WEST, known[:-1]),
    ):
        base = time_base(part, station(**place))
        assert months_held(base, "2031", known, station(**place), until) == tuple(held)


def test_only_months_of_the_year_with_minutes() -> None:
    """The neighbours of the year are read, not held."""
    known = ["2030-12", "2031-01", "2031-03", "2032-01"]
    base = time_base("local", station(**NEPAL))
    held = months_held(base, "2031", known, station(**NEPAL), AFTER)
    assert held == ("2031-01", "2031-03")


def test_windows_lie_on_whole_intervals() -> None:
    """Of the finest grid."""
    base = time_base("solar", station())
    start, end = window(base, "2031-03", station())
    assert (start % 60, end % 60) == (0, 0)
    assert abs(start - parse_utc("2031-03-01")) < 3600


@pytest.mark.parametrize(
    ("as_of", "until"),
    [("2031-06-30", "2031-06-01"), ("2031-07-01", "2031-07-01"), ("2031-07-02", "2031-07-01")],
)
def test_closed_until(as_of: str, until: str) -> None:
    """The month of the run's date is open."""
    context: Any = SimpleNamespace(as_of=parse_utc(as_of))
    assert closed_until(context) == parse_utc(until)


def minutes_of_archive(project: Path) -> pd.DataFrame:
    """Counting minutes of the project's archive, by UTC."""
    tables = []
    for path in sorted((project.parent / "archive" / "tst" / "minute").glob("*.nc")):
        with xr.open_dataset(path, decode_timedelta=False) as ds:
            usable = (ds["lwd_grade"] if "lwd" in ds else ds["ghi_grade"]).values <= 3
            values = np.where(usable, ds["ghi"].values, np.nan)
            tables.append(pd.DataFrame({"ghi": values}, index=ds["time"].to_index()))
    return pd.concat(tables)


def test_files_by_other_clocks(project: Path) -> None:
    """Hours and days at +05:45 over the turn of a month, and by the sun, against pandas.

    Only the means are made: the minutes stand. UTC files stay as they are.
    """
    folder = project.parent
    station = json.loads((folder / "station" / "station.yaml").read_text())
    station["local_standard_time"] = "+05:45"
    (folder / "station" / "station.yaml").write_text(json.dumps(station))
    periods = {
        "utc": ["15min", "hourly", "daily", "monthly"],
        "local_standard": ["hourly", "daily", "monthly"],
        "true_solar": ["hourly", "daily"],
    }
    rules = {"least_share_daily": 0.05, "periods": periods}
    settings = {"calibrate": {"level_tolerance": 0.2}, "aggregate": rules}
    (folder / "processing.yaml").write_text(json.dumps(settings))
    _, outcomes = run(project, Choice(), lambda *_: None)
    assert {o.unit for o in outcomes if o.done == "written"} >= {
        *("tst 15min 2031", "tst hourly local 2031", "tst daily local 2031"),
        *("tst monthly local 2031", "tst hourly solar 2031", "tst daily solar 2031"),
    }
    assert not [o for o in outcomes if "minute" in o.unit and o.done == "written"]
    table = minutes_of_archive(project)
    by_clock = table.set_axis(table.index + pd.Timedelta(hours=5, minutes=45))
    for product, rule in (("hourly", "h"), ("daily", "D")):
        path = folder / "archive" / "tst" / product / f"tst_{product}_local_2031.nc"
        with xr.open_dataset(path, decode_timedelta=False) as ds:
            shown = ds["local_standard_time"].to_index()
            got = pd.Series(ds["ghi"].values, shown)
            bounds = ds["time_bounds"].values
            assert "UTC+05:45" in ds["time"].attrs["long_name"]
        expected = by_clock["ghi"].resample(rule).mean().reindex(shown)
        known = got.notna()
        assert known.sum() > 2
        np.testing.assert_allclose(got[known], expected[known], rtol=0, atol=2**-7)
        np.testing.assert_array_equal(bounds[1:, 0], bounds[:-1, 1])
        assert str(shown[0]) == "2031-06-01 00:00:00"
        assert str(bounds[0, 0]).startswith("2031-05-31T18:15")
    assert found_noon(folder) < 61.0


TURN = ("2030-12-30", "2030-12-31", "2031-01-01")


@pytest.mark.parametrize("offset", ["+05:45", "-03:30"])
def test_files_over_the_turn_of_the_year(tmp_path: Path, offset: str) -> None:
    """Both year files together are the plain hours and days of the minutes, without a seam.

    East of Greenwich the year begins in December of UTC, west of it it ends in January.
    """
    workflow = small_project.write_project(tmp_path / "p", TURN)
    archive = workflow.parent / "archive" / "tst"
    small_project.edit(workflow, "station/station", lambda s: s.update(local_standard_time=offset))
    rules = {"least_share_daily": 0.05, "periods": {"local_standard": ["hourly", "daily"]}}
    small_project.edit(workflow, "processing", lambda p: p.update(aggregate=rules))
    _, outcomes = run(workflow, Choice(), lambda *_: None)
    assert {o.done for o in outcomes} == {"written"}
    hours = pd.Timedelta(f"{offset[1:]}:00") * (1 if offset[0] == "+" else -1)
    table = minutes_of_archive(workflow)
    by_clock = table.set_axis(table.index + hours)["ghi"]
    for product, rule in (("hourly", "h"), ("daily", "D")):
        pieces, bounds = [], []
        for year in ("2030", "2031"):
            with xr.open_dataset(
                archive / product / f"tst_{product}_local_{year}.nc", decode_timedelta=False
            ) as ds:
                shown = ds["local_standard_time"].to_index()
                assert set(shown.strftime("%Y")) == {year}
                pieces.append(pd.Series(ds["ghi"].values, shown))
                bounds.append(ds["time_bounds"].values)
        np.testing.assert_array_equal(bounds[0][-1, 1], bounds[1][0, 0])
        got = pd.concat(pieces)
        expected = by_clock.resample(rule).mean().reindex(got.index)
        known = got.notna()
        turn = pd.Timestamp("2031-01-01")
        assert known[got.index < turn].sum() >= 1
        assert known[got.index >= turn].sum() >= 1
        np.testing.assert_allclose(got[known], expected[known], rtol=0, atol=2**-7)
        # the period that holds the turn of UTC's year draws on the minutes of both
        beside = turn - pd.Timedelta(1, "h" if product == "hourly" else "D")
        assert known[beside] or known[turn]


def found_noon(folder: Path) -> float:
    """How far the true noons of the daily bounds lie from the middle of the bounds. [s]"""
    path = folder / "archive" / "tst" / "daily" / "tst_daily_solar_2031.nc"
    with xr.open_dataset(path, decode_times=False) as ds:
        bounds, longitude = ds["time_bounds"].values, float(ds["longitude"])
    noon = sun_times(bounds[:, 0], 46.8, longitude).solar_noon
    return float(np.abs(noon - bounds.mean(axis=1)).max())
