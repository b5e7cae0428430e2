"""Night offsets."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from generated_month import generated, measured_net
from northmere.draws import draw
from northmere.light import placements_of
from northmere.scenario import SCENARIOS
from sunledger.diagnosis.beside import temperature_rate
from sunledger.diagnosis.night import (
    NightOffset,
    Surroundings,
    beyond_class,
    changing_offset,
    night_offset,
)
from sunledger.diagnosis.selection import solar_day
from sunledger.diagnosis.subject import Subject
from sunledger.physics.iso9060 import PYRANOMETER_CLASSES, PYRHELIOMETER_CLASSES
from sunledger.physics.sun import solar_position

SUBJECT = Subject("kpn", "2031-08")
REAL_NIGHTS = Path(__file__).parents[1] / "published" / "tucson_2018_10_18_nights.csv"
START = float(np.datetime64("2018-10-18", "s").astype(np.int64))


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_the_offsets_of_generated_nights(seed: int) -> None:
    """
    The drawn offsets a and b, from voltages with noise, a zero of the input and weather.

    The net longwave is the pyrgeometer's own; the sensitivities are known to a few percent.
    """
    parts, scene = generated("kpn", seed, "2031-08-01", 30)
    zenith, rate = parts.sun.zenith, temperature_rate(scene.body, 60)
    night = solar_day(parts.middle - 43200, parts.longitude)
    around = Surroundings(measured_net("kpn", seed, scene), rate, 0.03, 0.018)
    offset = night_offset("ghi", parts.ghi, zenith, night, around)
    assert offset is not None
    serial = placements_of(SCENARIOS["kpn"], "ghi")[-1].serial
    of = draw(SCENARIOS["kpn"], seed).of
    assert offset.at_class == pytest.approx(-200.0 * of(serial, "thermal_offset"), abs=0.25)
    assert offset.at_rate == pytest.approx(5.0 * of(serial, "transient_offset"), abs=0.15)
    assert 0.0 < offset.at_class_half_width < 0.25
    assert offset.nights >= 28
    limit = PYRANOMETER_CLASSES["B"].zero_offset_a
    assert beyond_class(SUBJECT, offset, limit) is None


def plain(nights: int, share: float, net: np.ndarray) -> NightOffset | None:
    """Nights of 300 dark minutes with an offset in proportion to the net longwave."""
    value = np.repeat(share * net, 300)
    night = np.repeat(np.arange(nights), 300)
    around = Surroundings(np.repeat(net, 300))
    return night_offset("ghi", value, np.full(value.size, 120.0), night, around)


def test_a_proportional_offset_is_found_exactly() -> None:
    """A slope over nights that differ, and a proportion over nights that do not."""
    differing = plain(10, 0.05, np.linspace(-120.0, -20.0, 10))
    same = plain(10, 0.05, np.full(10, -80.0))
    for offset in (differing, same):
        assert offset is not None
        assert offset.at_class == pytest.approx(-10.0)
    cloudy = plain(10, 0.05, np.full(10, -5.0))
    assert cloudy is not None
    assert np.isnan(cloudy.at_class)
    assert beyond_class(SUBJECT, cloudy, 7.0) is None


def test_an_offset_beyond_its_class_is_a_finding() -> None:
    """Class A allows 7 W m-2 at 200 W m-2 (ISO 9060:2018 by quotation); 10 are too many."""
    offset = plain(10, 0.05, np.linspace(-120.0, -20.0, 10))
    assert offset is not None
    found = beyond_class(SUBJECT, offset, PYRANOMETER_CLASSES["A"].zero_offset_a)
    assert found is not None
    assert (found.name, found.target, found.size) == (
        "night_offset_beyond_class",
        "ghi",
        pytest.approx(-10.0),
    )
    assert beyond_class(SUBJECT, offset, PYRANOMETER_CLASSES["B"].zero_offset_a) is None


def test_few_nights_are_not_enough() -> None:
    """And a month in the polar day has none."""
    assert plain(4, 0.05, np.linspace(-100.0, -20.0, 4)) is None
    bright = np.full(3000, 80.0)
    assert night_offset("ghi", np.zeros(3000), bright, np.arange(3000) // 300) is None


def test_without_net_longwave_the_offset_stands_alone() -> None:
    """Nothing is said of the class then."""
    night = np.repeat(np.arange(8), 300)
    value = np.repeat(np.array([-3.0, -3.1, -2.9, -3.0, -3.2, -2.8, -3.0, -3.0]), 300)
    offset = night_offset("dhi", value, np.full(value.size, 110.0), night)
    assert offset is not None
    assert offset.offset == pytest.approx(-3.0)
    assert 0 < offset.half_width < 0.2
    assert np.isnan(offset.at_class)


def test_a_change_over_the_months_is_a_finding() -> None:
    """A ventilator that stopped; steady months and short series say nothing."""
    months = [NightOffset("ghi", 28, v, 0.2, v * 2, 0.5) for v in (-2.0, -2.1, -1.9, -2.0)]
    assert changing_offset(SUBJECT, months) is None
    stopped = [*months, NightOffset("ghi", 28, -5.0, 0.2, -10.0, 0.5)]
    found = changing_offset(SUBJECT, stopped)
    assert found is not None
    assert found.name == "night_offset_changed"
    assert found.size == pytest.approx(-6.0, abs=0.2)
    assert changing_offset(SUBJECT, stopped[-3:]) is None


def test_real_nights_of_four_instruments_without_longwave() -> None:
    """
    A published night before dawn and after dusk (tests/published), in blocks that stand for nights.

    The thermopiles of both globals read less than nothing under a clear sky, about as much, and
    the pyrheliometer hardly; without longwave only its offset can be judged, by ISO 9060. Levels
    are those that pandas takes of the same blocks.
    """
    table = pd.read_csv(REAL_NIGHTS, comment="#")
    time = START + 7 * 3600 + 60.0 * table["minute"].to_numpy() + 30.0
    zenith = solar_position(time, 32.23, -110.96, 786.0).zenith
    block = np.arange(zenith.size) // 126
    told = {}
    for column, component in (("dni", "dni"), ("ghi_1", "ghi"), ("ghi_2", "ghi")):
        offset = night_offset(component, table[column].to_numpy(), zenith, block)
        assert offset is not None
        assert offset.offset == pytest.approx(table[column].groupby(block).median().median())
        assert np.isnan(offset.at_class)
        told[column] = offset
    assert -7.0 < told["ghi_1"].offset < told["dni"].offset < 0.0
    assert told["ghi_2"].offset == pytest.approx(told["ghi_1"].offset, abs=0.7)
    assert beyond_class(SUBJECT, told["ghi_1"], 1.0) is None
    limit = PYRHELIOMETER_CLASSES["A"].total_zero_offset
    assert beyond_class(SUBJECT, told["dni"], limit) is None
    found = beyond_class(SUBJECT, told["dni"], 0.2)
    assert found is not None
    assert found.size == told["dni"].offset
