"""The sundial against the sun itself."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
import pytest
from numpy.testing import assert_allclose

from sunledger.physics.solar_time import solar_instant, solar_label
from sunledger.physics.sun import sun_times, true_solar_time

DAYS = 1924992000 + 86400 * np.arange(0, 366, 7)  # from 2031-01-01


@pytest.mark.parametrize("longitude", [-179.9, -60.0, 0.0, 10.2, 175.0, 300.0])
def test_there_and_back(longitude):
    """To a microsecond."""
    labels = DAYS + 12345.0
    assert_allclose(solar_label(solar_instant(labels, longitude), longitude), labels, atol=1e-5)


@pytest.mark.parametrize("longitude", [-60.0, 10.2, 175.0])
def test_noon_is_noon(longitude):
    """The sun crosses the meridian when the sundial shows twelve."""
    noon = solar_instant(DAYS + 43200, longitude)
    day_start = noon - 43200.0
    assert_allclose(sun_times(day_start, 46.9, longitude).solar_noon, noon, atol=0.01)
    assert_allclose(true_solar_time(noon, longitude), 43200.0, atol=1e-4)


def test_noon_against_pvlib():
    """Transit of the published algorithm within half a second."""
    days = pd.date_range("2031-01-01", periods=53, freq="7D", tz="UTC")
    told = pvlib.solarposition.sun_rise_set_transit_spa(days, 46.9, 10.2)["transit"]
    epoch = pd.Timestamp("1970-01-01", tz="UTC")
    seconds = (told - epoch).dt.total_seconds().to_numpy()
    labels = (days - epoch).total_seconds().to_numpy() + 43200.0
    assert np.abs(solar_instant(labels, 10.2) - seconds).max() < 1.0


def test_the_date_is_that_of_the_calendar_there():
    """East of Greenwich ahead, west behind, also where the longitude is counted to 360."""
    assert solar_label(0, 90.0) == pytest.approx(21600, abs=1200)
    assert solar_label(0, 270.0) == pytest.approx(-21600, abs=1200)


def test_refusals():
    """A longitude that no place has."""
    for function in (solar_label, solar_instant):
        with pytest.raises(ValueError, match="longitude"):
            function(0, 400.0)
