"""Edges of the rules on levelling, cleaning and the plan."""

from __future__ import annotations

from collections.abc import Callable

from invented import KINDS, deployment, instrument, logger, station_config
from sunledger.config import ledger_upkeep as rules
from sunledger.config.ledger_view import LedgerView, ledger_view
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import parse_utc
from sunledger.config.models.checks import CheckSettings

LoadLog = Callable[[str], StationConfig]
GLOBAL = 'id: a, type: deployment, from: "2031-01-01", instrument: GL-01, position: global_1'
LEVEL = 'id: b, type: level_check, time: "{0}", position: global_1, found: {{size: 0.1}}'
CLEAN = 'id: c, type: cleaning, time: "{0}", positions: [{1}], found: dust'


def _view(config: StationConfig, as_of: str | None = None) -> LedgerView:
    return ledger_view(config, CheckSettings(), None if as_of is None else parse_utc(as_of))


def test_pyrheliometers_and_trackers_need_no_level(with_log: LoadLog) -> None:
    """Only what must stand level is asked for its level."""
    config = with_log(
        GLOBAL.replace("GL-01", "DR-01").replace("global_1", "direct_1")
        + "\n"
        + GLOBAL.replace("id: a", "id: b").replace("GL-01", "TR-01").replace("global_1", "tracker")
    )
    assert list(rules.never_levelled_after_tightening(_view(config))) == []
    assert list(rules.level_check_overdue(_view(config, "2032-01-01"))) == []


def test_level_check_of_the_instrument_before_does_not_count(with_log: LoadLog) -> None:
    """Each installation needs its own look after tightening."""
    after = ", after_tightening: {size: 0.0}"
    own = with_log(GLOBAL + "\n" + LEVEL.format("2031-01-01") + after)
    assert list(rules.never_levelled_after_tightening(_view(own))) == []
    earlier = with_log(GLOBAL + "\n" + LEVEL.format("2030-12-31 23:59") + after)
    assert len(list(rules.never_levelled_after_tightening(_view(earlier)))) == 1
    ended = with_log(GLOBAL + ', until: "2031-02-01"\n' + LEVEL.format("2031-02-01") + after)
    assert len(list(rules.never_levelled_after_tightening(_view(ended)))) == 1


def test_tightened_without_last_look_is_reported_once(with_log: LoadLog) -> None:
    """The check itself is pointed at, not the deployment as well."""
    config = with_log(GLOBAL + "\n" + LEVEL.format("2031-01-02") + ", tightened: true")
    assert list(rules.never_levelled_after_tightening(_view(config))) == []
    assert [f.line for f in rules.not_looked_at_after_tightening(_view(config))] == [3]


def test_plan_is_kept_to_the_day(with_log: LoadLog) -> None:
    """31 days without cleaning are within a plan of 31; an hour more is not."""
    config = with_log(GLOBAL)
    assert list(rules.cleaning_overdue(_view(config, "2031-02-01"))) == []
    assert len(list(rules.cleaning_overdue(_view(config, "2031-02-01 01:00")))) == 1


def test_without_a_date_only_gaps_between_entries_count(with_log: LoadLog) -> None:
    """What has happened since the last entry is unknown without the run's "now"."""
    config = with_log(GLOBAL + "\n" + CLEAN.format("2031-02-20", "global_1"))
    (found,) = rules.cleaning_overdue(_view(config))
    assert found.why == (
        "no cleaning of global_1 is recorded from 2031-01-01 00:00 to 2031-02-20 00:00,"
        " 50 days; the plan is 31"
    )
    assert list(rules.cleaning_overdue(_view(with_log(GLOBAL)))) == []


def test_cleaning_counts_for_its_positions_only(with_log: LoadLog) -> None:
    """Positions left out were not cleaned; an empty list means the whole platform."""
    other = with_log(GLOBAL + "\n" + CLEAN.format("2031-01-20", "direct_1"))
    assert len(list(rules.cleaning_overdue(_view(other, "2031-02-10")))) == 1
    whole = with_log(GLOBAL + "\n" + CLEAN.format("2031-01-20", ""))
    assert list(rules.cleaning_overdue(_view(whole, "2031-02-10"))) == []
    desiccant = with_log(
        GLOBAL + "\n" + CLEAN.format("2031-01-20", "global_1").replace("cleaning", "desiccant")
    )
    assert len(list(rules.cleaning_overdue(_view(desiccant, "2031-02-10")))) == 1


def test_time_without_an_instrument_is_no_gap(with_log: LoadLog) -> None:
    """Nothing need be cleaned where nothing stands."""
    config = with_log(
        GLOBAL + ', until: "2031-01-15"\n'
        'id: d, type: deployment, from: "2031-06-01", instrument: GL-02, position: global_1'
    )
    assert list(rules.cleaning_overdue(_view(config, "2031-06-20"))) == []


def test_cleanings_after_now_are_not_awaited(with_log: LoadLog) -> None:
    """A run as of an earlier date judges by what was recorded until then."""
    config = with_log(GLOBAL + "\n" + CLEAN.format("2031-06-01", "global_1"))
    assert list(rules.cleaning_overdue(_view(config, "2031-01-20"))) == []


def test_the_plane_of_an_array_is_not_level() -> None:
    """It is cleaned as the others are, but nobody asks for its bubble."""
    rows = [{"column": "a", "position": "array_1", "quantity": "gti", "unit": "mV"}]
    config = station_config(
        {"main": logger((), channels=rows)},
        [instrument("global_1", serial_number="NR-array_1"), *map(instrument, KINDS)],
        [deployment("array_1")],
    )
    view = _view(config, "2032-01-01")
    for rule in (rules.never_levelled_after_tightening, rules.level_check_overdue):
        assert not any("array_1" in found.why for found in rule(view))
    assert any("array_1" in found.why for found in rules.cleaning_overdue(view))
