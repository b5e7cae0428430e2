"""Words and history of a station as part of what a unit reads."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import invented
import small_project
from recorded_month import START, cleaning
from sunledger.config.loading import StationConfig
from sunledger.config.resolve import resolve_period
from sunledger.run.context import RunContext
from sunledger.run.described import history_of_month, history_settings, metadata_digest
from sunledger.run.job import Choice, prepare
from sunledger.run.months import month_bounds

JULY = 1940630400  # 2031-07-01 00:00 UTC


@pytest.fixture(scope="module")
def context(long_made: Path) -> RunContext:
    """A run of the long project."""
    return prepare(long_made, Choice()).context


@pytest.fixture(scope="module")
def config(context: RunContext) -> StationConfig:
    """The station of the long project."""
    return context.station(small_project.STATION)


@pytest.mark.parametrize(
    ("part", "change", "changes"),
    [
        ("network", {"summary": "Other words."}, True),
        ("station", {"description": "Other words."}, True),
        ("station", {"tracker_home_azimuth": 90.0}, True),
        ("station", {"primary": ()}, False),
    ],
    ids=["network", "description", "azimuth", "primary"],
)
def test_description(
    context: RunContext, config: StationConfig, part: str, change: dict[str, Any], changes: bool
) -> None:
    """Words that every file repeats, and no setting that has its own place in a key."""
    before = metadata_digest(context, config)
    if part == "network":
        other = replace(context, network=context.network.model_copy(update=change))
        assert (metadata_digest(other, config) != before) is changes
    else:
        station = config.station.model_copy(update=change)
        assert (metadata_digest(context, replace(config, station=station)) != before) is changes


def test_history_has_no_number_that_json_lacks(context: RunContext, config: StationConfig) -> None:
    """What is missing in a table is None in the settings."""
    resolved = resolve_period(config, context.processing, JULY, JULY + 86400)
    rows = history_settings(config, resolved, JULY, JULY + 86400)
    assert rows["deployment"][0]["deployment_end"] is None
    assert rows["levelling"][0]["tilt_after_tightening"] is None


def test_history_of_a_month(context: RunContext, config: StationConfig) -> None:
    """Computed once for all loggers, and the same as for its bounds."""
    bounds = month_bounds("2031-07")
    resolved = resolve_period(config, context.processing, *bounds)
    rows = history_of_month(config, context.processing, "2031-07")
    assert rows == history_settings(config, resolved, *bounds)
    assert history_of_month(config, context.processing, "2031-07") is rows


def test_history_has_what_a_condition_rests_on() -> None:
    """A cleaning before the file, whose minutes reach into it; not where no condition does."""
    config = invented.station_config(entries=[cleaning(10)])
    resolved = invented.period(config, START, 30)
    late = START + 20 * 86400, START + 30 * 86400
    rows = history_settings(config, resolved, *late)
    assert [row["event_id"] for row in rows["event"]] == ["fl-clean-10"]
    assert history_settings(config, replace(resolved, conditions=()), *late)["event"] == []
