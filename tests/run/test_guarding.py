"""A unit that fails: named with its cause, and only those that read it are not made."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sunledger.archive.changes import Made
from sunledger.archive.manifest import Manifest
from sunledger.archive.specification import FileSpec
from sunledger.errors import SunledgerError
from sunledger.run.guarding import failed_before, failure, guarded, published, with_months
from sunledger.run.publish import Outcome, Publication
from sunledger.run.unit import Unit

UNIT = Unit("aggregate", "tst", "daily", "2031", "key", {}, months=("2031-05", "2031-06"))


def test_what_is_made_is_handed_on() -> None:
    """Whatever it is."""
    assert guarded("x", lambda: 5) == 5


def test_a_bug_is_named_with_its_place() -> None:
    """File and line, so that it can be reported."""
    outcome = guarded("x", lambda: 1 // 0)
    assert isinstance(outcome, Outcome)
    assert (outcome.unit, outcome.done, outcome.cause) == ("x", "failed", "bug")
    assert "test_guarding.py:" in outcome.error


def test_an_interrupt_is_no_failure() -> None:
    """It ends the run."""

    def interrupt() -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        guarded("x", interrupt)


def test_an_error_without_words_has_its_name() -> None:
    """Out of memory says nothing else."""
    assert failure("x", MemoryError()).error == "MemoryError"
    assert failure("x", SunledgerError("a.csv:3: no column")).error == "a.csv:3: no column"


def test_readers_of_what_failed() -> None:
    """One that reads a failed unit is not made; one that reads an empty one is."""
    bad, empty = Outcome("a", "failed"), Outcome("b", "empty")
    found = failed_before(UNIT, [bad, empty])
    assert found is not None
    assert (found.unit, found.error) == ("tst daily 2031", "not made: a failed")
    assert failed_before(UNIT, [empty]) is None


def test_empty_months_are_left_out() -> None:
    """Of those held and of those read beside."""
    unit = replace(UNIT, around=("2031-07",), after=tuple(f"tst minute 2031-0{m}" for m in "567"))
    before = [Outcome("tst minute 2031-06", "empty"), Outcome("tst minute 2031-07", "empty")]
    found = with_months(unit, before)
    assert (found.months, found.around) == (("2031-05",), ())


def test_a_file_that_cannot_be_written_fails_alone(tmp_path: Path) -> None:
    """Its outcome names the unit and the reason; an outcome without a file is handed on."""
    (tmp_path / "a").write_text("a file where a folder should be", encoding="utf-8")
    publication = Publication(
        "tst minute 2031-06",
        FileSpec({"title": "t"}, {}, ()),
        tmp_path / "a" / "x.nc",
        tmp_path / "changes.jsonl",
        Made("minute", "2031-06", "", "2031-08-01", "sunledger 0", "test"),
        Manifest("minute", "tst", "2031-06", "key"),
    )
    outcome = published(publication)
    assert (outcome.unit, outcome.done) == ("tst minute 2031-06", "failed")
    assert str(tmp_path / "a") in outcome.error
    assert published(outcome) is outcome
