"""Sunrise, noon and sunset against the worked example, the full algorithm and the position."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from sunledger.physics.ephemeris import spa_module
from sunledger.physics.sun import solar_position, sun_times

DAY = 86400.0
YEAR_2031 = 1924992000.0
EXAMPLE_DAY = 1066348800.0  # 2003-10-17 00:00 UTC


def local_seconds(text):
    hours, minutes, seconds = (int(part) for part in text.split(":"))
    return 3600 * hours + 60 * minutes + seconds


def test_worked_example(published):
    """Sunrise and sunset of the paper to half a second; its sunset is of the evening before."""
    table = {row["name"]: row["value"] for row in published("solar_position_worked_example.csv")}
    days = np.array([EXAMPLE_DAY - DAY, EXAMPLE_DAY])
    found = sun_times(days, 39.742476, -105.1786, 67.0)
    local = 7 * 3600 + EXAMPLE_DAY
    assert abs(found.sunrise[1] - local - local_seconds(table["sunrise_local"])) <= 0.5
    assert abs(found.sunset[0] + DAY - local - local_seconds(table["sunset_local"])) <= 0.5


@pytest.mark.parametrize("latitude", [-60.0, -23.0, 0.0, 46.8, 65.0])
def test_agrees_with_the_full_algorithm(latitude):
    """Within 5 s of the algorithm's own one-step solution; the noon within 0.1 s."""
    days = YEAR_2031 + DAY * np.arange(0, 365, 5)
    found = sun_times(days, latitude, 10.0, 70.0)
    noon, rise, down = spa_module().transit_sunrise_sunset(days, latitude, 10.0, 70.0, 1)
    assert np.abs(found.solar_noon - noon).max() < 0.1
    # one Newton step of the algorithm leaves most where the sun sets at a slant
    assert np.abs(found.sunrise - rise).max() < 5.0
    assert np.abs(found.sunset - down).max() < 5.0


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("latitude", [-60.0, -23.0, 0.0, 46.8, 65.0])
def test_agrees_with_an_independent_library(latitude):
    """astropy's sun stands 50' below the horizon at our sunrise and sunset, and south at our noon.

    34' of refraction and 16' of its radius, by convention. Within 0.004 degree, which is the
    parallax and a second of time. UT1 is set equal to UTC, as our code takes it.
    """
    from astropy import units
    from astropy.coordinates import AltAz, EarthLocation, get_sun
    from astropy.time import Time

    found = sun_times(YEAR_2031 + DAY * np.arange(0, 365, 12), latitude, 10.0)
    site = EarthLocation.from_geodetic(10.0, latitude, 0.0)

    def seen(times):
        instants = Time(2440587.5, times / DAY, format="jd", scale="ut1")
        instants.delta_ut1_utc = 0.0
        return get_sun(instants).transform_to(AltAz(obstime=instants, location=site))

    for times in (found.sunrise, found.sunset):
        assert np.isfinite(times).all()
        assert np.abs(seen(times).alt.to_value(units.deg) + 50.0 / 60.0).max() < 0.004
    across = np.sin(seen(found.solar_noon).az.rad) * np.cos(seen(found.solar_noon).alt.rad)
    assert np.abs(np.degrees(across)).max() < 0.004


def test_the_sun_is_on_the_horizon_then():
    """True zenith 90.833 degree (parallax of 0.0024 aside), and highest at noon."""
    days = YEAR_2031 + DAY * np.arange(0, 365, 3)
    found = sun_times(days, -35.0, 140.0)
    for times in (found.sunrise, found.sunset):
        assert np.abs(solar_position(times, -35.0, 140.0).zenith - 90.83337).max() < 0.003
    noon = solar_position(found.solar_noon, -35.0, 140.0).zenith
    for shift in (-600.0, 600.0):
        assert np.all(solar_position(found.solar_noon + shift, -35.0, 140.0).zenith > noon)


@pytest.mark.parametrize("longitude", [-180.0, -179.0, 0.0, 3.0, 179.9, 180.0, 359.0])
def test_every_day_has_one_noon(longitude):
    """Consecutive days give consecutive noons, also where noon falls at midnight UTC."""
    found = sun_times(YEAR_2031 + DAY * np.arange(365), 10.0, longitude)
    assert np.abs(np.diff(found.solar_noon) - DAY).max() < 31.0
    assert np.all((found.sunrise < found.solar_noon) & (found.solar_noon < found.sunset))
    assert (
        np.abs(found.solar_noon - YEAR_2031 - DAY * (np.arange(365) + 0.5)).max() < DAY / 2 + 1020
    )


def test_polar_day_and_night_are_nan():
    """At 70 degree north there is no sunrise about the solstices, but always a noon."""
    days = YEAR_2031 + DAY * np.array([0, 80, 172, 265])
    found = sun_times(days, 70.0, 20.0)
    assert_array_equal(np.isnan(found.sunrise), [True, False, True, False])
    assert_array_equal(np.isnan(found.sunset), [True, False, True, False])
    assert np.isfinite(found.solar_noon).all()
    assert np.isnan(sun_times(days, 90.0, 0.0).sunrise).all()


def test_scalars_gaps_and_cut():
    """A scalar gives scalars, NaN gives NaN, a day alone gives the same as in a year."""
    assert sun_times(YEAR_2031, 46.8, 6.9).sunset.shape == ()
    assert np.isnan(sun_times([np.nan], 46.8, 6.9).solar_noon).all()
    days = YEAR_2031 + DAY * np.arange(40)
    whole = sun_times(days, 46.8, 6.9)
    for row in (0, 17, 39):
        alone = sun_times(days[row], 46.8, 6.9)
        assert alone.sunrise == whole.sunrise[row]
        assert alone.sunset == whole.sunset[row]


def test_site_is_checked():
    with pytest.raises(ValueError, match="latitude must lie"):
        sun_times(YEAR_2031, -90.5, 0.0)
