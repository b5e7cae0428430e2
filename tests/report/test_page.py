"""The monthly page: whole in itself, escaped, and sensible where little was measured."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from sunledger.report.month import StationMonth
from sunledger.report.page import month_page
from sunledger.vocabulary import GRADES

EMPTY = StationMonth("osr", "2031-04", "Ridge", None, None, {}, {}, None, (), (), {})


def lone_component(zenith: float) -> xr.Dataset:
    """Global alone."""
    size = 1440
    series = {
        "ghi": np.full(size, 5.0),
        "ghi_grade": np.full(size, GRADES["good"], np.int8),
        "ghi_flags": np.zeros(size, np.int32),
        "ghi_conditions": np.zeros(size, np.int32),
        "solar_zenith_angle": np.full(size, zenith),
        "solar_azimuth_angle": np.zeros(size),
    }
    time = {"time": 1932768000 + 60 * np.arange(size)}
    return xr.Dataset({n: ("time", v) for n, v in series.items()}, time, {"interval": 60})


def test_a_month_without_data_says_so() -> None:
    """Every part is there in words."""
    page = month_page(EMPTY)
    assert "No minute file is held for this month." in page
    assert "No diagnosis was made of this month." in page
    assert "Nothing arrived to have gaps." in page
    assert "<img" not in page


@pytest.mark.parametrize("zenith", [60.0, 110.0])
def test_one_component_and_polar_night(zenith: float) -> None:
    """Pictures of the one quantity, no closure."""
    page = month_page(replace(EMPTY, minutes=lone_component(zenith)))
    assert page.count("<img") == 7
    assert "<h2>Closure" not in page
    assert "100.00\N{NO-BREAK SPACE}%" in page


def test_the_page_needs_nothing_from_elsewhere() -> None:
    """No script, no address, and each picture has words."""
    page = month_page(replace(EMPTY, minutes=lone_component(60.0)))
    assert "<script" not in page
    assert "http" not in page
    assert page.count(" alt=") == page.count("<img")


def test_notes_are_escaped() -> None:
    """What people wrote is text, never markup."""
    event = {
        "event_type": ["cleaning"],
        "event_start": [1932768000.0],
        "event_positions": ["global_1"],
        "event_found": ['<script>alert("x")</script>'],
        "event_left": ["<b>clean"],
        "event_note": ["a & b"],
    }
    page = month_page(replace(EMPTY, title="<i>Ridge", tables={"event": event}))
    assert "<script" not in page
    assert "<b>" not in page
    assert "<i>" not in page
    assert "&lt;script&gt;" in page
