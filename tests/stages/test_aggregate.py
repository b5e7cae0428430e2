"""Hours, days and months against pandas, xarray and plain loops."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from numpy.testing import assert_allclose, assert_array_equal

from invented import DAY, MARCH, logger, period, station_config
from splits import Parts, parts_of_split
from sunledger.config.models.base import parse_utc
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import Period
from sunledger.physics.sun import solar_position
from sunledger.stages.aggregate import aggregate, counting
from sunledger.stages.error_sources import split_of_minutes
from sunledger.vocabulary import GRADES, WITHHELD

QUANTITIES = ("ghi", "dhi", "dni", "lwd")
NO_SAMPLE, LOW, COMPOSITE, UNDEFINED, FEW_DAYS, FEW_MONTHS = (b.mask for b in WITHHELD.values())


def resolved(
    start: int, days: float, settings: dict[str, Any] | None = None, **site: Any
) -> Period:
    """The invented station over some days."""
    processing = Processing.model_validate({"aggregate": settings or {}})
    return period(station_config(**site), start, days, processing)


def minutes(period_: Period, gaps: float = 0.1, seed: int = 1) -> xr.Dataset:
    """Random minutes with random gaps and grades, the sun where it is."""
    rng = np.random.default_rng(seed)
    time = np.arange(period_.start, period_.end, 60, dtype=np.int64)
    sun = solar_position(time + 30, period_.latitude, period_.longitude, period_.altitude)
    data: dict[str, Any] = {
        "solar_zenith_angle": sun.zenith,
        "clock_residual_main": rng.uniform(-29, 29, time.size),
        "air_temperature": rng.normal(280, 5, time.size),
        "wind_from_direction": rng.uniform(0, 360, time.size),
    }
    for quantity in QUANTITIES:
        mean = rng.gamma(2.0, 150.0, time.size)
        mean[rng.random(time.size) < gaps] = np.nan
        grade = rng.choice(
            [1, 2, 3, 4], time.size, p=[0.7, 0.1, 0.1, 0.1] if gaps else [1, 0, 0, 0]
        )
        grade[np.isnan(mean)] = GRADES["missing"]
        data |= {
            quantity: mean,
            f"{quantity}_min": mean - rng.random(time.size),
            f"{quantity}_max": mean + rng.random(time.size),
            f"{quantity}_std": rng.random(time.size),
            f"{quantity}_uncertainty": 1.0 + rng.random(time.size),
            f"{quantity}_grade": grade.astype(np.int8),
        }
    return xr.Dataset(
        {name: ("time", values) for name, values in data.items()},
        coords={"time": time},
        attrs={"interval": 60},
    )


def frame(ds: xr.Dataset, quantity: str) -> pd.DataFrame:
    """What counts of a quantity, by time."""
    usable = np.isin(ds[f"{quantity}_grade"].values, [1, 2, 3])
    index = pd.to_datetime(ds["time"].values, unit="s")
    names = ("", "_min", "_max", "_std", "_uncertainty")
    columns = {n: np.where(usable, ds[quantity + n].values, np.nan) for n in names}
    table = pd.DataFrame(columns, index=index)
    table.attrs["quantity"] = quantity
    return table


def expected_uncertainty(
    ds: xr.Dataset, bounds: Period, table: pd.DataFrame, rule: str, parts: Parts | None = None
) -> pd.Series:
    """The mean amount of each source, independent ones shrunk, and what is missing; by pandas."""
    quantity = str(table.attrs["quantity"])
    if parts is None:
        split = split_of_minutes(ds, bounds)(quantity)
        assert split is not None
        parts = parts_of_split(split)
    there = table[""].notna()
    number = there.resample(rule).sum()
    possible = 60 if rule == "h" else 1440
    square = (pd.Series(parts.sample, table.index).where(there) ** 2).resample(rule).sum()
    square /= number**2
    for part in (*parts.common.values(), *parts.day.values()):  # no period is longer than a day
        square += pd.Series(part, table.index).where(there).resample(rule).mean() ** 2
    spread = table[""].resample(rule).std(ddof=0)
    return np.sqrt(square + (2 * (1 - number / possible) * spread) ** 2)


MONTH = (parse_utc("2031-04-01"), 30)


@pytest.mark.parametrize(("product", "rule"), [("hourly", "h"), ("daily", "D")])
@pytest.mark.parametrize("quantity", QUANTITIES)
def test_against_pandas_resample(quantity: str, product: str, rule: str) -> None:
    """A random month: means, extremes, counts and deviations by an independent library."""
    bounds = resolved(*MONTH, {"least_share_hourly": 0.5, "least_share_daily": 0.5})
    ds = minutes(bounds)
    out = aggregate(ds, bounds, product)
    table = frame(ds, quantity)
    groups = table.resample(rule)
    enough = groups[""].count() >= 0.5 * (60 if rule == "h" else 1440)
    variance = (table["_std"] ** 2).resample(rule).mean() + groups[""].std(ddof=0) ** 2
    for name, expected in (
        ("", groups[""].mean()),
        ("_min", groups["_min"].min()),
        ("_max", groups["_max"].max()),
        ("_std", np.sqrt(variance)),
        ("_uncertainty", expected_uncertainty(ds, bounds, table, rule)),
    ):
        # the parts of the uncertainty are in single precision
        close = 1e-5 if name == "_uncertainty" else 1e-10
        assert_allclose(out[quantity + name], expected.where(enough), rtol=close, err_msg=name)
    assert_array_equal(out[f"{quantity}_number_of_observations"], groups[""].count())
    assert_array_equal(
        pd.to_datetime(out["time"].values, unit="s"), groups[""].count().index.to_numpy()
    )


def test_against_xarray_resample() -> None:
    """The same means by xarray."""
    bounds = resolved(*MONTH, {"least_share_daily": 0.0})
    ds = minutes(bounds)
    out = aggregate(ds, bounds, "daily")
    stamped = ds.assign_coords(time=pd.to_datetime(ds["time"].values, unit="s"))
    usable = stamped["dhi"].where(stamped["dhi_grade"] <= 3)
    assert_allclose(out["dhi"], usable.resample(time="D").mean(), rtol=1e-10)


def test_exposure_is_mean_times_duration() -> None:
    """In J m-2."""
    bounds = resolved(MARCH, 2)
    ds = minutes(bounds)
    for product, seconds in (("hourly", 3600), ("daily", DAY), ("monthly", 2 * DAY)):
        out = aggregate(ds, bounds, product)
        assert_allclose(out["ghi_exposure"], out["ghi"] * seconds, rtol=1e-14)
        assert_array_equal(out["time_end"] - out["time"], seconds)


def test_conservation() -> None:
    """In a complete month the daily exposures add up to that of the month by its plain mean."""
    bounds = resolved(*MONTH, {"monthly_method": "plain"})
    ds = minutes(bounds, gaps=0.0)
    hours, days, month = (aggregate(ds, bounds, p) for p in ("hourly", "daily", "monthly"))
    for name in ("ghi_exposure", "lwd_exposure", "dni_horizontal_exposure"):
        total = float(month[name].values[0])
        assert float(days[name].sum()) == pytest.approx(total, rel=1e-12)
        assert float(hours[name].sum()) == pytest.approx(total, rel=1e-12)
    assert float(days["sunshine_duration"].sum()) == float(month["sunshine_duration"].values[0])


def test_direct_on_the_horizontal_is_formed_minute_by_minute() -> None:
    """At the true middle of each; not mean direct times mean cosine."""
    bounds = resolved(MARCH, 1, {"least_share_hourly": 0.0})
    ds = minutes(bounds)
    out = aggregate(ds, bounds, "hourly")
    middle = ds["time"].values + 30 + ds["clock_residual_main"].values
    sun = solar_position(middle, 46.9, 10.2, 2000.0)
    cosine = np.maximum(np.cos(np.radians(sun.zenith)), 0.0)
    beam = np.where(ds["dni_grade"] <= 3, ds["dni"], np.nan)
    whole = np.where(ds["dhi_grade"] <= 3, ds["dhi"], np.nan) + beam * cosine
    for name, values in (("dni_horizontal", beam * cosine), ("ghi_component_sum", whole)):
        assert_allclose(out[name], np.nanmean(values.reshape(24, 60), axis=1), rtol=1e-10)
    careless = np.nanmean(beam.reshape(24, 60), 1) * cosine.reshape(24, 60).mean(1)
    assert np.abs(careless - out["dni_horizontal"].values).max() > 1.0


def test_component_sum_counts_where_both_components_do() -> None:
    """The direct's uncertainty projects; what one scale and one logger bring in is correlated."""
    bounds = resolved(MARCH, 1, {"least_share_hourly": 0.0})
    ds = minutes(bounds)
    out = aggregate(ds, bounds, "hourly")
    both = (ds["dhi_grade"] <= 3).values & (ds["dni_grade"] <= 3).values
    counted = both.reshape(24, 60).sum(1)
    assert_array_equal(out["ghi_component_sum_number_of_observations"], counted)
    middle = ds["time"].values + 30 + ds["clock_residual_main"].values
    cosine = np.cos(np.radians(solar_position(middle, 46.9, 10.2, 2000.0).zenith)).clip(min=0)
    split = split_of_minutes(ds, bounds)
    of_beam, of_diffuse = split("dni"), split("dhi")
    assert of_beam is not None
    assert of_diffuse is not None
    beam, diffuse = parts_of_split(of_beam), parts_of_split(of_diffuse)
    square = (ds["dni_uncertainty"].values * cosine) ** 2 + ds["dhi_uncertainty"].values ** 2
    table = pd.DataFrame(
        {
            "": np.where(both, ds["dhi"] + ds["dni"] * cosine, np.nan),
            "_uncertainty": np.where(both, np.sqrt(square), np.nan),
        },
        pd.to_datetime(ds["time"].values, unit="s"),
    )
    table.attrs["quantity"] = "ghi_component_sum"
    shared = beam.common.keys() & diffuse.common.keys()
    assert shared == {"scale WRR", "gain of main", "clock of main"}
    together = Parts(
        common={n: cosine * v for n, v in beam.common.items() if n not in shared}
        | {
            n: v + (cosine * beam.common[n] if n in shared else 0)
            for n, v in diffuse.common.items()
        },
        day={n: cosine * v for n, v in beam.day.items()} | dict(diffuse.day),
        sample=np.hypot(beam.sample * cosine, diffuse.sample),
    )
    expected = expected_uncertainty(ds, bounds, table, "h", together)
    assert_allclose(out["ghi_component_sum_uncertainty"], expected, rtol=1e-6)


def test_no_derived_quantity_without_direct() -> None:
    """And no sunshine."""
    bounds = period(station_config({"main": logger(("global_1", "diffuse_1"))}), MARCH, 1)
    out = aggregate(minutes(bounds), bounds, "daily")
    assert not [n for n in out if str(n).startswith(("dni", "ghi_component", "sunshine"))]


@pytest.mark.parametrize(
    ("counts", "codes"), [(["good"], [1]), (["good", "bad"], [1, 4]), (None, [1, 2, 3])]
)
def test_grades_that_count(counts: list[str] | None, codes: list[int]) -> None:
    """By the settings; without grades whatever is there counts."""
    bounds = resolved(MARCH, 1, {"counting_grades": counts} if counts else {})
    ds = minutes(bounds)
    settings = bounds.processing.aggregate
    expected = np.isin(ds["ghi_grade"].values, codes)
    assert_array_equal(counting(ds, "ghi", settings), expected)
    bare = ds.drop_vars("ghi_grade")
    assert_array_equal(counting(bare, "ghi", settings), np.isfinite(ds["ghi"].values))


# --- sunshine ------------------------------------------------------------------------------


def sunny(bounds: Period, direct: Any) -> xr.Dataset:
    """Complete minutes with this direct irradiance."""
    ds = minutes(bounds, gaps=0.0)
    ds["dni"].values[:] = direct
    return ds


def test_sunshine_by_hand() -> None:
    """More than 120 W m-2 (WMO-No. 8): 120 does not count; a night counts without a reading."""
    bounds = resolved(MARCH, 1)
    ds = sunny(bounds, 120.0)
    ds["dni"].values[660:690] = 120.1
    dark = ds["solar_zenith_angle"].values > 93.0
    ds["dni"].values[dark] = np.nan
    ds["dni_grade"].values[dark] = GRADES["missing"]
    day = aggregate(ds, bounds, "daily")
    assert day["sunshine_duration"].values.tolist() == [1800.0]
    assert day["sunshine_duration_number_of_missing_observations"].values.tolist() == [0]
    hour = aggregate(ds, bounds, "hourly")["sunshine_duration"].values
    assert hour[[0, 11]].tolist() == [0.0, 1800.0]
    assert hour.sum() == 1800.0


def test_sunshine_is_withheld_where_the_day_was_not_watched() -> None:
    """Half of a day's light missing is no duration."""
    bounds = resolved(MARCH, 1)
    ds = sunny(bounds, 500.0)
    ds["dni"].values[500:800] = np.nan
    out = aggregate(ds, bounds, "daily")
    assert np.isnan(out["sunshine_duration"].values[0])
    assert out["sunshine_duration_withheld"].values.tolist() == [LOW]


POLAR = {"latitude": 82.0, "longitude": 20.0, "altitude": 100.0}


def test_polar_night() -> None:
    """Sunshine is 0, the month complete, shortwave 0 by the composite's rule, longwave as found."""
    bounds = resolved(parse_utc("2031-12-01"), 31, **POLAR)
    ds = minutes(bounds, gaps=0.0)
    ds["ghi"].values[:] = np.where(np.arange(ds.sizes["time"]) % 97, np.nan, -2.0)
    out = aggregate(ds, bounds, "monthly")
    assert ds["solar_zenith_angle"].values.min() > 93.0
    assert out["sunshine_duration"].values.tolist() == [0.0]
    assert out["sunshine_duration_coverage_fraction"].values.tolist() == [1.0]
    assert out["ghi"].values.tolist() == [0.0]
    assert out["ghi_plain_mean"].values.tolist() == [-2.0]
    assert out["dni_horizontal"].values.tolist() == [0.0]
    assert out["lwd"].values[0] == pytest.approx(float(ds["lwd"].mean()), rel=1e-9)
    assert np.isfinite(out["ghi_exposure"].values).all()


# --- short and odd periods -----------------------------------------------------------------


def test_a_day_with_one_minute() -> None:
    """Counted, and withheld with the reason; the hour of that minute likewise."""
    bounds = resolved(MARCH, 1)
    ds = minutes(bounds, gaps=0.0)
    ds["ghi"].values[np.arange(1440) != 700] = np.nan
    for product, place in (("daily", 0), ("hourly", 11)):
        out = aggregate(ds, bounds, product)
        assert out["ghi_number_of_observations"].values[place] == 1
        assert np.isnan(out["ghi"].values[place])
        assert out["ghi_withheld"].values[place] == LOW
    assert aggregate(ds, bounds, "hourly")["ghi_withheld"].values[3] == LOW | NO_SAMPLE


def test_a_month_with_one_day() -> None:
    """Withheld, since a single day is no month; where the rule asks for one day, its mean."""
    bounds = resolved(MARCH, 1)
    ds = minutes(bounds, gaps=0.0)
    out = aggregate(ds, bounds, "monthly")
    assert out.sizes["time"] == 1
    assert out["lwd_withheld"].values.tolist() == [FEW_DAYS]
    assert out["lwd_number_of_days"].values.tolist() == [1]
    assert np.isnan(out["lwd"].values[0])
    assert out["lwd_plain_mean"].values[0] == pytest.approx(float(ds["lwd"].mean()), rel=1e-12)
    out = aggregate(ds, resolved(MARCH, 1, {"composite_least_days": 1}), "monthly")
    assert out["lwd"].values[0] == pytest.approx(float(ds["lwd"].mean()), rel=1e-12)


def test_leap_february() -> None:
    """29 days, 696 hours."""
    bounds = resolved(parse_utc("2032-02-01"), 29)
    ds = minutes(bounds)
    assert aggregate(ds, bounds, "daily").sizes["time"] == 29
    assert aggregate(ds, bounds, "hourly").sizes["time"] == 696
    month = aggregate(ds, bounds, "monthly")
    assert month["time_end"].values.tolist() == [parse_utc("2032-03-01")]


def test_everything_flagged() -> None:
    """No minute counts: nothing but reasons and counts."""
    bounds = resolved(MARCH, 1)
    ds = minutes(bounds, gaps=0.0)
    ds["ghi_grade"].values[:] = GRADES["bad"]
    for product in ("hourly", "daily", "monthly"):
        out = aggregate(ds, bounds, product)
        assert np.isnan(out["ghi"].values).all()
        assert np.all(out["ghi_withheld"].values & NO_SAMPLE)
        assert np.all(out["ghi_number_of_observations"] == 0)


def test_air_data_have_means_and_no_exposure() -> None:
    """A direction has no plain mean and stays in the minutes."""
    bounds = resolved(MARCH, 1)
    ds = minutes(bounds)
    out = aggregate(ds, bounds, "daily")
    assert out["air_temperature"].values[0] == pytest.approx(float(ds["air_temperature"].mean()))
    assert "air_temperature_exposure" not in out
    assert not [n for n in out if str(n).startswith("wind_from_direction")]


def test_bad_air_does_not_count() -> None:
    """Where the minutes have a grade for it, as for irradiances, and the shares are told."""
    bounds = resolved(MARCH, 1)
    ds = minutes(bounds)
    grade = np.where(np.arange(1440) < 100, 4, 1).astype(np.int8)
    ds["air_temperature_grade"] = ("time", grade)
    ds["air_temperature"].values[:100] = 900.0
    out = aggregate(ds, bounds, "daily")
    expected = float(ds["air_temperature"].values[100:].mean())
    assert out["air_temperature"].values[0] == pytest.approx(expected)
    assert out["air_temperature_share_bad"].values.tolist() == [100 / 1440]


def test_withheld_composite_through_the_stage() -> None:
    """A quarter of an hour missing every day: the reason is coded, the plain mean stands."""
    bounds = resolved(*MONTH)
    ds = minutes(bounds, gaps=0.0)
    ds["ghi"].values.reshape(-1, 1440)[:, 720:735] = np.nan
    out = aggregate(ds, bounds, "monthly")
    assert out["ghi_withheld"].values.tolist() == [COMPOSITE]
    assert np.isnan(out["ghi"].values[0])
    assert np.isfinite(out["ghi_plain_mean"].values[0])
    assert out["dhi_withheld"].values.tolist() == [0]


def test_a_clock_step_inside_the_hour_leaves_the_rest() -> None:
    """An emptied minute is a gap like another: 59 of 60 count."""
    bounds = resolved(MARCH, 1)
    ds = minutes(bounds, gaps=0.0)
    ds["lwd"].values[630] = np.nan
    ds["clock_residual_main"].values[630] = np.nan
    out = aggregate(ds, bounds, "hourly")
    assert out["lwd_number_of_observations"].values[10] == 59
    assert np.isfinite(out["dni_horizontal"].values).all()


def test_ten_minute_means() -> None:
    """A slower logger: six values an hour, and the month in its true length."""
    bounds = resolved(*MONTH)
    ds = minutes(bounds, gaps=0.0).isel(time=slice(None, None, 10)).assign_attrs(interval=600)
    hours = aggregate(ds, bounds, "hourly")
    assert_allclose(hours["lwd"], ds["lwd"].values.reshape(-1, 6).mean(1), rtol=1e-12)
    month = aggregate(ds, bounds, "monthly")
    assert month["lwd"].values[0] == pytest.approx(float(ds["lwd"].mean()), rel=1e-12)
    assert month["lwd_exposure"].values[0] == pytest.approx(month["lwd"].values[0] * 30 * DAY)
    assert month["time_end"].values[0] - month["time"].values[0] == 30 * DAY
