"""Aggregates of the published month: every monthly rule, whole and with blocks taken out.

Compared with calculations in pandas on the published values, written without the package.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import real_month
from invented import period, station_config
from sunledger.config.models.base import parse_utc
from sunledger.config.models.processing import Processing
from sunledger.physics.sun import solar_position
from sunledger.stages.aggregate import aggregates
from sunledger.vocabulary import WITHHELD

START = parse_utc("2016-06-01")
QUANTITIES = ("ghi", "dhi", "dni", "lwd")
FEW_DAYS = WITHHELD["few_days"].mask
BLOCKS = {
    "whole": (),
    "nights of ten days": tuple((d, 1200, 1440 + 240) for d in range(5, 15)),
    "mornings of eight days": tuple((d, 240, 720) for d in range(3, 11)),
    "six days": ((12, 0, 6 * 1440),),
}


def table(block: str) -> pd.DataFrame:
    """Published irradiances without a block."""
    out = real_month.published()[list(QUANTITIES)].copy()
    for day, first, past in BLOCKS[block]:
        out.iloc[day * 1440 + first : day * 1440 + past] = np.nan
    return out


def zenith() -> np.ndarray:
    """Of the middle of each minute."""
    return solar_position(START + 30 + 60 * np.arange(43200), 46.815, 6.944, 491.0).zenith


def made(values: pd.DataFrame, product: str, **rules: Any) -> xr.Dataset:
    """By the stage."""
    processing = Processing.model_validate({"aggregate": rules})
    config = station_config(latitude=46.815, longitude=6.944, altitude=491.0)
    bounds = period(config, START, 30, processing)
    data = {q: ("time", values[q].to_numpy().astype(np.float32)) for q in QUANTITIES}
    sun = {
        "solar_zenith_angle": ("time", zenith()),
        "clock_residual_main": ("time", np.zeros(43200)),
    }
    time = START + 60 * np.arange(43200)
    ds = xr.Dataset(data | sun, {"time": time}, {"interval": 60})
    return aggregates(ds, bounds, (product,))[product]


def composite(values: pd.Series, night: np.ndarray) -> float:
    """Roesch et al. 2011: bins of a quarter of an hour, 20 % of each, over the days, over all."""
    kept = values.where(~night, 0.0)
    bins = kept.resample("15min")
    means = bins.mean().where(bins.count() >= 3)
    return float(means.groupby(means.index.time).mean().mean())


@pytest.mark.parametrize("block", BLOCKS)
def test_the_composite(block: str) -> None:
    """Shortwave with the night rule, longwave without."""
    values, dark = table(block), zenith() > 93.0
    got = made(values, "monthly")
    for q in QUANTITIES:
        expected = composite(values[q], dark if q != "lwd" else np.zeros(43200, bool))
        assert float(got[q].values[0]) == pytest.approx(expected, rel=1e-6), q
        assert float(got[f"{q}_plain_mean"].values[0]) == pytest.approx(values[q].mean(), rel=1e-6)


def test_the_composite_bears_missing_nights_and_mornings() -> None:
    """A plain mean goes astray by 5 % and more; the composite stays within 3 %."""
    truth = table("whole")["ghi"].clip(lower=0.0).mean()
    for block in ("nights of ten days", "mornings of eight days"):
        got = made(table(block), "monthly")
        assert abs(float(got["ghi"].values[0]) / truth - 1.0) < 0.03, block
    plain = made(table("nights of ten days"), "monthly")["ghi_plain_mean"].values[0]
    assert abs(float(plain) / truth - 1.0) > 0.05


@pytest.mark.parametrize("block", BLOCKS)
def test_half_days(block: str) -> None:
    """Days with half of their daytime minutes; the mean by day, and the night as read."""
    values, light = table(block)["ghi"], zenith() <= 90.0
    days = values.index.floor("D")
    frame = pd.DataFrame({"v": values, "light": light, "day": days})
    means = []
    for _, one in frame.groupby("day"):
        lit, dark = one[one["light"]]["v"], one[~one["light"]]["v"]
        if lit.count() >= 0.5 * len(lit):
            means.append((lit.mean() * len(lit) + dark.sum()) / 1440)
    got = made(table(block), "monthly", monthly_method="half_days")
    assert float(got["ghi"].values[0]) == pytest.approx(np.mean(means), rel=1e-6)
    assert got["ghi_number_of_days"].values.tolist() == [len(means)]


@pytest.mark.parametrize("block", BLOCKS)
def test_whole_days(block: str) -> None:
    """Days of which every hour with the sun above 5 degree has half of its minutes."""
    values, high = table(block)["ghi"], zenith() <= 85.0
    hours = values.resample("h")
    full = hours.count() >= 30
    asked = pd.Series(high, values.index).resample("h").sum() > 0
    energy = hours.mean().where(full, 0.0)
    whole = (full | ~asked).resample("D").min().astype(bool) & full.resample("D").max()
    days = energy.resample("D").mean()[whole]
    got = made(table(block), "monthly", monthly_method="whole_days")
    assert got["ghi_number_of_days"].values.tolist() == [len(days)]
    if 30 - len(days) > 9:
        assert got["ghi_withheld"].values.tolist() == [FEW_DAYS]
    else:
        assert float(got["ghi"].values[0]) == pytest.approx(days.mean(), rel=1e-6)


def test_ten_days_missing_are_too_many() -> None:
    """By the rule of whole days and by that of half days; the composite still stands."""
    values = table("whole")
    values.iloc[: 11 * 1440] = np.nan
    for method in ("whole_days", "half_days"):
        got = made(values, "monthly", monthly_method=method)
        assert got["ghi_withheld"].values.tolist() == [FEW_DAYS], method
    got = made(values, "monthly")
    assert np.isfinite(got["ghi"].values).all()
    assert got["ghi_number_of_days"].values[0] <= 19


def test_a_component_missing_for_half_of_the_day() -> None:
    """The sum lacks what the direct lacks; the selected global says that it took the other."""
    values = table("whole")
    values.iloc[:720, values.columns.get_loc("dni")] = np.nan
    got = made(values, "daily", least_share_daily=0.4).isel(time=0)
    assert int(got["ghi_component_sum_number_of_observations"]) <= 720
    assert float(got["ghi_selected_share_pyranometer"]) == pytest.approx(0.5, abs=0.01)
    assert float(got["ghi_selected_coverage_fraction"]) > 0.99
    strict = made(values, "daily").isel(time=0)
    assert np.isnan(strict["ghi_component_sum"])
    assert np.isfinite(strict["ghi_selected"])
    assert int(strict["ghi_component_sum_withheld"]) == WITHHELD["low_coverage"].mask


def test_nights_apart() -> None:
    """Days of which all nights are missing keep their mean where nights are not asked for."""
    values = table("whole")
    dark = zenith() > 93.0
    complete = made(values, "daily", night="not_asked")
    values.loc[dark, "ghi"] = np.nan
    asked = made(values, "daily")
    assert np.isnan(asked["ghi"].values).all()
    apart = made(values, "daily", night="not_asked")
    # the nights of the month measured -0.4 W m-2 or so, and now enter as 0
    np.testing.assert_allclose(apart["ghi"], complete["ghi"], rtol=0, atol=1.0)
    careless = values["ghi"].resample("D").mean()
    assert (careless / complete["ghi"].values > 1.3).all()


def test_low_sun_may_be_missing() -> None:
    """Minutes below 6 degree missing: withheld where nearly all of the light is asked for."""
    values = table("whole")
    values.loc[zenith() > 84.0, "ghi"] = np.nan
    strict = made(values, "daily", night="not_asked", least_share_daily=0.97)
    assert np.isnan(strict["ghi"].values).all()
    rules = {"night": "not_asked", "least_share_daily": 0.97, "sunrise_tolerance": 6.5}
    borne = made(values, "daily", **rules)
    whole = made(table("whole"), "daily", night="not_asked")
    known = np.isfinite(borne["ghi"].values)
    assert known.sum() > 25
    # what is not there adds nothing: no more than 1.5 % of these days, and never too much
    lost = 1.0 - borne["ghi"].values[known] / whole["ghi"].values[known]
    assert ((lost > 0.0) & (lost < 0.015)).all()
    bright, read = values["ghi"].where(zenith() <= 83.5), values["ghi"].where(zenith() > 83.5)
    number = pd.Series(zenith() <= 83.5, values.index).resample("D").sum()
    means = (bright.resample("D").mean() * number + read.resample("D").sum()) / 1440
    np.testing.assert_allclose(borne["ghi"].values[known], means[known], rtol=1e-6)


def test_clear_minutes_add_up() -> None:
    """Of hours to days; as many as the test of single minutes finds, and of the light alone."""
    values = table("whole")
    hours, days = (made(values, product) for product in ("hourly", "daily"))
    for name in ("clear_minutes", "clear_minutes_told"):
        by_day = hours[name].values.reshape(30, 24).sum(axis=1)
        np.testing.assert_array_equal(by_day, days[name].values)
    light = pd.Series(zenith() < 85.0, values.index).resample("D").sum().to_numpy()
    assert (days["clear_minutes_told"].values <= light).all()
    assert (days["clear_minutes"].values <= days["clear_minutes_told"].values).all()
    assert 300 < int(days["clear_minutes"].sum()) < 5000
    without = made(values.assign(dhi=np.nan), "daily")
    assert int(without["clear_minutes_told"].sum()) == 0
