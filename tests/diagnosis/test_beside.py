"""What stands beside the components."""

from __future__ import annotations

import numpy as np
import pytest

from sunledger.diagnosis.beside import NOTHING, Beside, net_longwave, temperature_rate


def test_a_test_that_did_not_run_failed_nowhere() -> None:
    """And one that did is given as it is."""
    failed = np.array([True, False])
    beside = Beside(flagged={"tracker_off_sun": failed})
    assert beside.minutes_of("tracker_off_sun", 2) is failed
    assert not NOTHING.minutes_of("tracker_off_sun", 3).any()
    assert NOTHING.minutes_of("tracker_off_sun", 3).shape == (3,)


def test_a_sky_as_warm_as_the_body_gives_nothing() -> None:
    """A body of 0 degC emits 315.66 W m-2 (sigma T**4 with CODATA 2018, by hand)."""
    net = net_longwave([315.66, 215.66], [273.15, 273.15])
    assert net == pytest.approx([0.0, -100.0], abs=0.01)


def test_the_rate_of_a_temperature() -> None:
    """3 K an hour, in minutes; unknown near the ends, beside a gap, and in too short a piece."""
    body = 280.0 + 3.0 * np.arange(100) / 60.0
    rate = temperature_rate(body, 60)
    assert rate[15:-15] == pytest.approx(3.0)
    assert np.isnan(rate[[0, 14, -15, -1]]).all()
    body[50] = np.nan
    assert np.flatnonzero(np.isnan(temperature_rate(body, 60))[15:-15]).tolist() == [20, 50]
    assert np.isnan(temperature_rate(body[:10], 60)).all()
