"""Gain and zero on the way to the file, by date and by device."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from invented import deployment
from signal_ways import BOX, LOGGER, UP, device, station
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import parse_utc
from sunledger.config.models.instruments import Instrument
from sunledger.config.models.processing import CalibrateSettings
from sunledger.config.signal_paths import SignalPath, signal_paths

START, END = parse_utc("2031-01-01"), parse_utc("2031-03-01")


def paths(config: StationConfig, **settings: Any) -> tuple[SignalPath, ...]:
    """Ways over two months."""
    return signal_paths(config, CalibrateSettings.model_validate(settings), START, END)


def test_series_cut_at_a_new_certificate() -> None:
    """By hand: zero of the multiplexer seen through the logger."""
    one, two = paths(station(LOGGER, BOX, entries=[UP]))
    assert (one.start, one.end, two.end) == (START, parse_utc("2031-02-01"), END)
    assert one.gain == pytest.approx(0.999 * 1.001, rel=1e-15)
    assert one.zero == pytest.approx(1.0 / 1.001 + 2.0, rel=1e-15)
    assert two.certificates == ("NR-MX-1-2030-01-01", "NR-LG-1-2031-02-01")
    assert one.relative_uncertainty == pytest.approx(1e-4 * 2**0.5)
    assert {p.position for p in (one, two)} == {"global_1"}


def test_no_way_while_a_device_has_no_certificate() -> None:
    """From its deployment on, which is in the middle of the period."""
    late = deployment("box", instrument="NR-MX-1", **{"from": "2031-01-15"})
    assert paths(station(LOGGER, BOX, entries=[late]))[0].start == parse_utc("2031-01-15")
    assert paths(station(LOGGER, BOX)) == ()


def test_settings() -> None:
    """Each can be left out."""
    config = station(LOGGER, BOX, entries=[UP])
    assert {p.gain for p in paths(config, corrections=["logger_zero"])} == {1.0}
    assert {p.zero for p in paths(config, corrections=["logger_gain"])} == {0.0}


def test_inputs_belong_to_the_signal_path() -> None:
    with pytest.raises(ValidationError, match="logger, multiplexer, shunt"):
        Instrument.model_validate(device("X", "pyrheliometer", ("2030-01-01", 1.0, 0.0)))


def test_one_certificate_a_date() -> None:
    twice = [("2030-01-01", 1.0, 0.0), ("2030-01-01", 1.1, 0.0)]
    with pytest.raises(ValidationError, match="two certificates of one date"):
        Instrument.model_validate(device("X", "shunt", *twice))


@pytest.mark.parametrize("gain", [0.0, -1.0, float("nan"), 1000.0])
def test_gain_within_reason(gain: float) -> None:
    with pytest.raises(ValidationError, match="gain"):
        Instrument.model_validate(device("X", "logger", ("2030-01-01", gain, 0.0)))
