"""Clear periods against pvlib on the real month, by cutting, and criterion by criterion."""

from __future__ import annotations

import warnings
from functools import cache

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_array_equal
from pvlib.clearsky import detect_clearsky

import real_month
from sunledger.physics.clear_periods import WINDOW, clear_periods
from sunledger.physics.clear_sky import clear_sky
from sunledger.physics.sun import solar_position

NAN = np.nan
SMOOTH = 600.0 + 0.5 * np.arange(40)


@cache
def month() -> tuple[pd.DatetimeIndex, np.ndarray, np.ndarray]:
    """Times, published global, and the clear sky's, while the sun is up."""
    table = real_month.published()
    seconds = table.index.to_numpy().astype("M8[s]").astype(np.int64)
    zenith = solar_position(seconds + 30.0, 46.815, 6.944, 491.0).zenith
    sky = np.where(zenith < 88.0, clear_sky(zenith, 1361.0, 491.0)[1], NAN)
    return table.index, table["ghi"].to_numpy(), sky


def by_pvlib(
    times: pd.DatetimeIndex, measured: np.ndarray, sky: np.ndarray, passes: int = 1
) -> np.ndarray:
    """pvlib's answer; after one pass it has not fitted any factor."""
    series = pd.Series(measured, times), pd.Series(sky, times)
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "rescaling failed to converge")
        warnings.filterwarnings("ignore", "A future version of pandas")  # pvlib's own doing
        return np.asarray(detect_clearsky(*series, max_iterations=passes))


def test_like_pvlib_on_the_real_month() -> None:
    """The same minutes of 43,200: Reno and Hansen (2016) as pvlib computes it."""
    times, measured, sky = month()
    expected = by_pvlib(times, measured, sky)
    assert expected.sum() > 3000
    assert_array_equal(clear_periods(measured, sky, scale=1.0), expected)
    assert (clear_periods(measured * 1.01, sky, scale=1.0) != expected).any()


def test_own_factor_is_a_window_of_pvlib_with_that_factor() -> None:
    """Single windows of ten minutes, given to pvlib with the clear sky scaled."""
    times, measured, sky = month()
    rng = np.random.default_rng(3)
    passed = 0
    for start in rng.choice(np.flatnonzero(sky[:-WINDOW] > 200.0), 150):
        part = slice(start, start + WINDOW)
        factor = measured[part].mean() / sky[part].mean()
        expected = 0.8 <= factor <= 1.2
        expected &= bool(by_pvlib(times[part], measured[part], factor * sky[part]).all())
        assert clear_periods(measured[part], sky[part]).all() == expected
        passed += expected
    assert 10 < passed < 140


def test_own_factor_finds_what_fitting_the_month_finds() -> None:
    """Nearly: pvlib's fit over the whole month differs in less than 3 % of the clear minutes."""
    times, measured, sky = month()
    fitted = by_pvlib(times, measured, sky, 20)
    own = clear_periods(measured, sky)
    assert (own != fitted).sum() < 0.03 * fitted.sum()


def test_a_wrong_sensitivity_leaves_a_sky_clear() -> None:
    """A tenth more or less: the shape is the same."""
    _, measured, sky = month()
    plain = clear_periods(measured, sky)
    for factor in (0.95, 1.05):
        assert clear_periods(factor * measured, sky)[plain].mean() > 0.98
    assert not clear_periods(0.5 * measured, sky)[plain].any()


@pytest.mark.parametrize("cut", [0, 7, 1440, 2011])
def test_the_answer_does_not_depend_on_the_cut(cut: int) -> None:
    """Nine minutes on either side are all that a minute depends on, bit for bit."""
    _, measured, sky = month()
    begin, end = 10_000 + cut, 20_000 + cut
    halo = slice(begin - WINDOW + 1, end + WINDOW - 1)
    part = clear_periods(measured[halo], sky[halo])[WINDOW - 1 : -(WINDOW - 1)]
    assert_array_equal(part, clear_periods(measured, sky)[begin:end])


@pytest.mark.parametrize(
    ("change", "clear"),
    [
        ({}, True),
        ({20: SMOOTH[20] + 7.95}, True),
        ({20: SMOOTH[20] + 8.05}, False),
        ({20: NAN}, False),
    ],
)
def test_one_minute_spoils_its_windows(change: dict[int, float], clear: bool) -> None:
    """A jump from minute to minute beyond 8 W m-2, or a gap."""
    measured = SMOOTH.copy()
    for place, value in change.items():
        measured[place] = value
    got = clear_periods(measured, SMOOTH)
    assert got[20] == clear
    assert got[:11].all()
    assert got[30:].all()


@pytest.mark.parametrize(("swing", "clear"), [(1.2, True), (4.2, False)])
def test_scatter_of_the_slope(swing: float, clear: bool) -> None:
    """Half a percent of the mean a minute, or a line longer by more than ten."""
    wave = swing / 2 * (-1.0) ** np.arange(40)
    assert clear_periods(SMOOTH + wave, SMOOTH).all() == clear


@pytest.mark.parametrize(
    ("factor", "clear"), [(0.799, False), (0.801, True), (1.199, True), (1.201, False)]
)
def test_a_window_s_factor_is_bounded(factor: float, clear: bool) -> None:
    """Smooth overcast is no clear sky of another scale."""
    assert clear_periods(factor * SMOOTH, SMOOTH).all() == clear


def test_nothing_is_clear_without_a_sky_or_a_window() -> None:
    """Night, gaps, and series shorter than a window."""
    assert not clear_periods(SMOOTH, np.zeros(40)).any()
    assert not clear_periods(SMOOTH, np.full(40, NAN), scale=1.0).any()
    assert clear_periods(SMOOTH[:9], SMOOTH[:9]).tolist() == [False] * 9
    assert clear_periods([], []).size == 0


@pytest.mark.parametrize("gap", [1, 2, 30])
def test_no_window_reaches_over_a_gap(gap: int) -> None:
    """Neither over missing values nor over a night, however long; both sides stay as alone."""
    rng = np.random.default_rng(8)
    measured = SMOOTH + rng.normal(0.0, 2.0, SMOOTH.size)
    alone = clear_periods(measured, SMOOTH)
    assert alone.any()
    hole = np.full(gap, NAN)
    night = np.concatenate([hole, SMOOTH, hole, SMOOTH, hole])
    joined = np.concatenate([hole, measured, hole, measured[::-1], hole])
    for first, second in ((joined, night), (np.nan_to_num(joined), night)):
        found = clear_periods(first, second)
        assert_array_equal(found[gap : gap + SMOOTH.size], alone)
        assert not found[np.isnan(night)].any()
    short = np.concatenate([SMOOTH[:6], hole, SMOOTH[6:12]])
    assert not clear_periods(short, short).any()


@pytest.mark.parametrize(("limited", "bump"), [("maximum", (5.0, 0.0)), ("mean", (0.0, 3.0))])
def test_level_of_the_sky_without_a_factor(limited: str, bump: tuple[float, float]) -> None:
    """75 W m-2 between the means and between the maxima: a bump of one minute parts the two."""
    for difference, clear in ((74.9, True), (75.1, False)):
        sky, measured = np.full((2, 10), 3000.0)
        sky[5] += bump[1]
        measured[5] += bump[0]
        measured += difference - bump[0] + bump[1] / 10
        if limited == "maximum":
            assert measured.max() - sky.max() == pytest.approx(difference)
        else:
            assert measured.mean() - sky.mean() == pytest.approx(difference)
        assert clear_periods(measured, sky, scale=1.0).all() == clear
