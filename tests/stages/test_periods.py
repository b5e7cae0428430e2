"""Averages of one quantity: worked by hand, by brute force, and what is withheld."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from sunledger.config.models.processing import AggregateSettings
from sunledger.stages.periods import (
    Series,
    coverage,
    mean_uncertainty,
    month_statistics,
    monthly_mean,
    period_statistics,
    withheld_words,
)
from sunledger.vocabulary import WITHHELD

NO_SAMPLE, LOW, COMPOSITE, _ = (WITHHELD[n].mask for n in WITHHELD)
DAY_MINUTES = 1440
NAN = np.nan


def settings(**changes: Any) -> AggregateSettings:
    """Settings of the stage."""
    return AggregateSettings(**changes)


def series(values: Any, valid: Any = None, **parts: Any) -> Series:
    """A series in which what is finite counts."""
    mean = np.asarray(values, dtype=float)
    usable = np.isfinite(mean) if valid is None else np.asarray(valid, bool)
    return Series(mean, usable, **{n: np.asarray(p, float) for n, p in parts.items()})


# --- worked by hand ------------------------------------------------------------------------


def test_a_short_series_with_gaps_by_hand() -> None:
    """Two periods of four minutes; a gap, and a minute that does not count.

    First: 10, -, 30, 20 → mean 20, exposure 20 x 240 = 4800 J. Second: 5, (900), -, 7 → 6; the
    900 leaves no trace. Deviations: within 1 and 2 and 3, means 10, 30, 20 →
    sqrt((1 + 4 + 9) / 3 + (100 + 100 + 0) / 3) = sqrt(214 / 3).
    """
    mine = series(
        [10, NAN, 30, 20, 5, 900, NAN, 7],
        [1, 0, 1, 1, 1, 0, 0, 1],
        minimum=[9, NAN, 25, 19, 4, 0, NAN, 6],
        maximum=[11, NAN, 35, 21, 6, 999, NAN, 9],
        std=[1, NAN, 2, 3, 0, 50, NAN, 0],
        uncertainty=[2, NAN, 6, 4, 1, 90, NAN, 2],
    )
    got = period_statistics(mine, 4, 240, 0.5)
    assert_allclose(got[""], [20.0, 6.0])
    assert_allclose(got["exposure"], [4800.0, 1440.0])
    assert_array_equal(got["min"], [9.0, 4.0])
    assert_array_equal(got["max"], [35.0, 9.0])
    assert_allclose(got["std"], [np.sqrt(214 / 3), 1.0])
    assert_allclose(got["uncertainty"], [4.0, 1.5])
    assert_array_equal(got["number_of_observations"], [3, 2])
    assert_array_equal(got["number_of_missing_observations"], [1, 2])
    assert_allclose(got["coverage_fraction"], [0.75, 0.5])
    assert_array_equal(got["withheld"], [0, 0])


def test_too_few_minutes_withhold_everything_but_the_counts() -> None:
    """Value, exposure, extremes, deviation and uncertainty; the reason is coded."""
    parts = {n: np.ones(8) for n in ("minimum", "maximum", "std", "uncertainty")}
    values = [1.0, NAN, NAN, NAN, NAN, NAN, NAN, NAN]
    got = period_statistics(series(values, **parts), 4, 240, 0.5)
    for name in ("", "exposure", "min", "max", "std", "uncertainty"):
        assert np.isnan(got[name]).all(), name
    assert_array_equal(got["withheld"], [LOW, LOW | NO_SAMPLE])
    assert_array_equal(got["number_of_observations"], [1, 0])


def test_deviation_by_brute_force() -> None:
    """Seconds to minutes to hours gives the deviation of all the seconds."""
    seconds = np.random.default_rng(3).gamma(2.0, 150.0, (6, 60, 60))
    mine = series(
        seconds.mean(2).ravel(),
        minimum=seconds.min(2).ravel(),
        maximum=seconds.max(2).ravel(),
        std=seconds.std(2).ravel(),
    )
    got = period_statistics(mine, 60, 3600, 0.5)
    flat = seconds.reshape(6, -1)
    assert_allclose(got[""], flat.mean(1), rtol=1e-12)
    assert_allclose(got["std"], flat.std(1), rtol=1e-12)
    assert_array_equal(got["min"], flat.min(1))
    assert_array_equal(got["max"], flat.max(1))


@pytest.mark.parametrize(
    ("count", "share", "word"),
    [(30, 0.5, 0), (29, 0.5, LOW), (0, 0.5, LOW | NO_SAMPLE), (0, 0.0, NO_SAMPLE), (60, 1.0, 0)],
)
def test_completeness_of_an_hour(count: int, share: float, word: int) -> None:
    """Exactly the share is enough; nothing at all is never enough."""
    assert withheld_words(np.array([count]), 60, share).tolist() == [word]


def test_a_share_that_floating_point_cannot_write() -> None:
    """0.55 x 1440 is a hair above 792 in binary; 792 minutes are 55 %."""
    assert withheld_words(np.array([792, 791]), 1440, 0.55).tolist() == [0, LOW]


def test_coverage_counts() -> None:
    """Those there, those not, and the share."""
    got = coverage(np.array([45, 0]), 60)
    assert got["number_of_missing_observations"].tolist() == [15, 60]
    assert got["coverage_fraction"].tolist() == [0.75, 0.0]


def test_uncertainty_is_the_mean_of_those_that_count() -> None:
    """Fully correlated, the careful side; a minute without one does not count."""
    assert mean_uncertainty(series([1.0, 2.0]), 2) is None
    mine = series([1.0, 2.0, 3.0, 4.0], uncertainty=[2.0, NAN, 4.0, 8.0])
    assert_allclose(mean_uncertainty(mine, 4), [14 / 3])


# --- months --------------------------------------------------------------------------------


def random_month(days: int = 30, gaps: float = 0.2, seed: int = 5) -> tuple[Series, np.ndarray]:
    """Sun by day with random gaps, and a zenith angle that goes with it."""
    rng = np.random.default_rng(seed)
    minute = np.arange(days * DAY_MINUTES)
    zenith = 90.0 + 60.0 * np.cos(2 * np.pi * minute / DAY_MINUTES)
    light = np.maximum(np.cos(np.radians(zenith)), 0.0)
    values = 900.0 * light * rng.uniform(0.1, 1.0, days).repeat(DAY_MINUTES) - 3.0
    values[rng.random(values.size) < gaps] = NAN
    holes = rng.integers(0, values.size - 600, 5)
    for hole in holes:
        values[hole : hole + 600] = NAN
    return series(values), zenith


def composite_by_loop(mine: Series, zenith: np.ndarray, night: float, share: float) -> float:
    """The composite of Roesch et al. 2011 as its source words it, one minute after the other."""
    sums: list[list[float]] = [[] for _ in range(96)]
    for day in range(mine.mean.size // DAY_MINUTES):
        for quarter in range(96):
            found = []
            for minute in range(15):
                i = day * DAY_MINUTES + quarter * 15 + minute
                if zenith[i] > night:
                    found.append(0.0)
                elif mine.valid[i]:
                    found.append(mine.mean[i])
            if len(found) >= share * 15 and found:
                sums[quarter].append(sum(found) / len(found))
    if not all(sums):
        return NAN
    return sum(sum(row) / len(row) for row in sums) / 96


@pytest.mark.parametrize("days", [28, 29, 30, 31])
def test_composite_against_a_plain_loop(days: int) -> None:
    """Also in a leap February; night is 0 below 93 degrees, inside the method only."""
    mine, zenith = random_month(days)
    got, word = monthly_mean(mine, "ghi", zenith, settings())
    assert word == 0
    assert got == pytest.approx(composite_by_loop(mine, zenith, 93.0, 0.2), rel=1e-12)
    assert got != pytest.approx(float(mine.mean[mine.valid].mean()), rel=1e-3)


def test_night_rule_is_for_shortwave_and_what_is_formed_of_it() -> None:
    """Longwave and air keep their nights."""
    mine, zenith = random_month(gaps=0.0)
    by_quantity = {
        q: monthly_mean(mine, q, zenith, settings())[0]
        for q in ("ghi", "dni_horizontal", "ghi_component_sum", "lwd")
    }
    assert by_quantity["ghi"] == by_quantity["dni_horizontal"] == by_quantity["ghi_component_sum"]
    never = composite_by_loop(mine, np.zeros(zenith.size), 93.0, 0.2)
    assert by_quantity["lwd"] == pytest.approx(never, rel=1e-12)


def test_composite_is_withheld_where_a_time_of_day_is_never_measured() -> None:
    """One quarter of an hour missing on every day; nothing is guessed."""
    mine, zenith = random_month()
    mine.valid.reshape(-1, DAY_MINUTES)[:, 720:735] = False
    assert monthly_mean(mine, "ghi", zenith, settings())[1] == COMPOSITE


def test_the_share_of_a_bin_can_be_asked_of_the_whole_month() -> None:
    """A quarter of an hour with two minutes a day but for one day with all fifteen.

    By days only that one day counts; by months (29 x 2 + 15) of 450 minutes are less than a fifth.
    """
    mine, zenith = random_month(gaps=0.0)
    mine.valid[:], mine.mean[:] = True, 100.0
    bins = mine.valid.reshape(-1, DAY_MINUTES)
    bins[1:, 722:735] = False
    assert monthly_mean(mine, "lwd", zenith, settings())[1] == 0
    asked = settings(composite_share_of="monthly_bin")
    assert monthly_mean(mine, "lwd", zenith, asked)[1] == COMPOSITE
    bins[:10, 720:735] = True  # 10 x 15 + 20 x 2 of 450
    assert monthly_mean(mine, "lwd", zenith, asked)[1] == 0


@pytest.mark.parametrize(("minutes", "stands"), [(3, True), (2, False)])
def test_a_bin_needs_a_fifth_of_its_minutes(minutes: int, stands: bool) -> None:
    """Three of fifteen."""
    mine, zenith = random_month(days=1, gaps=0.0)
    mine.valid[:] = True
    mine.mean[:] = 100.0
    mine.valid[720:735] = False
    mine.valid[720 : 720 + minutes] = True
    got, word = monthly_mean(mine, "lwd", zenith, settings())
    assert (word == 0) == stands
    assert (got == pytest.approx(100.0)) == stands


def test_plain_and_all_days() -> None:
    """Mean of all minutes; or of the days with nine tenths of their minutes, at least twenty."""
    days = np.repeat(np.arange(1.0, 31.0), DAY_MINUTES)
    days[: 9 * DAY_MINUTES : 5] = NAN  # nine days with four fifths
    zenith = np.zeros(days.size)
    mine = series(days)
    plain = monthly_mean(mine, "ghi", zenith, settings(monthly_method="plain"))
    assert plain == (pytest.approx(np.nanmean(days)), 0)
    whole = monthly_mean(mine, "ghi", zenith, settings(monthly_method="all_days"))
    assert whole == (pytest.approx(np.arange(10, 31).mean()), 0)
    strict = settings(monthly_method="all_days", least_days=22)
    assert monthly_mean(mine, "ghi", zenith, strict)[1] == LOW
    more = settings(monthly_method="plain", least_share_daily=0.95)
    assert monthly_mean(mine, "ghi", zenith, more)[1] == LOW


@pytest.mark.parametrize("method", ["plain", "all_days", "diurnal_composite"])
def test_a_month_without_a_valid_minute(method: Any) -> None:
    """Whatever the method, and also when every night could be set to 0."""
    mine = series(np.full(DAY_MINUTES * 28, NAN))
    got = monthly_mean(mine, "ghi", np.full(mine.mean.size, 120.0), settings(monthly_method=method))
    assert np.isnan(got[0])
    assert got[1] == NO_SAMPLE


def test_month_statistics() -> None:
    """The method's mean and its exposure, the plain mean beside it, extremes of all minutes."""
    mine, zenith = random_month()
    full = Series(mine.mean, mine.valid, mine.mean - 1, mine.mean + 2, np.ones(mine.mean.size))
    got = month_statistics(full, "ghi", zenith, settings())
    expected = composite_by_loop(mine, zenith, 93.0, 0.2)
    assert got[""][0] == pytest.approx(expected, rel=1e-12)
    assert got["exposure"][0] == pytest.approx(expected * 30 * 86400, rel=1e-12)
    assert got["plain_mean"][0] == pytest.approx(np.nanmean(mine.mean), rel=1e-12)
    assert got["min"][0] == np.nanmin(mine.mean) - 1
    assert got["max"][0] == np.nanmax(mine.mean) + 2
    assert got["number_of_observations"][0] == np.isfinite(mine.mean).sum()


def test_a_withheld_month_keeps_its_plain_mean() -> None:
    """With its reason; the uncertainty goes with the value."""
    mine, zenith = random_month()
    mine.valid.reshape(-1, DAY_MINUTES)[:, 720:735] = False
    full = Series(mine.mean, mine.valid, uncertainty=np.ones(mine.mean.size))
    got = month_statistics(full, "ghi", zenith, settings())
    assert got["withheld"].tolist() == [COMPOSITE]
    assert np.isnan(got[""][0])
    assert np.isnan(got["exposure"][0])
    assert np.isnan(got["uncertainty"][0])
    assert np.isfinite(got["plain_mean"][0])


@pytest.mark.parametrize("interval", [300, 600, 1800])
def test_a_month_of_longer_means(interval: int) -> None:
    """Ten-minute means give the month that their minutes would have given."""
    fine, zenith = random_month(gaps=0.0, days=30)
    fine = series(np.nan_to_num(fine.mean, nan=50.0))
    step = interval // 60
    coarse = series(fine.mean.reshape(-1, step).mean(1))
    held = series(np.repeat(coarse.mean, step))
    angles = zenith.reshape(-1, step).mean(1)
    got = month_statistics(coarse, "lwd", angles, settings(), interval)
    expected = month_statistics(held, "lwd", zenith, settings())
    for name in ("", "exposure", "plain_mean"):
        assert_allclose(got[name], expected[name], rtol=1e-12, err_msg=name)
