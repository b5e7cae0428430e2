"""Columns of the history tables: what a stranger needs to read them."""

from __future__ import annotations

import invented
import signal_ways
from sunledger.archive.history import TABLES, history_rows
from sunledger.config.models.processing import CalibrateSettings


def test_names_are_unique_over_all_tables() -> None:
    """A table laid open beside another one must not hide its columns."""
    names = [name for _, columns, _ in TABLES.values() for name, _, _ in columns]
    assert len(names) == len(set(names))


def test_every_row_fills_every_column() -> None:
    """Rows and columns name the same things."""
    work = {"role": "station keeper", "time": "2031-03-16"}
    entries = [
        work | {"id": "l", "type": "level_check", "position": "global_1", "found": {"size": 0}},
        work | {"id": "c", "type": "clock_check", "logger": "main", "found": 0},
        work | {"id": "e", "type": "cleaning", "positions": [], "found": "clean"},
    ]
    start = invented.MARCH
    ways = [signal_ways.UP, *entries]
    config = signal_ways.station(signal_ways.LOGGER, signal_ways.BOX, entries=ways)
    rows = history_rows(config, start, start + 1, frozenset(), CalibrateSettings())
    for name, (_, columns, _) in TABLES.items():
        assert rows[name], name
        assert {n for n, _, _ in columns} == rows[name][0].keys()


def test_numbers_have_units_and_texts_have_none() -> None:
    """Instants, angles, seconds, percent and sensitivities are named as such."""
    units = {
        name: attributes.get("units")
        for _, columns, _ in TABLES.values()
        for name, _, attributes in columns
    }
    assert units["sensitivity"] == units["sensitivity_as_found"] == "uV W-1 m2"
    assert units["expanded_uncertainty"] == "percent"
    assert units["tilt_found"] == units["tilt_left"] == "degree"
    assert units["clock_error_found"] == units["clock_error_left"] == "s"
    instants = {name for name, unit in units.items() if unit == "time"}
    assert instants == {
        "deployment_start",
        "deployment_end",
        "calibration_time",
        "input_calibration_time",
        "levelling_time",
        "clock_check_time",
        "event_start",
        "event_end",
    }
    assert units["serial_number"] is None


def test_every_column_says_what_it_is() -> None:
    """In words of their own."""
    said = [long_name for _, columns, _ in TABLES.values() for _, long_name, _ in columns]
    assert all(len(words) > 5 for words in said)
