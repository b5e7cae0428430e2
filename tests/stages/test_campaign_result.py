"""Minutes to a responsivity: what is left out, the budget by hand, and honest intervals."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose

from campaign_project import campaign
from sunledger.config.models.base import parse_utc
from sunledger.config.models.campaign import Campaign
from sunledger.errors import CampaignError
from sunledger.stages.campaign_result import Result, result_of, select

START = parse_utc("2031-03-25")
FILE = Campaign.model_validate(campaign())
APART = 10.0
TRUE = 8.4


def minutes(days: int = 4, hours: int = 4, **over: Any) -> xr.Dataset:
    """Four hours of steady light around noon on each day."""
    part = np.arange(60 * hours) * 60 + 10 * 3600
    time = (START + 86400 * np.arange(days)[:, None] + part).ravel()
    light = np.full(time.size, 800.0)
    plain: dict[str, Any] = {
        "signal": light * TRUE,
        "reference": light,
        "part_reference": 0.006 * light,
        "zenith": np.full(time.size, 45.0),
        "hindered": np.zeros(time.size, bool),
        "clocks_apart": np.zeros(time.size),
        "part_zero_offset_b": np.full(time.size, 0.8),
        "part_level": np.full(time.size, 2.4),
    }
    every = plain | over
    return xr.Dataset(
        {n: ("time", v) for n, v in every.items()}, {"time": time}, {"longitude": 6.9}
    )


def result(ds: xr.Dataset, **selection: Any) -> Result:
    """Under the default rules, or others."""
    return result_of(ds, Campaign.model_validate(campaign(selection=selection)), APART)


def by_day(*factors: float) -> xr.Dataset:
    """Days whose responsivities differ."""
    ds = minutes(len(factors))
    signal = ds["signal"].values.reshape(len(factors), -1) * np.array(factors)[:, None]
    return ds.assign(signal=("time", signal.ravel()))


def test_budget_by_hand() -> None:
    """Reference 0.6 %, level 2.4 / 800 = 0.3 %, zero 0.8 / 800 = 0.1 %, and the days.

    Days at -0.2, 0, 0 and +0.2 % scatter by 0.1633 %, over the root of 4 by 0.0816 %.
    Combined sqrt(0.36 + 0.09 + 0.01 + 0.00667) = 0.6831 %. Degrees of freedom by JCGM 100:2008,
    G.2b: 0.6831**4 / (0.0816**4 / 3) = 14 700, so k = 1.960 (its table G.2, last row).
    """
    found = result(by_day(0.998, 1.0, 1.0, 1.002))
    parts = {p.name: 100 * p.standard for p in found.parts}
    assert parts == pytest.approx(
        {"scatter of the days": 0.0816, "reference": 0.6, "zero_offset_b": 0.1, "level": 0.3},
        abs=5e-5,
    )
    assert found.responsivity == pytest.approx(TRUE, rel=1e-12)
    assert 100 * found.combined == pytest.approx(0.6831, abs=5e-5)
    assert found.degrees == pytest.approx(14700, rel=0.01)
    assert found.coverage_factor == pytest.approx(1.960, abs=5e-4)
    assert (found.zenith, found.irradiance) == (45.0, 800.0)


def test_what_is_new_each_minute_averages_out() -> None:
    """By hand: 8 W m-2 of 800 in each of 960 minutes is 1 % over the root of 960, 0.0323 %."""
    each = xr.DataArray(np.full(960, 8.0), dims="time", attrs={"common": "sample"})
    found = result(minutes().assign(part_clock=each))
    parts = {p.name: 100 * p.standard for p in found.parts}
    assert parts["clock"] == pytest.approx(0.03227, abs=5e-6)


def test_few_scattered_days_widen_the_interval() -> None:
    """Three days alone at ±1 % with a perfect reference: k = 4.30 of two degrees is refused.

    With a fourth day it is 3.18 (JCGM 100:2008, table G.2, 95 %).
    """
    parts = ("part_reference", "part_level", "part_zero_offset_b")
    ds = by_day(0.99, 0.995, 1.0, 1.01).assign({n: ("time", np.zeros(960)) for n in parts})
    assert result(ds).coverage_factor == pytest.approx(3.18, abs=0.005)
    with pytest.raises(CampaignError, match=r"coverage factor 4\.3\); compare on more days"):
        result(ds.isel(time=slice(0, 720)))


def test_every_reason_to_leave_a_minute_out() -> None:
    """Counted once, for the first reason that applies."""
    ds = minutes(5)
    n = ds.sizes["time"]
    values = {name: ds[name].values.copy() for name in ds.data_vars}
    values["signal"][0:5] = np.nan
    values["reference"][5:15] = 300.0
    values["zenith"][15:30] = 75.0
    values["hindered"][20:40] = True
    values["clocks_apart"][40:45] = 11.0
    values["reference"][240:270] *= 1 + 0.2 * np.sin(np.arange(30.0))  # a cloud
    values["signal"][300:303] *= 1.05
    values["signal"][480:510] *= 1.04  # a whole series
    made = {k: ("time", v) for k, v in values.items()}
    found = select(xr.Dataset(made, {"time": ds["time"]}, ds.attrs), FILE, APART)
    counts = [number for _, number in found.left_out]
    # of the second series 15 minutes are left: too few
    assert counts == [5, 10, 15, 10, 5, 15, 30, 3, 30]
    assert int(found.minutes.sum()) + sum(counts) == n
    assert found.responsivity.size == 40 - 4


def test_minutes_outside_the_campaign_are_not_counted() -> None:
    """The halo is neither used nor told."""
    ds = minutes(30)
    found = select(ds, FILE, APART)
    assert int(found.minutes.sum()) == 11 * 240
    assert sum(n for _, n in found.left_out) == 0


def test_days_are_those_of_the_sun() -> None:
    """Near the date line the light of one day lies in two of UTC, which are not independent."""
    ds = minutes(3)
    far = ds.assign_coords(time=ds["time"] - 12 * 3600).assign_attrs(longitude=179.0)
    assert np.unique(far["time"].values // 86400).size == 4
    assert np.unique(select(far, FILE, APART).day).size == 3
    assert np.unique(select(ds, FILE, APART).day).size == 3


def test_clocks_unknown_do_not_count() -> None:
    """A missing residual is no agreement."""
    ds = minutes().assign(clocks_apart=("time", np.full(960, np.nan)))
    assert select(ds, FILE, APART).responsivity.size == 0


def test_too_few_series_or_days() -> None:
    """Two days of eight series, or four of two."""
    with pytest.raises(CampaignError, match="16 series on 2 days count; needed: 12 on 3"):
        result(minutes(2))
    with pytest.raises(CampaignError, match="8 series on 4 days count; needed: 12 on 3"):
        result(minutes(4, hours=1))


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """Invented truth: 300 campaigns with errors drawn from their own budget; 95 % of intervals.

    The chance that an honest 95 % interval scores outside 91 to 98.5 % of 300 is below 0.5 %.
    """
    rng = np.random.default_rng(20310325)
    held, number = 0, 300
    template = minutes(5)
    n = template.sizes["time"]
    for _ in range(number):
        days = rng.normal(0.0, 0.004, 5).repeat(n // 5)
        common = rng.normal(0.0, 0.006) + rng.normal(0.0, 0.003) + rng.normal(0.0, 0.001)
        noise = rng.normal(0.0, 0.002, n)
        signal = template["reference"].values * TRUE * (1 + common + days + noise)
        found = result(template.assign(signal=("time", signal)))
        held += abs(found.responsivity / TRUE - 1.0) < found.expanded
    assert 0.91 < held / number < 0.985


def test_order_of_minutes_and_input_stay_as_they_are() -> None:
    """The input is not written into, and minutes in another order give the same."""
    ds = by_day(0.998, 1.0, 1.0, 1.002)
    before = ds.copy(deep=True)
    plain = result(ds)
    xr.testing.assert_identical(ds, before)
    mixed = ds.isel(time=np.random.default_rng(1).permutation(ds.sizes["time"]))
    assert_allclose(result(mixed).responsivity, plain.responsivity, rtol=1e-13)
