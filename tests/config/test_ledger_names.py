"""Edges of the rules on names and dates."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from sunledger.config import ledger_names as rules
from sunledger.config.ledger_view import LedgerView, ledger_view
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import parse_utc
from sunledger.config.models.checks import CheckSettings
from sunledger.config.models.review import Review

LoadLog = Callable[[str], StationConfig]
TRACKER = 'id: a, type: deployment, from: "2031-01-01", instrument: TR-01, position: tracker_1'
HOMING = 'id: b, type: tracker_homing, time: "2031-02-01", positions: [{0}], found: 0.2 degree off'


def _view(config: StationConfig, as_of: str | None = None) -> LedgerView:
    return ledger_view(config, CheckSettings(), None if as_of is None else parse_utc(as_of))


def test_tracker_stands_where_the_record_says(with_log: LoadLog) -> None:
    """Places of trackers and loggers are known by their deployment, not by a signal."""
    known = with_log(f"{TRACKER}\n{HOMING.format('tracker_1')}")
    assert list(rules.unknown_position(_view(known))) == []
    unknown = with_log(f"{TRACKER}\n{HOMING.format('tracker_2')}")
    (found,) = rules.unknown_position(_view(unknown))
    assert "did you mean 'tracker_1'? (got tracker_2)" in found.why


def test_radiometer_at_an_unknown_position_does_not_make_it_known(with_log: LoadLog) -> None:
    """A radiometer without a signal column measures nothing, and that is said."""
    config = with_log(TRACKER.replace("TR-01", "GL-01"))
    assert [f.field for f in rules.unknown_position(_view(config))] == ["entries[0] (a).position"]


@pytest.mark.parametrize(("as_of", "faults"), [("2031-02-01", 0), ("2031-01-31 23:59", 1)])
def test_entry_at_now_is_not_after_it(as_of: str, faults: int, with_log: LoadLog) -> None:
    """The instant itself still belongs to the past."""
    config = with_log(f"{TRACKER}\n{HOMING.format('tracker_1')}")
    assert len(list(rules.entry_after_now(_view(config, as_of)))) == faults
    assert list(rules.entry_after_now(_view(config))) == []


def test_chain_of_corrections_is_no_double(with_log: LoadLog) -> None:
    """A correction may itself be corrected."""
    second = HOMING.format("tracker_1").replace("id: b", "id: c") + ", corrects: b, reason: place"
    third = second.replace("id: c", "id: d").replace("corrects: b", "corrects: c")
    config = with_log(f"{TRACKER}\n{HOMING.format('tracker_1')}\n{second}\n{third}")
    assert list(rules.corrected_twice(_view(config))) == []


def test_accepted_findings_name_what_there_is_and_once(with_log: LoadLog) -> None:
    """A position for a lean, a logger for a clock; the same finding only once."""
    plain = {
        "id": "a-1",
        "finding": "f-1",
        "condition": "clock_doubtful",
        "targets": ["global_1"],
        "from": "2031-03-01",
        "reason": "seen",
        "role": "data manager",
        "decided": "2031-04-01",
    }
    second = plain | {"id": "a-2", "condition": "level_doubtful", "targets": ["ghost"]}
    review = Review.model_validate({"accepted_findings": [plain, second]})
    found = list(rules.accepted_of_unknown_target(_view(replace(with_log(TRACKER), review=review))))
    assert [f.field for f in found] == [
        "accepted_findings[0] (a-1).targets",
        "accepted_findings[1] (a-2).targets",
        "accepted_findings[1] (a-2).finding",
    ]
    assert "not at this station; allowed: " in found[0].why
    assert "accepted already by a-1" in found[2].why
