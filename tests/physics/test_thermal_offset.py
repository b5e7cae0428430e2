"""Thermal offset: bounds that ISO 9060 implies, the published form, and the nights around."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from sunledger.physics.thermal_offset import (
    DAY,
    largest_net_longwave_factor,
    nights,
    offset_between_nights,
    offset_from_net_longwave,
)


@pytest.mark.parametrize(("iso_class", "limit"), [("A", 7.0), ("B", 15.0), ("C", 30.0)])
def test_bounds_implied_by_iso_9060(iso_class: str, limit: float) -> None:
    """Zero offset a at 200 W m-2 of net thermal radiation: 7, 15 and 30 W m-2."""
    factor = largest_net_longwave_factor(iso_class)
    assert float(offset_from_net_longwave(-200.0, 0.0, (0.0, factor, 0.0))) == pytest.approx(-limit)


def test_form_by_hand() -> None:
    """Constant, thermopile term, dome's excess (form of Dutton et al. 2001)."""
    got = offset_from_net_longwave([-100.0, 0.0], [-5.0, 2.0], (-0.5, 0.03, 0.2))
    assert_allclose(got, [-0.5 - 3.0 - 1.0, -0.5 + 0.4])


def test_dome_is_not_asked_for_without_its_factor() -> None:
    assert float(offset_from_net_longwave(-100.0, np.nan, (0.0, 0.03, 0.0))) == pytest.approx(-3.0)


def test_local_midnight() -> None:
    """23:19 UTC at 10.25 degrees east is local mean midnight."""
    night, after = nights([1000 * DAY - 10.25 * 240.0, 1000 * DAY], 10.25)
    assert night.tolist() == [1000, 1000]
    assert_allclose(after, [0.0, 2460.0], atol=1e-6)


def days(levels: list[float]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Minutes at longitude 0 with a level a night and strong light by day."""
    time = np.arange(-DAY / 2, (len(levels) - 0.5) * DAY, 60.0)
    night = np.round(time / DAY).astype(int)
    dark = np.abs(time - night * DAY) < 6 * 3600
    zenith = np.where(dark, 110.0, 40.0)
    return time, np.where(dark, np.array(levels)[night], 5000.0), zenith


def test_between_two_nights() -> None:
    """Linear in time between their medians; unknown before the first and after the last."""
    time, signal, zenith = days([-20.0, -40.0, -10.0])
    got = offset_between_nights(time, signal, zenith, 0.0)
    for at, expected in ((0.5, -30.0), (1.25, -32.5), (1.0, -40.0)):
        place = np.searchsorted(time, at * DAY)
        assert got[place] == pytest.approx(expected, abs=1e-9)
    assert np.isnan(got[time < 0]).all()
    assert np.isnan(got[time >= 2 * DAY]).all()
    assert np.isfinite(got[(time >= 0) & (time < 2 * DAY)]).all()


def test_outliers_and_order_do_not_matter() -> None:
    time, signal, zenith = days([-20.0, -40.0])
    expected = offset_between_nights(time, signal, zenith, 0.0)
    spoilt = signal.copy()
    spoilt[np.searchsorted(time, 60.0)] = 900.0
    mixed = np.random.default_rng(1).permutation(time.size)
    got = offset_between_nights(time[mixed], spoilt[mixed], zenith[mixed], 0.0)
    assert_allclose(got, expected[mixed])


def test_a_night_with_few_readings_does_not_count() -> None:
    time, signal, zenith = days([-20.0, -40.0, -10.0])
    lost = (np.abs(time - DAY) < 3.2 * 3600) & (np.abs(time - DAY) > 600)
    signal[lost] = np.nan
    assert np.isnan(offset_between_nights(time, signal, zenith, 0.0)).all()


def test_midsummer_without_night() -> None:
    """Twilight is no darkness."""
    time, signal, zenith = days([-20.0, -40.0])
    assert np.isnan(offset_between_nights(time, signal, np.minimum(zenith, 95.0), 0.0)).all()
