"""Stations: loggers, layouts and the meaning of columns."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from sunledger.config.models.base import parse_utc
from sunledger.config.models.station import Channel, Layout, Logger, Station, TimeStamp

SIGNAL = {"column": "u", "unit": "uV", "position": "global_1", "quantity": "ghi"}
TIME = {"columns": ["stamp"], "format": "iso8601"}
LOGGER = {
    "serial_number": "LG-01",
    "files": ["*.csv"],
    "layouts": [{"time": TIME}],
    "utc_offset": "+01:00",
    "interval": 60,
    "label": "end",
    "channels": [SIGNAL],
}
CONTACT = {"role": "data manager", "institution": "invented", "email": "a@b.example", "url": "u"}
STATION = {
    "id": "tst",
    "name": "Test Fell",
    "description": "invented",
    "latitude": 46.8,
    "longitude": 7.1,
    "altitude": 1490,
    "licence": "CC0-1.0",
    "contact": CONTACT,
    "site": [{"from": "2031-01-01", "surface": "grass"}],
    "loggers": {"main": LOGGER},
}


def _channel(**changes: Any) -> Channel:
    return Channel.model_validate({k: v for k, v in {**SIGNAL, **changes}.items() if v is not None})


@pytest.mark.parametrize(
    ("changes", "kind", "name"),
    [
        ({}, "signal", "global_1_mean"),
        ({"statistic": "std"}, "signal", "global_1_std"),
        (
            {"quantity": None, "sensor": "body_temperature", "unit": "ohm"},
            "temperature",
            "global_1_body_temperature",
        ),
        (
            {"quantity": "air_temperature", "position": None, "unit": "degC"},
            "air",
            "air_temperature",
        ),
        (
            {"quantity": "wind_speed", "position": None, "unit": "m s-1", "statistic": "max"},
            "air",
            "wind_speed_max",
        ),
        (
            {"quantity": None, "position": None, "status": "ventilator_speed", "unit": "min-1"},
            "status",
            "ventilator_speed",
        ),
    ],
)
def test_use_and_name_of_a_channel(changes: dict[str, Any], kind: str, name: str) -> None:
    """Each column has one use, and the name of its variable follows from it."""
    channel = _channel(**changes)
    assert (channel.kind, channel.name) == (kind, name)


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"quantity": None}, "exactly one of quantity, sensor, status"),
        ({"sensor": "body_temperature"}, "exactly one of quantity, sensor, status"),
        ({"quantity": "uvb"}, r"unknown quantity; allowed: ghi, dhi, dni.*\(got 'uvb'\)"),
        ({"position": None}, "needs the position of the instrument"),
        ({"unit": "W m-2"}, r"unit must be one of uV, mV, V \(got 'W m-2'\)"),
        (
            {"quantity": "air_pressure", "unit": "bar", "position": None},
            "unit must be one of hPa, Pa, kPa",
        ),
        ({"quantity": None, "status": "tracker_mode", "unit": "1"}, "tracker_mode needs meanings"),
        (
            {"quantity": None, "status": "tracker_mode", "unit": "1", "meanings": {0: "asleep"}},
            "among tracking, clock_tracking, homing, off, fault",
        ),
    ],
)
def test_what_a_channel_cannot_be(changes: dict[str, Any], match: str) -> None:
    """The message names what is allowed."""
    with pytest.raises(ValidationError, match=match):
        _channel(**changes)


@pytest.mark.parametrize("interval", [1, 10, 30, 60, 600, 3600])
def test_intervals_that_fit_the_minute(interval: int) -> None:
    """Intervals divide a minute or are whole minutes that divide an hour."""
    assert Logger.model_validate({**LOGGER, "interval": interval}).interval == interval


@pytest.mark.parametrize("interval", [7, 45, 90, 0, 420, 2400, 3660])
def test_intervals_that_do_not(interval: int) -> None:
    """Anything else would straddle the grid of minutes or of hours."""
    with pytest.raises(ValidationError, match="interval"):
        Logger.model_validate({**LOGGER, "interval": interval})


@pytest.mark.parametrize(
    ("starts", "good"),
    [
        ((None,), True),
        ((None, "2031-02-01", "2031-03-01"), True),
        (("2031-01-01",), False),
        ((None, None), False),
        ((None, "2031-03-01", "2031-02-01"), False),
        ((None, "2031-02-01", "2031-02-01"), False),
    ],
)
def test_layouts_follow_each_other(starts: tuple[str | None, ...], good: bool) -> None:
    """The first layout holds from the beginning, each later one from a later date."""
    layouts = [{"time": TIME, **({"from": s} if s else {})} for s in starts]
    if good:
        logger = Logger.model_validate({**LOGGER, "layouts": layouts})
        assert [la.valid_from for la in logger.layouts] == [s and parse_utc(s) for s in starts]
        return
    with pytest.raises(ValidationError, match="'from'"):
        Logger.model_validate({**LOGGER, "layouts": layouts})


def test_channels_are_told_apart() -> None:
    """Neither a column nor a variable is named twice, in one logger or two."""
    twin = {**SIGNAL, "column": "v"}
    with pytest.raises(ValidationError, match="same name: global_1_mean"):
        Logger.model_validate({**LOGGER, "channels": [SIGNAL, twin]})
    with pytest.raises(ValidationError, match="same column: u"):
        Logger.model_validate({**LOGGER, "channels": [SIGNAL, {**SIGNAL, "statistic": "min"}]})
    with pytest.raises(ValidationError, match="channels given by two loggers: global_1_mean"):
        Station.model_validate({**STATION, "loggers": {"main": LOGGER, "second": LOGGER}})


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"header": []}, "names must be given exactly when"),
        ({"names": ["a"]}, "names must be given exactly when"),
        ({"decimal": "comma"}, "decimal comma cannot go with separator comma"),
        ({"header": ["title"]}, "header"),
    ],
)
def test_layouts_that_contradict_themselves(changes: dict[str, Any], match: str) -> None:
    """Names come from the file or from the configuration, never from both or neither."""
    with pytest.raises(ValidationError, match=match):
        Layout.model_validate({"time": TIME, **changes})


@pytest.mark.parametrize("written", ["iso8601", "epoch_seconds", "year_day_hhmm", "%d.%m.%y %H:%M"])
def test_time_formats(written: str) -> None:
    """A known word, or directives with a year."""
    assert TimeStamp(columns=("a",), format=written).format == written
    with pytest.raises(ValidationError, match="must be one of iso8601, epoch_seconds"):
        TimeStamp(columns=("a",), format="%H:%M")


@pytest.mark.parametrize(
    ("field", "value"),
    [("latitude", 90.1), ("latitude", -91), ("longitude", 181), ("altitude", -500), ("site", [])],
)
def test_station_bounds(field: str, value: object) -> None:
    """Coordinates lie on the earth, and the site is described."""
    with pytest.raises(ValidationError, match=field):
        Station.model_validate({**STATION, field: value})


def test_positions() -> None:
    """Each radiometer position once, with its quantity, in the order written."""
    channels = [
        {**SIGNAL, "column": "b", "position": "diffuse_1", "quantity": "dhi"},
        SIGNAL,
        {**SIGNAL, "column": "c", "statistic": "max"},
        {"column": "d", "unit": "degC", "position": "global_1", "sensor": "body_temperature"},
        {"column": "e", "unit": "degC", "quantity": "air_temperature"},
    ]
    station = Station.model_validate(
        {**STATION, "loggers": {"main": {**LOGGER, "channels": channels}}}
    )
    assert list(station.positions().items()) == [("diffuse_1", "dhi"), ("global_1", "ghi")]
