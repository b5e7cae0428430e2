"""Means of months: the composite against a plain loop, the other rules by hand, and years."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sunledger.config.models.aggregation import AggregateSettings
from sunledger.physics.segments import Segments
from sunledger.physics.strata import Stratum
from sunledger.stages.cells import Cells, coarser
from sunledger.stages.monthly import (
    Monthly,
    bin_sums,
    composite_means,
    half_day_means,
    month_number,
    month_statistics,
    plain_means,
    whole_day_means,
    year_means,
)
from sunledger.stages.periods import Series, is_shortwave, series_sums, stratum_sums
from sunledger.vocabulary import WITHHELD

NO_SAMPLE, LOW, COMPOSITE, FEW_DAYS, FEW_MONTHS = (
    WITHHELD[n].mask
    for n in ("no_valid_sample", "low_coverage", "composite_incomplete", "few_days", "few_months")
)
DAY_MINUTES, DAY = 1440, 86400
APRIL = 1932768000  # 2031-04-01 00:00 UTC, a month of 30 days
JANUARY = 1924992000  # 2031-01-01 00:00 UTC, long enough for any month
NAN = np.nan


def settings(**changes: Any) -> AggregateSettings:
    """Settings of the stage; a single day may make a composite unless a test asks for more."""
    return AggregateSettings(**({"composite_least_days": 1} | changes))


def series(values: Any, valid: Any = None, **parts: Any) -> Series:
    """A series in which what is finite counts."""
    mean = np.asarray(values, dtype=float)
    usable = np.isfinite(mean) if valid is None else np.asarray(valid, bool)
    return Series(mean, usable, **{n: np.asarray(p, float) for n, p in parts.items()})


def cells(mine: Series, quantity: str, step: int, strata: Any = None, start: int = APRIL) -> Cells:
    """Sums over periods of a length."""
    width = step // 60
    segments = Segments(np.arange(0, mine.mean.size + 1, width))
    apart = strata or {} if is_shortwave(quantity) else {}
    parts = series_sums(mine, segments)
    for name, mask in apart.items():
        found = stratum_sums({quantity: mine}, {quantity: parts[0]}, Stratum(segments, mask))
        parts[0].update({f"{name}_{part}": v for part, v in found[quantity].items()})
    edges = start + 60 * segments.edges
    named = ({f"{quantity}.{n}": v for n, v in part.items()} for part in parts)
    return Cells(edges[:-1], edges[1:], edges[:-1], *named, {quantity: 60})


def bins(mine: Series, quantity: str, zenith: np.ndarray, rules: AggregateSettings) -> Cells:
    """Quarters of an hour with the night rule."""
    segments = Segments(np.arange(0, mine.mean.size + 1, 15))
    known = {quantity: series_sums(mine, segments)[0]}
    found = bin_sums({quantity: mine}, Stratum(segments, zenith <= rules.night_zenith), known)
    parts = {f"{quantity}.{n}": v for n, v in found[quantity].items()}
    edges = JANUARY + 60 * segments.edges
    return Cells(edges[:-1], edges[1:], edges[:-1], parts, {}, {}, {quantity: 60})


def monthly_mean(
    mine: Series, quantity: str, zenith: np.ndarray, rules: AggregateSettings
) -> tuple[float, int]:
    """Mean of the only month, and why it is withheld."""
    made = made_by(mine, quantity, zenith, rules)
    return float(made.mean[0]), int(made.words[0])


def made_by(mine: Series, quantity: str, zenith: np.ndarray, rules: AggregateSettings) -> Monthly:
    """By the method of the settings."""
    if rules.monthly_method == "diurnal_composite":
        return composite_means(bins(mine, quantity, zenith, rules), [quantity], rules)[quantity]
    strata = {"high": zenith <= 90.0 - rules.low_sun, "day": zenith <= 90.0}
    hours = cells(mine, quantity, 3600, strata)
    if rules.monthly_method == "whole_days":
        return whole_day_means(hours, quantity, rules)
    if rules.monthly_method == "half_days":
        return half_day_means(coarser(hours, hours.labels // DAY), quantity, rules)
    return plain_means(coarser(hours, month_number(hours.labels)), quantity, rules)


def statistics(mine: Series, quantity: str, zenith: np.ndarray, rules: AggregateSettings) -> Any:
    """All of the only month."""
    hours = cells(mine, quantity, 3600)
    months = coarser(hours, month_number(hours.labels))
    made = made_by(mine, quantity, zenith, rules)
    return month_statistics(months, made, quantity, rules)


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


def days_of_light(missing: Any = ()) -> tuple[Series, np.ndarray]:
    """Thirty days of 1 to 30 W m-2 by day (06 to 18 h) and 0 by night; minutes left out."""
    minute = np.arange(30 * DAY_MINUTES)
    light = (minute % DAY_MINUTES >= 360) & (minute % DAY_MINUTES < 1080)
    values = np.where(light, minute // DAY_MINUTES + 1.0, 0.0)
    for place in missing:
        values[place] = NAN
    height = np.sin(2 * np.pi * (minute % DAY_MINUTES + 0.5 - 360) / DAY_MINUTES)
    return series(values), 90.0 - np.degrees(np.arcsin(height))


def at(day: int, first: int, past: int) -> slice:
    """Minutes of a day, counted from 0."""
    return slice(day * DAY_MINUTES + first, day * DAY_MINUTES + past)


def test_plain() -> None:
    """Mean of all minutes where nine tenths are there."""
    days = np.repeat(np.arange(1.0, 31.0), DAY_MINUTES)
    days[: 9 * DAY_MINUTES : 5] = NAN
    mine, zenith = series(days), np.zeros(days.size)
    plain = monthly_mean(mine, "ghi", zenith, settings(monthly_method="plain"))
    assert plain == (pytest.approx(np.nanmean(days)), 0)
    more = settings(monthly_method="plain", least_share_daily=0.95)
    assert monthly_mean(mine, "ghi", zenith, more)[1] == LOW


def test_whole_days_by_hand() -> None:
    """Totals need all hours, but for shortwave hours with the sun no higher than 5 degree.

    Half a day of light: a day's mean is half its value, the month's (1 + ... + 30) / 30 / 2 = 7.75.
    Without the day of 30 that lacks noon: (1 + ... + 29) / 29 / 2 = 7.5. An hour at night is
    excused and adds nothing. The last hour of light (17 to 18 h) starts with the sun at 14.5
    degree and is asked for. Longwave is asked for every hour.
    Source: procedure of the World Radiation Data Centre, as in the reference of the project.
    """
    rules = settings(monthly_method="whole_days")
    assert monthly_mean(*_args(days_of_light()), rules) == (pytest.approx(7.75), 0)
    noon = days_of_light([at(29, 720, 780)])
    assert monthly_mean(*_args(noon), rules) == (pytest.approx(7.5), 0)
    night = days_of_light([at(29, 60, 300)])
    assert monthly_mean(*_args(night), rules) == (pytest.approx(7.75), 0)
    dusk = days_of_light([at(29, 1020, 1080)])
    assert monthly_mean(*_args(dusk), rules) == (pytest.approx(7.5), 0)
    tolerant = settings(monthly_method="whole_days", low_sun=10.0)
    low = days_of_light([at(29, 1050, 1080)])  # half of the hour is still enough of it
    assert monthly_mean(*_args(low), tolerant)[0] == pytest.approx(7.75)
    assert monthly_mean(night[0], "lwd", night[1], rules)[0] == pytest.approx(7.5)


def _args(month: tuple[Series, np.ndarray]) -> tuple[Series, str, np.ndarray]:
    return month[0], "ghi", month[1]


@pytest.mark.parametrize(("lost", "word"), [(9, 0), (10, FEW_DAYS), (30, FEW_DAYS | NO_SAMPLE)])
def test_ten_missing_days_are_too_many(lost: int, word: int) -> None:
    """The same source; days of which nothing was read count as missing like the others."""
    mine, zenith = days_of_light([slice(0, lost * DAY_MINUTES)])
    made = made_by(mine, "ghi", zenith, settings(monthly_method="whole_days"))
    assert made.words.tolist() == [word]
    assert made.days.tolist() == [30 - lost]


def test_half_days_by_hand() -> None:
    """A day with 360 of 720 minutes of light counts, one with 359 does not; nights may be missing.

    Source: Natsis et al., 30-year series, as in the reference of the project.
    """
    rules = settings(monthly_method="half_days")
    assert monthly_mean(*_args(days_of_light()), rules) == (pytest.approx(7.75), 0)
    half = days_of_light([at(29, 360, 720), at(29, 0, 360)])
    assert monthly_mean(*_args(half), rules) == (pytest.approx(7.75), 0)
    less = days_of_light([at(29, 360, 721)])
    assert monthly_mean(*_args(less), rules) == (pytest.approx(7.5), 0)
    no_night = days_of_light([at(29, 0, 360), at(29, 1080, 1440)])
    assert monthly_mean(*_args(no_night), rules) == (pytest.approx(7.75), 0)
    assert monthly_mean(no_night[0], "lwd", no_night[1], rules)[0] == pytest.approx(8.25)


@pytest.mark.parametrize(("there", "word"), [(20, 0), (19, FEW_DAYS)])
def test_twenty_days_are_asked_for(there: int, word: int) -> None:
    """The same source."""
    mine, zenith = days_of_light([slice(there * DAY_MINUTES, None)])
    made = made_by(mine, "ghi", zenith, settings(monthly_method="half_days"))
    assert (made.words.tolist(), made.days.tolist()) == ([word], [there])


@pytest.mark.parametrize(("there", "word"), [(10, 0), (9, FEW_DAYS), (2, FEW_DAYS)])
def test_a_composite_of_few_days_is_withheld(there: int, word: int) -> None:
    """Of the days behind the time of day that has the fewest; their number is told."""
    mine, zenith = days_of_light([slice(there * DAY_MINUTES, None)])
    made = made_by(mine, "lwd", zenith, settings(composite_least_days=10))
    assert (made.words.tolist(), made.days.tolist()) == ([word], [there])
    assert np.isnan(made.mean[0]) == (word != 0)


def test_the_night_rule_makes_no_days() -> None:
    """Nights that were set to 0 are behind every time of day, the light of two days is not."""
    mine, zenith = days_of_light([slice(2 * DAY_MINUTES, None)])
    made = made_by(mine, "ghi", zenith, settings(composite_least_days=10))
    assert (made.words.tolist(), made.days.tolist()) == ([FEW_DAYS], [2])


# --- years ---------------------------------------------------------------------------------


def a_year(leap: bool = False) -> Cells:
    """Twelve months."""
    year = "2032" if leap else "2031"
    first = np.arange(f"{year}-01", f"{int(year) + 1}-02", dtype="M8[M]")
    edges = first.astype("M8[s]").astype(np.int64)
    return Cells(edges[:-1], edges[1:], edges[:-1])


def test_a_year_weighs_its_months_by_their_length() -> None:
    """Only February differs: 28 of 365 days, or 29 of 366."""
    mean = np.where(np.arange(12) == 1, 100.0, 0.0)
    made = Monthly(mean, np.zeros(12, np.int32), np.full(12, 30, np.int32))
    for leap, share in ((False, 28 / 365), (True, 29 / 366)):
        got = year_means(a_year(leap), made, settings())
        assert got.words.tolist() == [0]
        assert got.mean[0] == pytest.approx(100.0 * share, rel=1e-12)


def test_a_year_without_a_month_is_withheld() -> None:
    """Twelve are asked for; where eleven are enough they are weighed among themselves."""
    words = np.where(np.arange(12) == 1, FEW_DAYS, 0).astype(np.int32)
    made = Monthly(np.where(words == 0, 50.0, NAN), words, np.full(12, 30, np.int32))
    assert year_means(a_year(), made, settings()).words.tolist() == [FEW_MONTHS]
    got = year_means(a_year(), made, settings(least_months=11))
    assert got.mean.tolist() == [50.0]
    none = Monthly(np.full(12, NAN), np.ones(12, np.int32), np.zeros(12, np.int32))
    assert year_means(a_year(), none, settings()).words.tolist() == [NO_SAMPLE | FEW_MONTHS]


@pytest.mark.parametrize("method", ["plain", "whole_days", "half_days", "diurnal_composite"])
def test_a_month_without_a_valid_minute(method: Any) -> None:
    """Whatever the method, and also when every night could be set to 0."""
    mine = series(np.full(DAY_MINUTES * 28, NAN))
    got = monthly_mean(mine, "ghi", np.full(mine.mean.size, 120.0), settings(monthly_method=method))
    assert np.isnan(got[0])
    assert got[1] & NO_SAMPLE


def test_month_statistics() -> None:
    """The method's mean and its exposure, the plain mean beside it, extremes of all minutes."""
    mine, zenith = random_month()
    full = Series(mine.mean, mine.valid, mine.mean - 1, mine.mean + 2, np.ones(mine.mean.size))
    got = statistics(full, "ghi", zenith, settings())
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
    got = statistics(full, "ghi", zenith, settings())
    assert got["withheld"].tolist() == [COMPOSITE]
    assert np.isnan(got[""][0])
    assert np.isnan(got["exposure"][0])
    assert np.isnan(got["uncertainty"][0])
    assert np.isfinite(got["plain_mean"][0])


def test_what_is_missing_is_told_of_those_that_ask() -> None:
    """Of the others nothing; their means are the same bits."""
    mine, zenith = random_month()
    quarters = bins(mine, "ghi", zenith, settings())
    told = composite_means(quarters, ["ghi"], settings(), ["ghi"])["ghi"]
    silent = composite_means(quarters, ["ghi"], settings())["ghi"]
    assert told.missing is not None
    assert told.missing[0] > 0.0
    assert silent.missing is None
    assert silent.mean.tobytes() == told.mean.tobytes()


def test_months_without_a_bin_between_others() -> None:
    """Bins of January and March: two months, none between them."""
    mine, zenith = random_month(31)
    one = bins(mine, "ghi", zenith, settings())
    later = 59 * DAY
    parts = {name: np.concatenate([v, v]) for name, v in one.sums.items()}
    starts = np.concatenate([one.starts, one.starts + later])
    both = Cells(starts, starts + 900, starts, parts, {}, {}, {"ghi": 60})
    got = composite_means(both, ["ghi"], settings())["ghi"]
    assert got.mean.tolist() == [*composite_means(one, ["ghi"], settings())["ghi"].mean] * 2
