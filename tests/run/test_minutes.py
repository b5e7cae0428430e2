"""Minutes of a station: without readings all missing, and said so; however cut, the same."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import small_project
from sunledger.config.resolve import resolve_period
from sunledger.run import minutes
from sunledger.run.job import Choice, prepare
from sunledger.run.minutes import alike, arrays_of, load_readings, minutes_of, one_after_the_other
from sunledger.run.months import month_bounds
from sunledger.vocabulary import TESTS


def test_no_voltages_give_missing_minutes(tmp_path: Path) -> None:
    """A grid without a file has its words all the same; other tests are in test_making.py."""
    context = prepare(small_project.write_project(tmp_path, minutes=3), Choice()).context
    config = context.station(small_project.STATION)
    start = month_bounds("2031-06")[0]
    ds, period = minutes_of(context, config, start, start + 86400, ())
    assert ds.sizes["time"] == 1440
    assert int(ds["time"].values[0]) == start
    assert period.start < start
    for quantity in period.quantities():
        assert np.isnan(ds[quantity].values).all()
        assert (ds[f"{quantity}_flags"].values & TESTS["missing"].mask != 0).all()
    empty = load_readings(context.archive, resolve_period(config, context.processing, 0, 86400))
    assert {empty.sizes[f"reading_{name}"] for name in ("main", "beam")} == {0}


def test_readings_by_the_second_are_made_minutes_of_some_days_at_a_time(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same to the bit as at once; here two days of minutes stand for them."""
    workflow: Path = small_project.made_once(tmp_path_factory.getbasetemp())
    context = prepare(workflow, Choice()).context
    config = context.station(small_project.STATION)
    start = month_bounds("2031-06")[1] - 3 * 86400
    end = start + 5 * 86400
    whole, period = minutes_of(context, config, start, end)
    assert np.isfinite(whole["ghi"].values).any()
    given = []
    at_once = minutes._at_once

    def noted(*some: object) -> object:
        given.append(some[2:4])
        return at_once(*some)  # type: ignore[arg-type]

    monkeypatch.setattr(minutes, "_at_once", noted)
    assert minutes_of(context, config, start, end)[0].identical(whole)
    assert given == [(start, end)]
    given.clear()
    monkeypatch.setattr(minutes, "TOGETHER", 2 * 1440 + 100)
    cut, around = minutes_of(context, config, start, end)
    assert given == [(start + n * 86400, min(start + (n + 2) * 86400, end)) for n in (0, 2, 4)]
    xr.testing.assert_identical(cut, whole)
    assert (around.start, around.end) == (period.start, period.end)


def test_days_that_do_not_know_the_same_columns_are_made_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some quantity is lost on one of them, as where an instrument comes or goes."""
    context = prepare(small_project.write_project(tmp_path, minutes=3), Choice()).context
    config = context.station(small_project.STATION)
    start = month_bounds("2031-06")[0]
    end = start + 2 * 86400
    at_once = minutes._at_once
    given = []

    def lacking(_: object, __: object, first: int, past: int, voltages: object) -> object:
        given.append((first, past))
        ds, period = at_once(context, config, first, past, ())
        return (ds.drop_vars("ghi_min") if first > start else ds), period

    whole, _ = minutes_of(context, config, start, end, ())
    monkeypatch.setattr(minutes, "TOGETHER", 1440)
    monkeypatch.setattr(minutes, "_at_once", lacking)
    ds, _ = minutes_of(context, config, start, end, ())
    assert given == [(start, start + 86400), (start + 86400, end), (start, end)]
    xr.testing.assert_identical(ds, whole)


def test_pieces_lie_one_after_the_other() -> None:
    time = np.arange(6) * 60
    ds = xr.Dataset({"a": ("time", np.arange(6.0))}, {"time": ("time", time)}, {"interval": 60})
    pieces = [arrays_of(ds, 0, 120), arrays_of(ds, 120, 360)]
    assert [a["a"].size for a, _ in pieces] == [2, 4]
    assert alike(pieces)
    xr.testing.assert_identical(one_after_the_other(pieces), ds)
    xr.testing.assert_identical(one_after_the_other([arrays_of(ds)]), ds)
    other = arrays_of(ds.assign(b=ds["a"]))
    assert not alike([pieces[0], other])
    assert not alike([pieces[0], arrays_of(ds.astype("f4"))])
