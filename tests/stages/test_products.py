"""Products from sums: which there are, what each holds, and years of the calendar."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sunledger.config.models.aggregation import AggregateSettings
from sunledger.stages.cells import Cells
from sunledger.stages.products import STEPS, aggregated, days_of
from sunledger.stages.time_bases import TimeBase

UTC = TimeBase()
PLAIN = AggregateSettings(monthly_method="plain", least_share_daily=0.0)
DAY = 86400
START = 1924992000  # 2031-01-01


def hours(days: int, names: tuple[str, ...] = ("ghi",), start: int = START) -> Cells:
    """Hours in which each day has its number as mean."""
    edges = start + 3600 * np.arange(24 * days + 1)
    mean = np.repeat(np.arange(1.0, days + 1), 24)
    sums = {}
    for name in names:
        sums |= {f"{name}.count": np.full(mean.size, 60), f"{name}.total": 60 * mean}
    return Cells(edges[:-1], edges[1:], edges[:-1], sums, {}, {}, dict.fromkeys(names, 60))


def test_months_and_days_of_a_quarter() -> None:
    """January to March: 31, 28 and 31 days; their means are those of their days."""
    cells = {"hourly": hours(90)}
    days = aggregated(cells, days_of(cells), "daily", PLAIN, UTC)
    months = aggregated(cells, days_of(cells), "monthly", PLAIN, UTC)
    assert days is not None
    assert months is not None
    assert_allclose(days["ghi"], np.arange(1.0, 91.0))
    assert_allclose(months["ghi"], [16.0, 45.5, 75.0])
    lengths = (months["time_end"] - months["time"]).values // DAY
    assert lengths.tolist() == [31, 28, 31]
    assert float(days["ghi_exposure"].sum()) == pytest.approx(float(months["ghi_exposure"].sum()))


@pytest.mark.parametrize(("start", "days"), [(START, 365), (START + 365 * DAY, 366)])
def test_a_year_is_as_long_as_the_calendar_says(start: int, days: int) -> None:
    """Whatever months are there; what is missing counts as missing. A leap year has 366 days."""
    cells = {"hourly": hours(31, start=start)}
    got = aggregated(
        cells, days_of(cells), "yearly", AggregateSettings(monthly_method="plain"), UTC
    )
    assert got is not None
    assert got["time"].values.tolist() == [start]
    assert got["time_end"].values.tolist() == [start + days * DAY]
    assert got["ghi_number_of_missing_observations"].values.tolist() == [(days - 31) * 1440]
    assert np.isnan(got["ghi"].values).all()
    assert np.isfinite(got["ghi_plain_mean"].values).all()


def test_air_has_no_exposure_and_no_method() -> None:
    """Its monthly mean is the plain one."""
    cells = {"hourly": hours(31, ("ghi", "air_temperature"))}
    got = aggregated(cells, days_of(cells), "monthly", PLAIN, UTC)
    assert got is not None
    assert got["air_temperature"].values.tolist() == [16.0]
    assert "air_temperature_exposure" not in got
    assert "air_temperature_plain_mean" not in got


def test_what_the_clock_shows_stands_beside_other_times() -> None:
    """Not with UTC, where it would say the same."""
    local = TimeBase("local_standard", 3600)
    got = aggregated({"hourly": hours(1)}, None, "hourly", PLAIN, local)
    assert got is not None
    assert got["clock_time"].dims == ("time",)
    plain = aggregated({"hourly": hours(1)}, None, "hourly", PLAIN, UTC)
    assert plain is not None
    assert "clock_time" not in plain.coords


def test_no_product_of_periods_that_no_series_has() -> None:
    """Nothing is ever up-sampled."""
    assert aggregated({"hourly": hours(1)}, None, "5min", PLAIN, UTC) is None
    assert list(STEPS.values()) == sorted(STEPS.values())
