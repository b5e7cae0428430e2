"""History tables: only what bears on a period, open ends left open, later events change nothing."""

from __future__ import annotations

import math
from typing import Any

import pytest

import invented
from sunledger.archive.history import (
    TABLES,
    clock_rows,
    deployment_rows,
    event_rows,
    history_rows,
    history_tables,
    levelling_rows,
    provenance_table,
)
from sunledger.config.models.base import parse_utc
from sunledger.config.models.processing import CalibrateSettings

NO_CAUSE: frozenset[str] = frozenset()
START, END = (int(parse_utc(d)) for d in ("2031-03-01", "2031-04-01"))


def entry(kind: str, name: str, time: str, **more: Any) -> dict[str, Any]:
    """An entry of the field log."""
    return {"id": name, "type": kind, "time": time, "role": "station keeper"} | more


def level(name: str, time: str, position: str = "global_1") -> dict[str, Any]:
    """A level check."""
    return entry("level_check", name, time, position=position, found={"size": 0.1, "azimuth": 90})


def clock(name: str, time: str, **more: Any) -> dict[str, Any]:
    """A clock check."""
    return entry("clock_check", name, time, logger="main", found=3.0, **more)


def cleaning(name: str, time: str, **more: Any) -> dict[str, Any]:
    """A cleaning."""
    return entry("cleaning", name, time, positions=["global_1", "sky_1"], found="dew", **more)


def ids(rows: list[dict[str, Any]], name: str) -> list[str]:
    """One column."""
    return [row[name] for row in rows]


def test_deployments_that_touch_the_period() -> None:
    """Half-open: one that ended as the period begins, or begins as it ends, does not touch."""
    moves = [
        entry("removal", "rm", "2031-03-01", deployment="dep-global_1"),
        invented.deployment(
            "global_1",
            **{
                "id": "dep-b",
                "from": "2031-03-01",
                "until": "2031-03-20",
                "instrument": "NR-direct_1",
            },
        ),
        invented.deployment(
            "global_1", **{"id": "dep-c", "from": "2031-04-01", "instrument": "NR-global_1"}
        ),
    ]
    rows = deployment_rows(invented.station_config(entries=moves), START, END)
    here = [r for r in rows if r["position"] == "global_1"]
    assert ids(here, "deployment_id") == ["dep-b"]
    assert here[0]["deployment_start"] == START
    assert here[0]["deployment_end"] == parse_utc("2031-03-20")
    assert here[0]["quantity"] == "ghi"


@pytest.mark.parametrize("until", [None, "2031-04-02", "2033-01-01"])
def test_an_end_after_the_period_is_open(until: str | None) -> None:
    """Whether or not it is known by now, so that the file stays as it was."""
    moves = [entry("removal", "rm", until, deployment="dep-global_1")] if until else []
    rows = deployment_rows(invented.station_config(entries=moves), START, END)
    row = next(r for r in rows if r["position"] == "global_1")
    assert math.isnan(row["deployment_end"])


def test_level_checks_that_bear_on_the_period() -> None:
    """Within it, the last before it at each position, and later ones that cast doubt on it."""
    checks = [
        level("a", "2031-01-01"),
        level("b", "2031-02-01"),
        level("sky", "2031-01-15", "sky_1"),
        level("c", "2031-03-01"),
        level("d", "2031-03-31 23:59"),
        level("e", "2031-04-01"),
        level("f", "2031-05-01"),
    ]
    config = invented.station_config(entries=checks)
    rows = levelling_rows(config, START, END, NO_CAUSE)
    assert ids(rows, "levelling_id") == ["sky", "b", "c", "d"]
    doubted = levelling_rows(config, START, END, frozenset({"f", "another"}))
    assert ids(doubted, "levelling_id") == ["sky", "b", "c", "d", "f"]
    assert (rows[0]["tilt_found"], rows[0]["tilt_found_azimuth"]) == (0.1, 90)
    assert math.isnan(rows[0]["tilt_left"])


def test_clock_checks_that_bear_on_the_period() -> None:
    """Within it and one on each side, between which the drift is taken."""
    checks = [
        clock("a", "2031-01-01"),
        clock("b", "2031-02-01", left=0.0),
        clock("c", "2031-03-15"),
        clock("d", "2031-04-01"),
        clock("e", "2031-05-01"),
    ]
    rows = clock_rows(invented.station_config(entries=checks), START, END)
    assert ids(rows, "clock_check_id") == ["b", "c", "d"]
    assert (rows[0]["clock_error_found"], rows[0]["clock_error_left"]) == (3.0, 0.0)
    assert math.isnan(rows[1]["clock_error_left"])


def test_events_that_bear_on_the_period() -> None:
    """Within it, and those from outside that set a condition in it; no other kinds of entry."""
    entries = [
        cleaning("a", "2031-02-28 23:59"),
        cleaning("b", "2031-03-01"),
        level("l", "2031-03-05"),
        clock("c", "2031-03-05"),
        cleaning("d", "2031-04-01"),
        cleaning("e", "2031-06-01"),
    ]
    config = invented.station_config(entries=entries)
    assert ids(event_rows(config, START, END, NO_CAUSE), "event_id") == ["b"]
    rows = event_rows(config, START, END, frozenset({"e"}))
    assert ids(rows, "event_id") == ["b", "e"]
    assert rows[0]["event_positions"] == "global_1 sky_1"
    assert rows[0]["event_found"] == "dew"
    assert math.isnan(rows[0]["event_end"])


def test_a_corrected_entry_is_not_told() -> None:
    """The one in force stands in its place."""
    entries = [
        cleaning("a", "2031-03-02"),
        cleaning("b", "2031-03-03", corrects="a", reason="wrong day"),
    ]
    config = invented.station_config(entries=entries)
    assert ids(event_rows(config, START, END, NO_CAUSE), "event_id") == ["b"]


def test_later_events_change_no_table() -> None:
    """What happened after the next checks leaves every row as it was."""
    known = [level("l", "2031-02-01"), clock("c", "2031-02-01"), clock("d", "2031-04-05")]
    later = [
        level("l2", "2031-06-01"),
        clock("c2", "2031-06-01"),
        cleaning("e", "2031-06-01"),
        entry("removal", "rm", "2031-06-01", deployment="dep-global_1"),
        invented.deployment("global_1", **{"id": "dep-2", "from": "2031-06-02"}),
    ]
    before, after = (
        history_rows(invented.station_config(entries=e), START, END, NO_CAUSE, CalibrateSettings())
        for e in (known, known + later)
    )
    assert repr(before) == repr(after)  # repr, since a missing number does not equal itself


def test_tables_have_their_columns_even_without_rows() -> None:
    """Every table in every file, with the same columns and types."""
    config = invented.station_config(entries=[cleaning("b", "2031-03-01")])
    full = history_tables(history_rows(config, START, END, NO_CAUSE, CalibrateSettings()))
    none = history_tables({name: [] for name in TABLES})
    assert [g.name for g in full] == [g.name for g in none] == list(TABLES)
    for one, two in zip(full, none, strict=True):
        columns = {v.name: (v.dimensions, v.attributes) for v in one.variables}
        assert columns == {v.name: (v.dimensions, v.attributes) for v in two.variables}
        assert all(v.data.shape == (0,) for v in two.variables)


def test_provenance_names_every_raw_file() -> None:
    """Name, digest and size of each, and the configuration with its digest."""
    sources = [("a.csv", "0" * 64, 10), ("b.csv", "1" * 64, 2**33)]
    table = {v.name: v for v in provenance_table(sources, '{"a":1}', "ff").variables}
    assert table["source_file_name"].data.tolist() == ["a.csv", "b.csv"]
    assert table["source_file_sha256"].data.tolist() == ["0" * 64, "1" * 64]
    assert table["source_file_size"].data.tolist() == [10, 2**33]
    assert table["resolved_configuration"].data.tolist() == ['{"a":1}']
    assert table["resolved_configuration"].attributes["sha256"] == "ff"
    assert provenance_table([], "{}", "").variables[0].data.shape == (0,)
