"""Keys of units and the words that say how two of them differ."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

import invented
from sunledger.config.clocks import ClockSegment
from sunledger.config.models.base import FAR_FUTURE, FAR_PAST
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import ResolvedLogger
from sunledger.run.keys import (
    HALO,
    differences,
    ingest_settings,
    inside_window,
    label_window,
    minute_settings,
    traced_settings,
    unit_key,
)
from sunledger.stages import placement, qc_flag


def logger(*errors: tuple[float, float], label: str = "end") -> ResolvedLogger:
    """A logger an hour ahead of UTC with the given errors of its clock."""
    segments = tuple(ClockSegment(FAR_PAST, FAR_FUTURE, a, b, True) for a, b in errors)
    return ResolvedLogger("main", 3600, 60, label, segments, ())


def test_the_halo_holds_every_reach() -> None:
    """Whole hours that add up what the stages declare."""
    assert HALO % 3600 == 0
    assert qc_flag.REACH + placement.REACH <= HALO < qc_flag.REACH + placement.REACH + 3600


def test_labels_of_a_right_clock() -> None:
    """The zone, and two intervals on both sides."""
    assert label_window(logger((0, 0)), 0, 86400) == (3600 - 120, 86400 + 3600 + 120)


def test_labels_of_a_wrong_clock() -> None:
    """As far as the clock was ever ahead or behind; never narrower than a right clock's."""
    assert label_window(logger((-30, 0), (0, 45)), 0, 86400) == (
        3600 - 120 - 30,
        86400 + 3600 + 120 + 45,
    )
    assert label_window(logger((100, 200)), 0, 86400)[0] == 3600 - 120


@pytest.mark.parametrize(("label", "shift"), [("start", 0), ("end", 60)])
def test_labels_of_the_readings_inside(label: str, shift: int) -> None:
    """Where labels mark the end, the first minute of a day carries the label 00:01."""
    first, past = inside_window(logger((0, 0), label=label), 0, 86400)
    assert (first, past) == (3600 + shift, 3600 + 86400 + shift)


def test_ingest_does_not_read_the_clock() -> None:
    """Patterns and clock bear on other stages; channels and layouts on this one."""
    config = invented.station_config()
    settings = ingest_settings(config.station.loggers["main"])
    assert {"layouts", "channels", "utc_offset", "interval", "label"} <= settings.keys()
    assert not {"files", "clock"} & settings.keys()


def test_minutes_do_not_read_the_rules_of_aggregation() -> None:
    """Nor how often the record has to be kept; what is read from raw files they do."""
    config = invented.station_config()
    settings = minute_settings(invented.period(config), config.station)
    assert settings["processing"].keys() == Processing.model_fields.keys() - {"aggregate", "checks"}
    assert settings["layouts"].keys() == {"main"}


def test_a_file_traces_its_configuration_only() -> None:
    """History has its own tables, status stands in the record, keys of months are no settings."""
    settings = {"history": 1, "status": "open", "months": {}, "processing": 4, "layouts": 5}
    assert traced_settings(settings) == {"processing": 4, "layouts": 5}


def test_a_key_hangs_on_each_of_its_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Kind, settings, sources, description, versions of the stages; on nothing else."""
    parts: dict[str, Any] = {
        "kind": "minute",
        "settings": {"a": 1.0},
        "sources": ["x"],
        "metadata": "m",
    }
    key = unit_key(**parts)
    assert unit_key(**parts) == key
    for name, other in (
        ("kind", "voltage"),
        ("settings", {"a": 1.5}),
        ("sources", ["y"]),
        ("metadata", "n"),
    ):
        assert unit_key(**parts | {name: other}) != key
    monkeypatch.setitem(unit_key.__globals__["STAGE_VERSIONS"]["minute"], "qc_flag", 99)
    assert unit_key(**parts) != key


@pytest.mark.parametrize(
    ("before", "now", "words"),
    [
        ({"a": 1}, {"a": 1}, []),
        ({"a": {"b": 5.0}}, {"a": {"b": 8.0}}, ["a.b: 5.0 -> 8.0"]),
        ({"a": None}, {"a": "x"}, ["a: None -> x"]),
        ({"a": [1, 2]}, {"a": [1, 3]}, ["a[1]: 2 -> 3"]),
        ({"a": ["x"]}, {"a": ["x", "y"]}, ["a: new y"]),
        ({"a": ["x", "y"]}, {"a": ["y"]}, ["a: no longer x"]),
        (
            {"conditions": []},
            {
                "conditions": [
                    {
                        "condition": "maintenance",
                        "target": "global_1",
                        "cause": "v-1",
                        "start": 0,
                        "end": 1,
                    }
                ]
            },
            ["conditions: new maintenance global_1 v-1"],
        ),
        (
            {"coefficients": [{"position": "sky_1", "start": 0, "serial_number": "A"}]},
            {"coefficients": [{"position": "sky_1", "start": 86400, "serial_number": "B"}]},
            [
                "coefficients[sky_1].serial_number: A -> B",
                "coefficients[sky_1].start: 1970-01-01 00:00 -> 1970-01-02 00:00",
            ],
        ),
        (
            {"s": [{"end": FAR_FUTURE}]},
            {"s": [{"end": 60}]},
            ["s[0].end: open -> 1970-01-01 00:01"],
        ),
        (
            {"s": []},
            {"s": [{"start": 60, "end": FAR_FUTURE}]},
            ["s: new start 1970-01-01 00:01 end open"],
        ),
        ({"s": []}, {"s": [{"unknown": 1}]}, ["s: new entry"]),
        (
            {"x_points": [[0, 8.0]]},
            {"x_points": [[0, 8.0], [60, 8.2]]},
            ["x_points: new 8.2 at 1970-01-01 00:01"],
        ),
        (
            {"r": [{"event_time": None}]},
            {"r": [{"event_time": 0.0}]},
            ["r[0].event_time: None -> 1970-01-01 00:00"],
        ),
    ],
)
def test_differences_in_words(before: Any, now: Any, words: list[str]) -> None:
    """Place, and what was and is there, as a person reads it."""
    assert list(differences(before, now)) == words


def test_equal_plain_data_have_no_difference() -> None:
    """A resolved period against itself, and against one with another altitude."""
    config = invented.station_config()
    period = invented.period(config)
    settings = minute_settings(period, config.station)
    higher = minute_settings(dataclasses.replace(period, altitude=9.0), config.station)
    assert list(differences(settings, settings)) == []
    assert list(differences(settings, higher)) == ["altitude: 2000.0 -> 9.0"]
