"""The whole pipeline on a real published month turned back into voltages.

Source of the month: L. Vuilleumier, Baseline Surface Radiation Network station 21, June 2016 (see
the head of tests/published/payerne_2016_06.csv.xz). What is checked here is that nothing is lost or
altered on the way from voltages to the archive, and that the closure statistics are those computed
from the published values by an independent route (pandas and pvlib).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import real_month
from sunledger.run.job import Choice, run
from sunledger.vocabulary import TESTS

# half a step of the logged voltage (5 decimals of mV) and of the archive (2**-7 W m-2), each
# rounded once; float32 adds less than 1e-4 W m-2 below 1500
HALF_STEP = {
    q: 0.5 * 10.0 ** (3 - real_month.DECIMALS) / s + 2.0**-8 + 1e-4
    for q, s in real_month.SENSITIVITY.items()
}


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Archive made from the month's voltages."""
    folder = tmp_path_factory.mktemp("real_month")
    workflow = real_month.write_project(folder)
    _, outcomes = run(workflow, Choice(), lambda *_: None)
    assert {o.done for o in outcomes} == {"written"}, [o.error for o in outcomes]
    return folder / "archive" / "pay"


@pytest.fixture(scope="module")
def minutes(archive: Path) -> xr.Dataset:
    """Archived minutes."""
    with xr.open_dataset(archive / "minute" / "pay_minute_2016-06.nc") as ds:
        return ds.load()


def test_every_minute_is_there(minutes: xr.Dataset) -> None:
    """43,200 minutes, labelled by their start, exactly those of the published month."""
    expected = real_month.published().index.to_numpy()
    np.testing.assert_array_equal(
        minutes["time"].values.astype("M8[ns]"), expected.astype("M8[ns]")
    )


@pytest.mark.parametrize("suffix", ["", "_min", "_max", "_std"])
@pytest.mark.parametrize("quantity", real_month.SENSITIVITY)
def test_irradiances_are_the_published_ones(
    minutes: xr.Dataset, quantity: str, suffix: str
) -> None:
    """Within half a step of the voltage's and the archive's resolution; missing where missing."""
    expected = real_month.published()[quantity + suffix].to_numpy()
    if quantity == "lwd" and suffix == "_std":
        expected = np.where(np.isnan(real_month.published()["lwd_std"]), np.nan, expected)
    got = minutes[quantity + suffix].values.astype(float)
    np.testing.assert_array_equal(np.isnan(got), np.isnan(expected))
    known = ~np.isnan(expected)
    assert np.abs(got - expected)[known].max() <= HALF_STEP[quantity]


def closure_by_another_route(table: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Tested and failed minutes of the published closure test, from pvlib's full algorithm."""
    import pvlib

    middle = table.index.tz_localize("UTC") + pd.Timedelta("30s")
    sun = pvlib.solarposition.get_solarposition(middle, 46.815, 6.944, 491.0)
    zenith = sun["zenith"].to_numpy()
    total = table["dhi"].to_numpy() + table["dni"].to_numpy() * np.cos(np.radians(zenith))
    ratio = table["ghi"].to_numpy() / np.where(total > 50, total, np.nan)
    high = (zenith < 75) & ((ratio <= 0.92) | (ratio >= 1.08))
    low = (zenith >= 75) & (zenith < 93) & ((ratio <= 0.85) | (ratio >= 1.15))
    tested = ~np.isnan(ratio) & (zenith < 93)
    return tested, tested & (high | low)


def test_closure_comes_out_as_on_the_original(minutes: xr.Dataset) -> None:
    """The same minutes are tested and fail, save those within the resolution of a limit."""
    tested, failed = closure_by_another_route(real_month.published())
    bit = TESTS["components_disagree"].mask
    got_tested = (minutes["ghi_tested"].values & bit) != 0
    # whichever of the three is held to be wrong
    words = np.stack([minutes[f"{q}_flags"].values for q in ("ghi", "dhi", "dni")])
    got_failed = ((words & bit) != 0).any(axis=0)
    assert np.count_nonzero(got_tested != tested) <= 2
    assert np.count_nonzero(got_failed != failed) <= 5


def test_natural_closure_failures_are_one_percent(minutes: xr.Dataset) -> None:
    """1.00 % of daylight minutes, without the two days whose direct was faulty.

    That figure was measured on the published month while the project was planned; 6 and 10 June,
    on which the direct is partly a false zero, are left out.
    """
    day = minutes["time"].dt.day.values
    good = (day != 6) & (day != 10) & (minutes["solar_zenith_angle"].values < 90)
    words = np.stack([minutes[f"{q}_flags"].values for q in ("ghi", "dhi", "dni")])
    failed = ((words & TESTS["components_disagree"].mask) != 0).any(axis=0)
    assert failed[good].mean() == pytest.approx(0.0100, abs=0.0005)


def test_limits_fire_as_rarely_as_on_the_original(minutes: xr.Dataset) -> None:
    """Extremely rare limits 0.09 % of daylight minutes, physically possible ones never."""
    daylight = minutes["solar_zenith_angle"].values < 90
    day = minutes["time"].dt.day.values
    good = daylight & (day != 6) & (day != 10)
    words = np.stack([minutes[f"{q}_flags"].values for q in ("ghi", "dhi", "dni")])
    rare = (words & (TESTS["above_rare_maximum"].mask | TESTS["below_rare_minimum"].mask)) != 0
    physical = TESTS["above_physical_maximum"].mask | TESTS["below_physical_minimum"].mask
    assert not ((words & physical) != 0).any()
    assert rare.any(axis=0)[good].mean() == pytest.approx(0.0009, abs=0.0002)


def test_hours_are_those_of_pandas(archive: Path) -> None:
    """Hourly means and counts equal an independent calculation from the published values."""
    table = real_month.published()[["ghi", "lwd"]]
    grouped = table.resample("1h")
    with xr.open_dataset(archive / "hourly" / "pay_hourly_2016.nc") as ds:
        assert ds.sizes["time"] == 30 * 24
        for quantity in ("ghi", "lwd"):
            got = ds[quantity].values.astype(float)
            complete = ds[f"{quantity}_number_of_observations"].values == 60
            expected = grouped[quantity].mean().to_numpy()
            assert complete.sum() > 650
            np.testing.assert_allclose(
                got[complete], expected[complete], atol=HALF_STEP[quantity] + 2.0**-8, rtol=0
            )


def test_monthly_composite_of_complete_days_is_the_plain_mean(archive: Path) -> None:
    """Both methods agree within 0.02 W m-2: global misses four minutes, its nights are near 0."""
    expected = real_month.published()["ghi"].clip(lower=0).mean()
    with xr.open_dataset(archive / "monthly" / "pay_monthly_2016.nc") as ds:
        assert float(ds["ghi"].values[0]) == pytest.approx(expected, abs=0.02)
        assert float(ds["ghi_plain_mean"].values[0]) == pytest.approx(
            real_month.published()["ghi"].mean(), abs=0.02
        )


def test_sunshine_counts_the_minutes_above_120(archive: Path) -> None:
    """Daily sunshine equals a count on the published direct, for days without a gap in it."""
    direct = real_month.published()["dni"]
    days = direct.resample("1D")
    complete = days.count().to_numpy() == 1440
    expected = (direct > 120).resample("1D").sum().to_numpy() * 60.0
    with xr.open_dataset(archive / "daily" / "pay_daily_2016.nc", decode_timedelta=False) as ds:
        got = ds["sunshine_duration"].values.astype(float)
    assert complete.sum() == 13
    np.testing.assert_array_equal(got[complete], expected[complete])


def test_natural_alarms_are_rare(minutes: xr.Dataset) -> None:
    """Asked for: at most 1.0 % questionable or worse, tracker 0.6 %, bad 0.1 % of daylight."""
    day = minutes["time"].dt.day.values
    good = (day != 6) & (day != 10) & (minutes["solar_zenith_angle"].values < 90)
    grade = np.stack([minutes[f"{q}_grade"].values for q in real_month.SENSITIVITY])[:, good]
    tracker = (minutes["dni_flags"].values & TESTS["tracker_off_sun"].mask) != 0
    assert ((grade == 3) | (grade == 4)).any(axis=0).mean() <= 0.010
    assert (grade == 4).any(axis=0).mean() <= 0.001
    assert tracker[good].mean() <= 0.006


def test_false_zeros_are_laid_to_the_direct(minutes: xr.Dataset) -> None:
    """6 and 10 June, global less diffuse above 50 W m-2 with the sun at z < 75: 90 % asked for."""
    day = minutes["time"].dt.day.values
    lit = ((day == 6) | (day == 10)) & (minutes["solar_zenith_angle"].values < 75)
    lit &= (minutes["ghi"].values - minutes["dhi"].values > 50) & ~np.isnan(minutes["dni"].values)
    own = TESTS["pyrheliometer_off_sun"].mask | TESTS["components_disagree"].mask
    flagged = {q: (minutes[f"{q}_flags"].values[lit] & own) != 0 for q in ("ghi", "dhi", "dni")}
    assert lit.sum() > 50
    assert (flagged["dni"] & ~flagged["ghi"] & ~flagged["dhi"]).mean() >= 0.9


def rebuilt_direct(table: pd.DataFrame) -> float:
    """Composite of the direct, what is missing or falsely 0 taken from global less diffuse."""
    import pvlib

    middle = table.index.tz_localize("UTC") + pd.Timedelta("30s")
    zenith = pvlib.solarposition.get_solarposition(middle, 46.815, 6.944, 491.0)["zenith"]
    zenith = zenith.to_numpy()
    direct, rest = table["dni"].to_numpy(float), (table["ghi"] - table["dhi"]).to_numpy(float)
    faulty = np.isin(table.index.day, (6, 10)) & (zenith < 85) & (rest > 50) & (direct < 50)
    gone = (np.isnan(direct) | faulty) & (zenith < 88)
    lit = np.where(gone, rest / np.cos(np.radians(np.minimum(zenith, 88))), np.nan_to_num(direct))
    values = pd.Series(np.where(zenith > 90, 0.0, np.maximum(lit, 0.0)), table.index)
    quarter = table.index.hour * 4 + table.index.minute // 15
    return float(values.groupby(quarter).mean().mean())


def test_monthly_direct_reaches_what_was_missed(archive: Path) -> None:
    """The direct's best days are partly missing: its interval reaches global less diffuse.

    Rebuilt from the published values with pvlib's sun the composite is 160.3 W m-2, without that
    145.6. Global misses four minutes, so that its interval stays narrow.
    """
    rebuilt = rebuilt_direct(real_month.published())
    assert rebuilt == pytest.approx(160.3, abs=0.1)
    with xr.open_dataset(archive / "monthly" / "pay_monthly_2016.nc") as ds:
        direct, spread = float(ds["dni"].values[0]), float(ds["dni_uncertainty"].values[0])
        narrow = float(ds["ghi_uncertainty"].values[0]) / float(ds["ghi"].values[0])
    assert direct == pytest.approx(145.6, abs=0.1)
    assert direct + spread >= rebuilt
    assert spread < 0.15 * direct
    assert narrow < 0.04
