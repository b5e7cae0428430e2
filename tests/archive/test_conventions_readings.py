"""The voltage product passes the checker and keeps readings as logged."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from archive.compliance import unexpected
from archive.samples import voltage_file
from sunledger.archive.conventions_readings import (
    ChannelNotes,
    channel,
    line_variables,
    logger_time,
)
from sunledger.archive.netcdf import read_file, write_file
from sunledger.archive.specification import Packing

# No standard name exists for a voltage, a logger's inner temperature or a line number (table v93).
NAMELESS = (
    "global_1",
    "direct_1",
    "longwave_1_body_temperature",
    *(f"source_{what}_{logger}" for what in ("file", "line") for logger in ("main", "beam")),
)


def test_voltage_file_passes_the_checker(tmp_path: Path) -> None:
    write_file(tmp_path / "x.nc", voltage_file())
    times = ("logger_time_main", "logger_time_beam")
    assert unexpected(tmp_path / "x.nc", NAMELESS, times) == []


def test_labels_that_step_back_are_kept_in_file_order(tmp_path: Path) -> None:
    spec = voltage_file()
    write_file(tmp_path / "x.nc", spec)
    labels = read_file(tmp_path / "x.nc")["logger_time_main"].data
    assert labels.dtype == np.int64
    assert (np.diff(labels) < 0).sum() == 1
    assert np.array_equal(labels, spec["logger_time_main"].data)
    assert "not UTC" in str(logger_time("main", [0]).attributes["comment"])


def test_codes_get_flag_values_and_missing_ones_stay_missing() -> None:
    notes = ChannelNotes("mode of the tracker", "1", meanings={0: "off", 2: "tracking"})
    spec = channel("tracker_mode", "main", [0, 2, np.nan], notes)
    assert spec.packing == Packing(0)
    assert np.asarray(spec.attributes["flag_values"]).tolist() == [0, 2]
    assert spec.attributes["flag_meanings"] == "off tracking"
    assert np.array_equal(spec.data, [0, 2, np.nan], equal_nan=True)


def test_codes_with_decimals_are_kept_as_logged() -> None:
    notes = ChannelNotes("mode of the tracker", "1", meanings={0: "off", 2: "tracking"})
    spec = channel("tracker_mode", "main", [0.5, 2], notes)
    assert "flag_values" not in spec.attributes
    assert spec.attributes["comment"] == "codes 0: off, 2: tracking"
    assert spec.data.tolist() == [0.5, 2]


def test_over_range_is_kept() -> None:
    spec = channel("global_1", "main", [1.5, np.inf], ChannelNotes("voltage", "mV"))
    assert spec.packing is None
    assert spec.data.tolist() == [1.5, np.inf]


@pytest.mark.parametrize(
    ("unit", "statistic", "expected"),
    [
        ("degC", "mean", "temperature: on_scale"),
        ("K", "std", "temperature: difference"),
        ("mV", "mean", None),
    ],
)
def test_temperatures_say_whether_they_are_differences(
    unit: str, statistic: str, expected: str | None
) -> None:
    spec = channel("t", "main", [1.0], ChannelNotes("t", unit, statistic))
    assert spec.attributes.get("units_metadata") == expected


def test_lines_point_to_their_file() -> None:
    status, file, line = line_variables("main", [0, 1], [0, 0], [5, 6])
    assert status.data.dtype == np.int8
    assert status.attributes["flag_meanings"] == "kept conflicting"
    assert (file.name, line.name) == ("source_file_main", "source_line_main")
    assert line.data.tolist() == [5, 6]
