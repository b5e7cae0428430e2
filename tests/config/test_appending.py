"""Appending an entry: what stands there stays to the byte, and nothing invalid is written."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from sunledger.config.appending import append_entry, text_with_entries
from sunledger.config.loading import load_model
from sunledger.config.models.fieldlog import ClockCheck, FieldLog, LevelCheck
from sunledger.config.models.review import Review
from sunledger.config.yaml_text import parse_text
from sunledger.errors import ConfigError

ENTRY = {
    "id": "tst-100",
    "type": "level_check",
    "time": "2031-02-19 12:30",
    "role": "technician",
    "position": "global_1",
    "found": {"size": 0.4, "azimuth": 90},
    "after_tightening": {"size": 0.0},
    "tightened": True,
    "note": 'bubble at the edge: re-levelled, "twice"',
}
DECISION = {
    "id": "r-1",
    "from": "2031-02-01",
    "until": "2031-02-02",
    "quantities": ["ghi", "dhi"],
    "decision": "reject",
    "reason": "snow # on both domes",
    "role": "reviewer",
    "decided": "2031-02-03",
}


def test_entry_is_appended_and_read_back(sound: Path) -> None:
    """The old text is a prefix of the new one, and the model holds one entry more."""
    path = sound / "station" / "fieldlog.yaml"
    path.write_text("# kept by hand\n" + path.read_text() + "  # the last visit\n")
    before, models = path.read_text(), load_model(path, FieldLog).entries
    append_entry(path, ENTRY, FieldLog)
    assert path.read_text().startswith(before)
    *old, new = load_model(path, FieldLog).entries
    assert tuple(old) == models
    assert isinstance(new, LevelCheck)
    assert (new.found.size, new.found.azimuth, new.tightened) == (0.4, 90.0, True)
    assert new.note == ENTRY["note"]
    assert [p.name for p in path.parent.iterdir() if p.name.endswith(".part")] == []


def test_written_as_a_person_would(sound: Path) -> None:
    """Times are quoted, small mappings stand on one line, the dash on the list's column."""
    path = sound / "station" / "fieldlog.yaml"
    append_entry(path, ENTRY, FieldLog)
    assert path.read_text().splitlines()[-9:] == [
        "  - id: tst-100",
        "    type: level_check",
        '    time: "2031-02-19 12:30"',
        "    role: technician",
        "    position: global_1",
        "    found: {size: 0.4, azimuth: 90}",
        "    after_tightening: {size: 0.0}",
        "    tightened: true",
        '    note: "bubble at the edge: re-levelled, \\"twice\\""',
    ]


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("entries: []  # none yet\nz: 1\n", "entries:  # none yet\n  - id: a\nz: 1\n"),
        ("entries:\nz: 1\n", "entries:\n  - id: a\nz: 1\n"),
        ("z: 1\n", "z: 1\nentries:\n  - id: a\n"),
        ("entries:\n- id: b\n", "entries:\n- id: b\n- id: a\n"),
        ("entries:\n- id: b\n# next\nz: 1\n", "entries:\n- id: b\n- id: a\n# next\nz: 1\n"),
        (
            "entries:\n    - id: b\n    # about b\n\n# about z\nz: 1\n",
            "entries:\n    - id: b\n    # about b\n    - id: a\n\n# about z\nz: 1\n",
        ),
        ("entries:\n  - id: b # x", "entries:\n  - id: b # x\n  - id: a\n"),
        ("entries:\r\n  - id: b\r\n", "entries:\r\n  - id: b\r\n  - id: a\r\n"),
        (
            "entries:\n  - id: b\n    t: |\n      x\n      y\nz: 1\n",
            "entries:\n  - id: b\n    t: |\n      x\n      y\n  - id: a\nz: 1\n",
        ),
        (
            "entries:\n  - {id: b,\n     t: 1}\nz: 1\n",
            "entries:\n  - {id: b,\n     t: 1}\n  - id: a\nz: 1\n",
        ),
        ('"entries": []\n', '"entries":\n  - id: a\n'),
    ],
)
def test_place_of_the_entry(before: str, after: str) -> None:
    """The entry goes behind the list's last line, whatever stands below it."""
    assert text_with_entries(before, [{"id": "a"}], "entries", "x.yaml") == after


def test_list_in_brackets_is_refused() -> None:
    """A list that cannot grow by whole lines is not rewritten."""
    with pytest.raises(ConfigError, match=r"x\.yaml:2: entries: is written in \[brackets\]"):
        text_with_entries("a: 1\nentries: [{id: b}]\n", [{"id": "a"}], "entries", "x.yaml")


def test_review_of_an_empty_list(sound: Path) -> None:
    """The first decision opens the list; lists behind it stay."""
    path = sound / "station" / "review.yaml"
    path.write_text('# reviews\ndecisions: []\nfinished_months: ["2031-01"]\n')
    append_entry(path, DECISION, Review, key="decisions")
    append_entry(path, {**DECISION, "id": "r-2"}, Review, key="decisions")
    review = load_model(path, Review)
    assert [d.id for d in review.decisions] == ["r-1", "r-2"]
    assert review.decisions[0].reason == "snow # on both domes"
    assert review.finished_months == ("2031-01",)


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"position": "Global 1"}, r"entries\[11\] \(tst-100\)\.position: must be a lower-case"),
        ({"id": "tst-001"}, r"entries\[11\] \(tst-001\)\.id: id tst-001 is used twice"),
        ({"positon": "x"}, r"positon: unknown field; allowed: id, .*did you mean 'position'"),
    ],
)
def test_wrong_entry_leaves_the_file_as_it_was(
    change: dict[str, Any], match: str, sound: Path
) -> None:
    """Nothing is written that could not be loaded again; the fault names the line it would have."""
    path = sound / "station" / "fieldlog.yaml"
    before = path.read_bytes()
    with pytest.raises(ConfigError, match=match) as caught:
        append_entry(path, {**ENTRY, **change}, FieldLog)
    assert caught.value.faults[0].line > before.count(b"\n")
    assert path.read_bytes() == before
    assert len(list(path.parent.iterdir())) == 4


def test_file_that_is_wrong_already_is_not_touched(sound: Path) -> None:
    """Faults that stand there are reported before anything is appended."""
    path = sound / "station" / "fieldlog.yaml"
    path.write_text("entries: 7\n")
    with pytest.raises(ConfigError, match="entries: must be a list"):
        append_entry(path, ENTRY, FieldLog)
    assert path.read_text() == "entries: 7\n"


def test_failed_replacement_leaves_no_trace(sound: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk fails at the last moment, the old file stands and nothing lies beside it."""
    path = sound / "station" / "fieldlog.yaml"
    before = path.read_bytes()

    def fail(*_: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(OSError, match="disk full"):
        append_entry(path, ENTRY, FieldLog)
    assert path.read_bytes() == before
    assert len(list(path.parent.iterdir())) == 4


def test_permissions_and_links_are_kept(sound: Path) -> None:
    """The file keeps its mode, and a link stays a link to it."""
    path = sound / "station" / "fieldlog.yaml"
    path.chmod(0o640)
    link = sound / "link.yaml"
    link.symlink_to(path)
    append_entry(link, ENTRY, FieldLog)
    assert link.is_symlink()
    assert path.stat().st_mode & 0o777 == 0o640
    assert "tst-100" in path.read_text()


# YAML 1.1 traps and characters with a meaning, beside any printable text.
TRICKY = [
    "no",
    "y",
    "12:30",
    "010",
    "1e3",
    "0x1F",
    "null",
    "true",
    "~",
    "-",
    "?",
    ":",
    "#",
    "'",
    '"',
    "[a]",
    "{a}",
    "&a",
    "*a",
    "!a",
    "|a",
    ">a",
    "%a",
    "@a",
    "a:",
]
TEXTS = st.one_of(
    st.sampled_from(TRICKY),
    st.text(st.characters(exclude_categories=("C", "Z"), include_characters=" "), min_size=1),
)


@given(note=TEXTS.map(str.strip).filter(bool), found=st.floats(-1e9, 1e9))
def test_any_text_and_number_come_back(note: str, found: float) -> None:
    """Whatever a person notes is read back as it was, by our loader and by any YAML 1.1 reader."""
    entry = {
        "id": "010",
        "type": "clock_check",
        "time": "2031-02-01",
        "role": "technician",
        "logger": "main",
        "found": found,
        "note": note,
    }
    text = text_with_entries("entries: []\n", [entry], "entries", "x.yaml")
    parsed = parse_text(text, "x.yaml")
    assert parsed.faults == ()
    assert parsed.data == yaml.safe_load(text) == {"entries": [entry]}
    log = FieldLog.model_validate(parsed.data).entries[0]
    assert isinstance(log, ClockCheck)
    assert (log.note, log.found) == (note, found)
