"""Beam and net longwave from what the station measures."""

from __future__ import annotations

import numpy as np
from numpy.testing import assert_allclose

from invented import MARCH, period, station_config
from sunledger.stages.surroundings import net_longwave, surroundings

TIME = MARCH + 60 * np.arange(4)
ZENITH = np.array([60.0, 60.0, 60.0, 100.0])


def around(**values: list[float]):  # type: ignore[no-untyped-def]
    plain = {name: np.array(v) for name, v in values.items()}
    return surroundings(plain, TIME, ZENITH, period(station_config()), 60)


def test_beam_is_that_of_the_pyrheliometer_or_what_the_others_leave() -> None:
    """A tracker that is off must not make global surer: (500 - 100) / cos 60 = 800 W m-2."""
    got = around(dni=[800.0, 0.0, np.nan, 0.0], ghi=[500.0, 500.0, 500.0, 0.0], dhi=[100.0] * 4)
    assert_allclose(got.beam, [800.0, 800.0, 800.0, 0.0])


def test_beam_without_components_is_bounded() -> None:
    """All of global over the cosine, at most 1000 W m-2; none in the dark or without anything."""
    assert_allclose(around(ghi=[100.0, 900.0, 4.0, np.nan]).beam, [200.0, 1000.0, 0.0, 0.0])
    assert_allclose(around().beam, 0.0)


def test_net_longwave_of_the_pyrgeometer() -> None:
    """280 W m-2 over a body of 280 K; -100 W m-2 where it is not known."""
    body = [280.0, np.nan, 280.0, 280.0]
    got = around(lwd=[280.0, 280.0, np.nan, 280.0], lwd_body_temperature=body).net_longwave
    known = 280.0 - 5.670374419e-8 * 280.0**4
    assert_allclose(got, [known, -100.0, -100.0, known])
    assert_allclose(around().net_longwave, -100.0)


def test_a_cut_is_the_same_minutes() -> None:
    whole = around(dni=[1.0, 2.0, 3.0, 4.0])
    part = whole.cut(slice(1, 3))
    assert part.time.tolist() == TIME[1:3].tolist()
    assert_allclose(part.beam, [2.0, 3.0])
    assert part.interval == 60


def test_net_longwave_of_a_value() -> None:
    """A black sky over 288.15 K: minus CODATA's sigma T**4, 390.9 W m-2."""
    assert_allclose(net_longwave(0.0, 288.15), -390.9, atol=0.05)
    assert_allclose(net_longwave([300.0], [np.nan]), [np.nan])
