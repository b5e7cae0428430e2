"""What the record says stands at a station."""

from __future__ import annotations

from pathlib import Path

import pytest

from sunledger.config.loading import load_station
from sunledger.config.models.base import parse_utc
from sunledger.config.models.checks import CheckSettings
from sunledger.config.models.fieldlog import Tilt
from sunledger.report.visit_facts import (
    due,
    entry_words,
    last_of,
    newest_entry,
    standing_now,
    tilt_words,
)
from sunledger.run.visiting import add_visit
from visit_forms import EXCHANGE, LEVEL, write_form


def test_what_stands_with_its_certificate(sound: Path) -> None:
    """Radiometers in the order of the channels, then the tracker."""
    rows = standing_now(load_station(sound / "station"))
    assert [r.position for r in rows] == [
        *("global_1", "diffuse_1", "direct_1", "long_1", "tracker_1")
    ]
    assert (rows[0].serial, rows[0].quantity) == ("GL-01", "ghi")
    assert rows[0].certificate is not None
    assert rows[0].certificate.sensitivity.as_left == 8.4
    assert rows[4].certificate is None


def test_a_level_of_what_was_taken_down_is_not_told(sound: Path) -> None:
    """A new instrument has no last level check until it was looked at."""
    config = load_station(sound / "station")
    assert entry_words(last_of(config, "level_check", "global_1")) == (
        "2031-01-10 10:00: found 0.3° toward 120°, left 0.05°"
    )
    add_visit(write_form(sound / "v.yaml", EXCHANGE), sound / "workflow.yaml")
    after = load_station(sound / "station")
    assert entry_words(last_of(after, "level_check", "global_1")) == "none on record"
    assert next(r.serial for r in standing_now(after)) == "GL-02"


def test_words_of_clocks_and_cleanings(sound: Path) -> None:
    config = load_station(sound / "station")
    clock = last_of(config, "clock_check", "main")
    assert entry_words(clock) == "2031-02-01 08:30: found +3.5 s, not set"
    cleaning = last_of(config, "cleaning", "long_1")
    assert entry_words(cleaning) == "2031-02-01 08:00: dust, left clean"


@pytest.mark.parametrize(
    ("tilt", "words"),
    [
        (None, "not noted"),
        (Tilt(size=0.5), "0.5°"),
        (Tilt(size=1.25, azimuth=90), "1.25° toward 90°"),
    ],
)
def test_words_of_a_tilt(tilt: Tilt | None, words: str) -> None:
    assert tilt_words(tilt) == words


def test_due_by_the_plan(sound: Path) -> None:
    """31 days after the cleaning, 92 after the level check; what faces the sun is not levelled."""
    rows = {(p, w): day for p, w, _, day in due(load_station(sound / "station"), CheckSettings())}
    assert rows["global_1", "cleaning"] == "2031-03-04"
    assert rows["global_1", "level check"] == "2031-04-12"
    assert ("direct_1", "level check") not in rows
    assert ("tracker_1", "cleaning") not in rows


def test_the_newest_entry(sound: Path) -> None:
    add_visit(write_form(sound / "v.yaml", LEVEL), sound / "workflow.yaml")
    assert newest_entry(load_station(sound / "station")) == parse_utc("2031-02-15 08:10")
    (sound / "station" / "fieldlog.yaml").write_text("entries: []\n")
    assert newest_entry(load_station(sound / "station")) is None
