"""A year joined from months: no seam between them, and each file read once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from numpy.testing import assert_allclose, assert_array_equal

import small_project
from invented import period, station_config
from sunledger.archive.content import content_digest
from sunledger.archive.netcdf import read_file
from sunledger.config.models.base import parse_utc
from sunledger.config.models.processing import Processing
from sunledger.physics.sun import solar_position
from sunledger.run import years
from sunledger.run.groups import run_aggregates
from sunledger.run.guarding import published
from sunledger.run.job import Choice, prepare
from sunledger.run.publish import Outcome
from sunledger.run.unit import Unit
from sunledger.run.years import YearInMaking, aggregated_year, joined_minutes
from sunledger.stages.aggregate import REACH, aggregate

START, MIDDLE, END = (parse_utc(f"2031-0{m}-01") for m in (4, 5, 6))


def two_months() -> xr.Dataset:
    """Random minutes with gaps, bad grades, and lapses of the direct around the turn of month."""
    rng = np.random.default_rng(11)
    time = np.arange(START, END, 60, dtype=np.int64)
    zenith = solar_position(time + 30, 46.9, 10.2, 2000.0).zenith
    data: dict[str, Any] = {"solar_zenith_angle": zenith, "clock_residual_main": time % 41 - 20.0}
    for quantity in ("ghi", "dhi", "dni", "lwd"):
        mean = rng.gamma(2.0, 150.0, time.size)
        mean[rng.random(time.size) < 0.03] = np.nan
        grade = rng.choice([1, 2, 3, 4], time.size, p=[0.9, 0.05, 0.03, 0.02]).astype(np.int8)
        data |= {quantity: mean, f"{quantity}_std": rng.random(time.size)}
        data |= {f"{quantity}_grade": np.where(np.isnan(mean), 9, grade).astype(np.int8)}
    turn = int(np.searchsorted(time, MIDDLE))
    data["dni"][turn - 30 : turn + 30] = 400.0
    data["dhi"][turn - 30 : turn + 30] = 50.0
    data["ghi"][turn - 30 : turn + 30] = 90.0
    for name in ("dni_grade", "dhi_grade", "ghi_grade"):
        data[name][turn - 30 : turn + 30] = 1
    data["dni_grade"][[turn - 1, turn + 8]] = 4
    columns = {name: ("time", values) for name, values in data.items()}
    return xr.Dataset(columns, coords={"time": time}, attrs={"interval": 60})


def bounds(start: int, end: int) -> Any:
    """The invented station in that time, every period with a value."""
    shares = {"least_share_hourly": 0.01, "least_share_daily": 0.01}
    processing = Processing.model_validate({"aggregate": shares})
    return period(station_config(), start, (end - start) / 86400, processing)


def near(ds: xr.Dataset, turn: int) -> xr.Dataset:
    """What of a month lies within reach of its turn."""
    return ds.isel(time=np.abs(ds["time"].values - turn + 30) < REACH)


def test_cut_into_months_as_in_one_pass_and_as_by_pandas() -> None:
    """Two months with gaps: each month with its neighbour, the whole at once, and pandas."""
    ds = two_months()
    april, may = (ds.isel(time=(ds["time"].values < MIDDLE) == first) for first in (True, False))
    april, may = april.assign_attrs(ds.attrs), may.assign_attrs(ds.attrs)
    for product, rule in (("hourly", "h"), ("daily", "D")):
        whole = aggregate(ds, bounds(START, END), product)
        parts = [
            aggregate(joined_minutes([april, near(may, MIDDLE)]), bounds(START, MIDDLE), product),
            aggregate(joined_minutes([near(april, MIDDLE), may]), bounds(MIDDLE, END), product),
        ]
        joined = xr.concat(parts, "time")
        assert set(joined.variables) == set(whole.variables)
        for name in whole.variables:
            assert_array_equal(joined[name], whole[name], err_msg=str(name))
        usable = (ds["ghi_grade"] <= 3).values
        plain = pd.Series(np.where(usable, ds["ghi"], np.nan), pd.to_datetime(ds["time"], unit="s"))
        assert_allclose(joined["ghi"], plain.resample(rule).mean(), rtol=1e-10)


def test_without_the_neighbour_the_turn_of_the_month_would_show() -> None:
    """The lapses around midnight are there to be seen by both months."""
    ds = two_months()
    may = ds.isel(time=ds["time"].values >= MIDDLE).assign_attrs(ds.attrs)
    alone = aggregate(may, bounds(MIDDLE, END), "hourly")["ghi_selected_share_component_sum"]
    whole = aggregate(ds, bounds(START, END), "hourly").sel(time=alone["time"])
    differs = alone.values != whole["ghi_selected_share_component_sum"].values
    assert np.flatnonzero(differs).tolist() == [0]


def test_minutes_are_read_once_for_all_products(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two months of files, three products, two reads; each as if made alone."""
    workflow: Path = small_project.made_once(tmp_path_factory.getbasetemp())
    prepared = prepare(workflow, Choice())
    units = [u for u in prepared.plan.units if u.kind == "aggregate"]
    assert len(units) == 3
    read: list[Path] = []
    real = years.read_minutes
    monkeypatch.setattr(
        years, "read_minutes", lambda path, words: read.append(path) or real(path, words)
    )
    together = aggregated_year(prepared.context, units)
    assert len(read) == len(set(read)) == 2
    for unit in units:
        name = (unit.product, "")
        xr.testing.assert_identical(aggregated_year(prepared.context, [unit])[name], together[name])


def test_a_year_that_was_begun_while_its_minutes_came_is_the_same(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A month waits for those beside it; what was begun of other months is left aside."""
    workflow: Path = small_project.made_once(tmp_path_factory.getbasetemp())
    context = (prepared := prepare(workflow, Choice())).context
    units = [u for u in prepared.plan.units if u.kind == "aggregate"]
    first, second = units[0].months
    taken: list[str] = []
    real = years._month_cells

    def cells(reader: Any, part: str, month: str, products: Any, last: bool) -> Any:
        taken.append(month)
        return real(reader, part, month, products, last)

    monkeypatch.setattr(years, "_month_cells", cells)
    whole = aggregated_year(context, units)
    assert taken == [first, second]
    taken.clear()
    ahead = YearInMaking(context, units)
    ahead.advance({first})
    assert taken == []
    ahead.advance({first, second})
    assert taken == [first, second]
    begun = aggregated_year(context, units, ahead)
    assert taken == [first, second]
    assert begun.keys() == whole.keys()
    for name, ds in whole.items():
        xr.testing.assert_identical(begun[name], ds)

    taken.clear()
    ahead = YearInMaking(context, units)
    ahead.advance()
    fewer = [replace(u, months=(first,)) for u in units]
    alone = aggregated_year(context, fewer, ahead)
    assert taken == [first, second, first]
    for name, ds in aggregated_year(context, fewer).items():
        xr.testing.assert_identical(alone[name], ds)


def test_minutes_that_were_handed_over_are_not_read(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also such as come before their turn; not of a file that is gone."""
    workflow: Path = small_project.made_once(tmp_path_factory.getbasetemp())
    context = (prepared := prepare(workflow, Choice())).context
    units = [u for u in prepared.plan.units if u.kind == "aggregate"]
    months = units[0].months
    paths = [context.product_path("tst", "minute", month) for month in months]
    whole = aggregated_year(context, units)
    read: list[Path] = []
    real = years.read_minutes
    monkeypatch.setattr(
        years, "read_minutes", lambda path, words: read.append(path) or real(path, words)
    )
    ahead = YearInMaking(context, units)
    for path in reversed(paths):
        ahead.hand_over(path, read_file(path))
    ahead.hand_over(tmp_path_factory.mktemp("gone") / "gone.nc", read_file(paths[0]))
    ahead.advance(set(months))
    assert read == []
    made = aggregated_year(context, units, ahead)
    for name, ds in whole.items():
        xr.testing.assert_identical(made[name], ds)
    ahead.hand_over(paths[0], read_file(paths[0]))  # the year is over: nothing waits for it
    assert ahead._reader._handed == {}


def test_few_months_wait_for_those_before_them(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    workflow: Path = small_project.made_once(tmp_path_factory.getbasetemp())
    context = (prepared := prepare(workflow, Choice())).context
    units = [u for u in prepared.plan.units if u.kind == "aggregate"]
    minutes = read_file(context.product_path("tst", "minute", units[0].months[0]))
    ahead = YearInMaking(context, units)
    for number in range(years.HANDED + 2):
        ahead.hand_over(Path(f"{number}.nc"), minutes)
    assert list(ahead._reader._handed) == [Path(f"{n + 2}.nc") for n in range(years.HANDED)]


def test_minutes_that_time_has_passed_are_let_go(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """Two days stay for the next month, nothing when the year is over or time went far beyond."""
    workflow: Path = small_project.made_once(tmp_path_factory.getbasetemp())
    context = (prepared := prepare(workflow, Choice())).context
    units = [u for u in prepared.plan.units if u.kind == "aggregate"]
    ahead = YearInMaking(context, units)
    ahead.advance()
    assert ahead._reader._held == {}
    ds = two_months()
    kept = years._since(ds, MIDDLE - years.BEYOND)
    assert kept is not None
    assert kept["time"].values[0] == MIDDLE - years.BEYOND
    assert years._since(kept, MIDDLE - years.BEYOND) is kept
    assert years._since(ds, END) is None
    assert years._since(None, END) is None


@pytest.mark.parametrize("fails", ["from_cells", "_month_cells"])
def test_a_try_that_fails_takes_nothing_from_the_next(
    fails: str, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A year that was begun, and has no room once: one product fails, the others are whole."""
    workflow: Path = small_project.made_once(tmp_path_factory.getbasetemp())
    context = (prepared := prepare(workflow, Choice())).context
    units = [u for u in prepared.plan.units if u.kind == "aggregate"]
    whole = [content_digest(r.spec) for r in run_aggregates(context, units, _there(units))]  # type: ignore[union-attr]
    real, tries = getattr(years, fails), []

    def no_room_once(*given: Any) -> Any:
        tries.append(given)
        if len(tries) == 1:
            raise MemoryError
        return real(*given)

    monkeypatch.setattr(years, fails, no_room_once)
    first, *rest = run_aggregates(context, units, _there(units), YearInMaking(context, units))
    assert isinstance(first, Outcome)
    assert first.done == "failed"
    assert [content_digest(r.spec) for r in rest] == whole[1:]  # type: ignore[union-attr]


def _there(units: list[Unit]) -> list[Outcome]:
    return [Outcome(name, "unchanged") for name in units[0].after]


def test_aggregates_of_a_failed_month_are_not_made() -> None:
    """Each is named with what it waited for."""
    after = ("tst minute 2031-03",)
    units = [Unit("aggregate", "tst", p, "2031", "", {}, after=after) for p in ("hourly", "daily")]
    failed = [Outcome("tst minute 2031-03", "failed")]
    outcomes = [published(r) for r in run_aggregates(None, units, failed)]  # type: ignore[arg-type]
    assert [(o.unit, o.done) for o in outcomes] == [
        ("tst hourly 2031", "failed"),
        ("tst daily 2031", "failed"),
    ]
    assert all("tst minute 2031-03 failed" in str(o.error) for o in outcomes)
