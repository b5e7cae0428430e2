"""The sparse ephemeris against the full algorithm, and its independence of the cut."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from sunledger.physics import ephemeris
from sunledger.physics.ephemeris import (
    check_site,
    delta_t_seconds,
    hour_angle,
    spa_module,
    sun_ephemeris,
)

YEAR_2031 = 1924992000.0
DAY = 86400.0
COLUMNS = ("equation_of_time", "sin_declination", "cos_declination", "distance")


def columns(times, **kwargs):
    result = sun_ephemeris(times, **kwargs)
    return [getattr(result, name) for name in COLUMNS]


def test_agrees_with_the_full_algorithm_between_knots():
    """Declination, hour angle and distance at random instants of 1950 to 2050."""
    times = np.random.default_rng(1).uniform(-20 * 365.25 * DAY, 80 * 365.25 * DAY, 3000)
    ours = sun_ephemeris(times, delta_t=67.0)
    spa = spa_module()
    sidereal, ascension, declination = spa.solar_position(
        times, 0, 0, 0, 0, 0, np.full(times.shape, 67.0), 0, sst=True
    )
    assert np.abs(np.degrees(np.arcsin(ours.sin_declination)) - declination).max() < 1e-6
    miss = np.mod(hour_angle(ours, times, 0.0) - (sidereal - ascension) + 180, 360) - 180
    assert np.abs(miss).max() < 1e-6
    assert np.abs(ours.distance - spa.earthsun_distance(times, 67.0, 1)).max() < 1e-10
    assert np.abs(ours.sin_declination**2 + ours.cos_declination**2 - 1).max() < 1e-9


def test_default_delta_t_is_that_of_the_instant():
    """Without delta T the result is that of the full algorithm with delta T at each sample."""
    times = YEAR_2031 + np.arange(0, 365 * DAY, 7777.0)
    difference = delta_t_seconds(1970.0 + times / 31556952.0)
    declination = spa_module().solar_position(times, 0, 0, 0, 0, 0, difference, 0, sst=True)[2]
    ours = np.degrees(np.arcsin(sun_ephemeris(times).sin_declination))
    assert np.abs(ours - declination).max() < 1e-6


def test_does_not_depend_on_which_samples_are_in_the_call():
    """Bit for bit the same alone, in pieces of any length, reversed, strided and shuffled."""
    times = YEAR_2031 + 30.0 + 60.0 * np.arange(3 * 1440)
    whole = columns(times)
    rng = np.random.default_rng(2)
    cuts = np.sort(rng.choice(times.size, 60, replace=False))
    pieces = [columns(part) for part in np.split(times, cuts)]
    order = rng.permutation(times.size)
    shuffled = columns(times[order])
    strided = columns(times[::7])
    for number, column in enumerate(whole):
        assert_array_equal(np.concatenate([piece[number] for piece in pieces]), column)
        assert_array_equal(shuffled[number], column[order])
        assert_array_equal(strided[number], column[::7])
    for row in rng.choice(times.size, 50):
        for number, value in enumerate(columns(times[row])):
            assert value == whole[number][row]


def test_distant_samples_in_one_call_change_nothing():
    """A sample 80 years away must not alter the knots of the others."""
    near = YEAR_2031 + 60.0 * np.arange(100)
    both = columns(np.concatenate([near, [-600000000.0]]))
    for alone, together in zip(columns(near), both, strict=True):
        assert_array_equal(together[:-1], alone)


@pytest.mark.parametrize("year", [-30, 60, 61, 62])
def test_a_knot_is_the_same_whichever_year_it_is_kept_with(year):
    """Bit for bit, where the knots of two years overlap, leap years among them."""
    start, end = (
        ephemeris._knots_of_year(np.datetime64(year + step, "Y").astype("M8[Y]")) for step in (0, 1)
    )
    first = end[0] - start[0]
    assert 1400 < first < start[1][0].size
    for one, two in zip(start[1], end[1], strict=True):
        assert_array_equal(one[first:], two[: one.size - first])


def test_a_call_over_the_turn_of_a_year_or_two():
    """Whichever year the middle of the call lies in, each value is that of the instant alone."""
    turns = YEAR_2031 + 86400.0 * np.array([-400.0, -366.0, -3.0, 0.0, 3.0, 365.0, 700.0])
    alone = zip(*(columns(turn) for turn in turns[:, None]), strict=True)
    for single, together in zip(alone, columns(turns), strict=True):
        assert_array_equal(np.concatenate(single), together)


def test_the_first_and_last_days_that_are_allowed():
    """Knots kept with their year may lie beyond the range of delta T; nothing rests on them."""
    ends = np.array(["-1998-01-10", "2999-12-25"], "M8[s]").astype(float)
    assert np.isfinite(sun_ephemeris(ends).distance).all()


@pytest.mark.parametrize("period", [360.0, 86400.0])
def test_wrapping_is_the_remainder(period):
    """The same bits as the exact remainder, at and around whole periods above all."""
    turns = period * np.arange(-40000.0, 40000.0)
    near = np.concatenate([turns, np.nextafter(turns, np.inf), np.nextafter(turns, -np.inf)])
    some = np.random.default_rng(1).uniform(-1e9, 3e9, 20000)
    for values in (near, some, np.floor(some)):
        assert_array_equal(ephemeris._wrapped(values, period), np.mod(values, period))


def test_values_at_knots_are_the_knots():
    """On a multiple of six hours nothing is interpolated."""
    times = YEAR_2031 + np.arange(8) * float(ephemeris.KNOT_SECONDS)
    declination = spa_module().solar_position(times, 0, 0, 0, 0, 0, np.full(8, 70.0), 0, sst=True)[
        2
    ]
    ours = sun_ephemeris(times, delta_t=70.0).sin_declination
    assert_array_equal(ours, np.sin(np.radians(declination)))


def test_shapes_and_gaps():
    """Scalars stay scalar, shapes are kept, NaN gives NaN there only, nothing gives nothing."""
    assert sun_ephemeris(YEAR_2031).distance.shape == ()
    assert sun_ephemeris(np.full((2, 3), YEAR_2031)).distance.shape == (2, 3)
    assert sun_ephemeris(np.empty(0)).distance.shape == (0,)
    for column in columns([np.nan, YEAR_2031]):
        assert np.isnan(column[0])
        assert np.isfinite(column[1])
    assert np.isnan(sun_ephemeris([np.nan]).distance).all()


@pytest.mark.parametrize("time", [1e12, -2e11])
def test_refuses_times_it_is_not_meant_for(time):
    """Milliseconds for seconds are the usual slip; the message says which year it would be."""
    with pytest.raises(ValueError, match=r"unix_time must lie between the years -1999 and 3000"):
        sun_ephemeris([YEAR_2031, time])


def test_delta_t_against_observation():
    """Observed (International Earth Rotation Service): 29.15 s in 1950, 63.83 s in 2000.

    Values from memory of the published series; the polynomials claim about 0.2 s there.
    """
    assert abs(delta_t_seconds(1950.0) - 29.15) < 0.3
    assert abs(delta_t_seconds(2000.0) - 63.83) < 0.3
    assert delta_t_seconds([1990.0, 2010.0]).shape == (2,)


def test_delta_t_is_smooth_enough_to_interpolate():
    """No step of more than 0.6 s a knot (7e-6 degree) anywhere, and below 1 ms but at joints."""
    years = np.arange(1950.0, 2051.0, 0.25 / 365.2425)
    steps = np.abs(np.diff(delta_t_seconds(years)))
    assert steps.max() < 0.6
    assert np.count_nonzero(steps > 0.002) <= 4


def test_delta_t_refuses_other_years():
    with pytest.raises(ValueError, match=r"between -1999 and 3000 \(got .*4000"):
        delta_t_seconds([2000.0, 4000.0])


def test_hour_angle_turns_with_longitude():
    """Fifteen degrees east is an hour later in the day, at any longitude in -180 to 360."""
    times = YEAR_2031 + np.arange(0.0, DAY, 1000.0)
    sun = sun_ephemeris(times)
    angle = hour_angle(sun, times, 170.0)
    assert np.all((angle >= -180) & (angle < 180))
    turned = np.mod(hour_angle(sun, times, 185.0) - angle, 360)
    assert np.abs(turned - 15.0).max() < 1e-9
    assert np.abs(hour_angle(sun, times, -170.0) - hour_angle(sun, times, 190.0)).max() < 1e-9


@pytest.mark.parametrize(
    ("site", "message"),
    [
        ((90.1, 0.0), r"latitude must lie between -90 and 90 degree \(got 90.1\)"),
        ((float("nan"), 0.0), "latitude must lie"),
        ((0.0, -180.5), r"longitude must lie between -180 and 360 degree \(got -180.5\)"),
    ],
)
def test_check_site_refuses(site, message):
    with pytest.raises(ValueError, match=message):
        check_site(*site)


def test_the_package_pvlib_is_not_imported():
    """Importing it costs 0.8 s; neither our import nor a position may do so."""
    code = (
        "import sys; from sunledger.physics.sun import solar_position; "
        "assert 'numpy' in sys.modules; solar_position(0.0, 10.0, 10.0); "
        "assert 'pvlib' not in sys.modules and 'pandas' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, env={"PYTHONPATH": ":".join(sys.path)})
