"""Edges of the rules on names and dates."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from sunledger.config import ledger_names as rules
from sunledger.config.ledger_view import LedgerView, ledger_view
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import parse_utc
from sunledger.config.models.checks import CheckSettings

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
