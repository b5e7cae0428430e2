"""Minutes of a station without readings: all there, all missing, and said so."""

from __future__ import annotations

from pathlib import Path

import numpy as np

import small_project
from sunledger.config.resolve import resolve_period
from sunledger.run.job import Choice, prepare
from sunledger.run.minutes import load_readings, minutes_of
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
