"""A station's checklist is read with every fault at its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from sunledger.config.checklists import checklist_faults, load_checklist
from sunledger.config.loading import load_station
from sunledger.errors import ConfigError
from visit_forms import write_checklist

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("name", ["ossel_ridge", "karru_pan"])
def test_the_examples_are_sound(name: str) -> None:
    """Every radiometer is looked at, and no place is unknown."""
    config = load_station(ROOT / "configs" / "stations" / name)
    assert checklist_faults(config) == []
    assert len(load_checklist(config).places) > 3


def test_unknown_places_are_named_with_their_line(sound: Path) -> None:
    folder = sound / "station"
    (folder / "checklist.yaml").write_text(
        "places:\n  - place: bench\n    items:\n"
        "      - {do: level, entry: level_check, positions: [globl_1, tracker_1]}\n"
        "      - do: clock\n        entry: clock_check\n        loggers: [mian]\n"
    )
    with pytest.raises(ConfigError) as caught:
        load_checklist(load_station(folder))
    text = str(caught.value)
    assert "checklist.yaml:4: places[0].items[0].positions: not at this station; allowed: " in text
    assert "did you mean 'global_1'? (got globl_1)" in text
    assert "checklist.yaml:7: places[0].items[1].loggers: not at this station" in text
    assert "tracker_1" not in text.split("allowed:")[0]


def test_radiometers_that_nobody_looks_at_are_a_warning(sound: Path) -> None:
    write_checklist(sound / "station")
    faults = checklist_faults(load_station(sound / "station"))
    assert [(f.severity, f.why) for f in faults] == [
        ("warning", "no item names long_1; nobody would look at it")
    ]
    assert load_checklist(load_station(sound / "station")).cautions == ("bring <water> & shade",)


def test_without_a_checklist_it_says_what_to_do(sound: Path) -> None:
    config = load_station(sound / "station")
    assert checklist_faults(config) == []
    with pytest.raises(ConfigError, match=r"checklist\.yaml: the station has no checklist; copy"):
        load_checklist(config)
