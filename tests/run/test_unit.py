"""Units: what each reads, and therefore what changes its key."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import small_project
from sunledger.config.loading import StationConfig
from sunledger.run.context import RunContext
from sunledger.run.file_index import FileIndex, IndexedFile
from sunledger.run.job import Choice, prepare
from sunledger.run.months import month_bounds, months_touched
from sunledger.run.unit import (
    Unit,
    aggregate_settings,
    aggregate_unit,
    bearing_files,
    minute_unit,
    unit_name,
    voltage_unit,
)

JULY = 1940630400  # 2031-07-01 00:00 UTC


def indexed(path: str, first: int, last: int) -> IndexedFile:
    """A raw file with a line at its first and last label."""
    months = months_touched(first, last + 1)
    bounds = {m: month_bounds(m) for m in months}
    spans = {m: (max(first, a), min(last, b - 1)) for m, (a, b) in bounds.items()}
    lines = dict.fromkeys(months, 1)
    return IndexedFile(path, 1, 1, path * 2, "", first, last, lines, 2, (), spans, first)


@pytest.fixture(scope="module")
def context(long_made: Path) -> RunContext:
    """A run of the long project."""
    return prepare(long_made, Choice()).context


@pytest.fixture(scope="module")
def config(context: RunContext) -> StationConfig:
    """The station of the long project."""
    return context.station(small_project.STATION)


def test_names() -> None:
    """As a person says them; a logger only where there is one."""
    assert unit_name("osr", "voltage", "main", "2031-03") == "osr voltage main 2031-03"
    assert Unit("minute", "osr", "minute", "2031-03", "", {}).name == "osr minute 2031-03"


def test_files_bear_by_their_labels() -> None:
    """Half-open window; a file of the month whose labels lie elsewhere does not bear."""
    files = tuple(
        indexed(name, first, last)
        for name, first, last in (
            ("before", JULY - 900, JULY - 1),
            ("first", JULY - 900, JULY),
            ("past", JULY + 600, JULY + 900),
            ("around", JULY - 900, JULY + 900),
        )
    )
    found = bearing_files(FileIndex(files), (JULY, JULY + 600))
    assert [f.path for f in found] == ["first", "around"]


def test_a_file_without_a_label_never_bears() -> None:
    """Nothing of it could be read."""
    read = indexed("x", JULY - 60, JULY - 60)
    unread = replace(read, first_label=None, last_label=None, spans={}, opening_label=None)
    assert bearing_files(FileIndex((read,)), (JULY - 86400, JULY)) == [read]
    assert bearing_files(FileIndex((unread,)), (JULY - 86400, JULY)) == []


def test_no_voltages_without_a_label(context: RunContext, config: StationConfig) -> None:
    """A month of which no file holds a label is no unit."""
    index = FileIndex((indexed("x", JULY - 900, JULY - 60),))
    assert voltage_unit(context, config, "main", "2031-07", index) is None
    unit = voltage_unit(context, config, "main", "2031-06", index)
    assert unit is not None
    assert unit.sources == (("x", "xx", 1),)


def test_no_minutes_of_a_neighbour_alone(context: RunContext, config: StationConfig) -> None:
    """Readings within the halo do not make a month; the one inside brings them along."""
    halo = indexed("halo", JULY + 3600 - 600, JULY + 3600)
    inside = indexed("inside", JULY + 7200, JULY + 9000)
    only = {"main": FileIndex((halo,)), "beam": FileIndex()}
    assert minute_unit(context, config, "2031-07", only, {}) is None
    both = {"main": FileIndex((halo,)), "beam": FileIndex((inside,))}
    unit = minute_unit(context, config, "2031-07", both, {})
    assert unit is not None
    assert [s[0] for s in unit.sources] == ["halo", "inside"]


def test_no_minutes_before_the_first_complete_day(
    context: RunContext, config: StationConfig
) -> None:
    """A month that is hours old has no unit yet."""
    index = FileIndex((indexed("x", JULY + 7200, JULY + 9000),))
    indexes = {"main": index, "beam": FileIndex()}
    early, later = replace(context, as_of=JULY + 9000), replace(context, as_of=JULY + 86400)
    assert minute_unit(early, config, "2031-07", indexes, {}) is None
    assert minute_unit(later, config, "2031-07", indexes, {}) is not None


MARCH_AND_MAY = ("2031-03", "2031-05")


def minutes(*months: str) -> list[Unit]:
    """Minute units of some months."""
    return [
        Unit("minute", "tst", "minute", m, f"key {m}", {}, ((f"{m}.csv", "x", 1),)) for m in months
    ]


def test_a_year_reads_all_between_its_months(context: RunContext, config: StationConfig) -> None:
    """Its file tells of events in a month without data, so a note there changes it."""
    two = minutes("2031-03", "2031-05")
    before = aggregate_settings(context, config, two, MARCH_AND_MAY)
    entry = {
        "id": "th-4",
        "type": "thermal_sensor_check",
        "time": "2031-04-10",
        "position": "global_1",
        "found": 0.0,
        "role": "station keeper",
    }
    entries = [*config.fieldlog.model_dump(mode="json", by_alias=True)["entries"], entry]
    fieldlog = type(config.fieldlog).model_validate({"entries": entries})
    noted = replace(config, fieldlog=fieldlog)
    after = aggregate_settings(context, noted, two, MARCH_AND_MAY)
    assert (
        before["months"] == after["months"] == {"2031-03": "key 2031-03", "2031-05": "key 2031-05"}
    )
    keys = {aggregate_unit(("daily", ""), "2031", two, s, "").key for s in (before, after)}
    assert len(keys) == 2
    one = two[1:]
    may = [aggregate_settings(context, c, one, MARCH_AND_MAY[1:]) for c in (noted, config)]
    assert may[0] == may[1]


def test_a_year_joins_its_months(context: RunContext, config: StationConfig) -> None:
    """Months, raw files and predecessors are those of the minutes; products have their own keys."""
    two = minutes("2031-03", "2031-05")
    settings = aggregate_settings(context, config, two, MARCH_AND_MAY)
    unit, other = (aggregate_unit((p, ""), "2031", two, settings, "") for p in ("daily", "hourly"))
    assert unit.months == ("2031-03", "2031-05")
    assert unit.after == ("tst minute 2031-03", "tst minute 2031-05")
    assert [s[0] for s in unit.sources] == ["2031-03.csv", "2031-05.csv"]
    assert unit.key != other.key
    local = aggregate_unit(("daily", "local"), "2031", two, settings, "")
    assert local.name == "tst daily local 2031"
    assert local.key not in (unit.key, other.key)


def test_a_year_reads_beyond_its_own_months(context: RunContext, config: StationConfig) -> None:
    """Months that are only read stand apart, and their keys bear on the file's."""
    three = minutes("2030-12", "2031-01", "2031-02")
    settings = aggregate_settings(context, config, three, ("2031-01", "2031-02"))
    unit = aggregate_unit(("hourly", ""), "2031", three, settings, "")
    assert (unit.months, unit.around) == (("2031-01", "2031-02"), ("2030-12",))
    assert "tst minute 2030-12" in unit.after
    assert set(settings["months"]) == {"2030-12", "2031-01", "2031-02"}
