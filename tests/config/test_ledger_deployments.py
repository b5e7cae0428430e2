"""Edges of the rules on what stands where."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from invented import deployment, logger, station_config
from sunledger.config import ledger_deployments as rules
from sunledger.config.ledger_view import LedgerView, ledger_view
from sunledger.config.loading import StationConfig
from sunledger.config.models.base import parse_utc
from sunledger.config.models.checks import CheckSettings

FIRST = 'id: a, type: deployment, from: "2031-01-01", instrument: GL-01, position: global_1'
LoadLog = Callable[[str], StationConfig]


def _view(config: StationConfig) -> LedgerView:
    return ledger_view(config, CheckSettings(), None)


@pytest.mark.parametrize(("second", "faults"), [("2031-02-01", 0), ("2031-01-31 23:59:59", 1)])
def test_exchange_at_one_instant_is_no_overlap(second: str, faults: int, with_log: LoadLog) -> None:
    """Periods are half-open: the next instrument may begin as the last one ends."""
    config = with_log(
        f'{FIRST}, until: "2031-02-01"\n'
        f'id: b, type: deployment, from: "{second}", instrument: GL-02, position: global_1'
    )
    assert len(list(rules.two_instruments_at_one_position(_view(config)))) == faults


def test_three_at_once_are_three_faults(with_log: LoadLog) -> None:
    """Every pair that overlaps is named, not only neighbours."""
    config = with_log(
        f'{FIRST}, until: "2031-06-01"\n'
        'id: b, type: deployment, from: "2031-01-02", until: "2031-01-03", instrument: GL-02,'
        " position: global_1\n"
        'id: c, type: deployment, from: "2031-02-01", instrument: DF-01, position: global_1'
    )
    found = [f.field for f in rules.two_instruments_at_one_position(_view(config))]
    assert found == ["entries[1] (b).position", "entries[2] (c).position"]


def test_instrument_moved_after_removal_is_no_fault(with_log: LoadLog) -> None:
    """An instrument may move to another position once it is taken down."""
    moved = (
        'id: b, type: removal, time: "2031-02-01", deployment: a\n'
        'id: c, type: deployment, from: "2031-02-01", instrument: GL-01, position: diffuse_1,'
        " shade: ball"
    )
    assert list(rules.one_instrument_at_two_positions(_view(with_log(f"{FIRST}\n{moved}")))) == []
    stays = moved.replace('time: "2031-02-01"', 'time: "2031-02-02"')
    assert (
        len(list(rules.one_instrument_at_two_positions(_view(with_log(f"{FIRST}\n{stays}"))))) == 1
    )


def test_corrected_deployment_is_not_judged(with_log: LoadLog) -> None:
    """An entry that a later one corrects is out of force, and the correction is judged."""
    config = with_log(
        FIRST.replace("GL-01", "GL-99")
        + "\n"
        + FIRST.replace("id: a", "id: b")
        + ", corrects: a, reason: typing error"
    )
    assert list(rules.unknown_serial_number(_view(config))) == []
    assert list(rules.two_instruments_at_one_position(_view(config))) == []


def test_removal_may_name_the_corrected_entry(with_log: LoadLog) -> None:
    """A removal written before the correction still ends the deployment in force."""
    config = with_log(
        f"{FIRST}\n"
        'id: b, type: removal, time: "2031-02-01", deployment: a\n'
        + FIRST.replace("id: a", "id: c")
        + ", corrects: a, reason: ventilated, ventilated: true"
    )
    assert list(rules.removal_of_unknown_deployment(_view(config))) == []
    assert [p.end for p in _view(config).periods] == [parse_utc("2031-02-01")]


@pytest.mark.parametrize("shade", ["disc", "ball", "band"])
def test_pyrgeometer_may_be_shaded(shade: str, with_log: LoadLog) -> None:
    """Longwave is measured shaded or not; neither is a fault."""
    entry = FIRST.replace("GL-01", "LW-01").replace("global_1", "long_1")
    config = with_log(f"{entry}, shade: {shade}")
    assert list(rules.shaded_where_the_sun_is_measured(_view(config))) == []
    assert list(rules.diffuse_unshaded(_view(config))) == []


def test_removal_at_the_end_written_in_the_deployment_is_no_contradiction(
    with_log: LoadLog,
) -> None:
    """Saying the same end twice is allowed."""
    config = with_log(
        f'{FIRST}, until: "2031-02-01"\nid: b, type: removal, time: "2031-02-01", deployment: a'
    )
    assert list(rules.removal_contradicts_deployment(_view(config))) == []


@pytest.mark.parametrize(("quantity", "faults"), [("gti", 1), ("uv", 1), ("dhi", 0)])
def test_sensors_of_whole_light_are_never_shaded(quantity: str, faults: int) -> None:
    """As global is not; only diffuse is."""
    rows = [{"column": "a", "position": "more_1", "quantity": quantity, "unit": "mV"}]
    config = station_config(
        {"main": logger((), channels=rows)}, entries=[deployment("more_1", shade="disc")]
    )
    found = list(rules.shaded_where_the_sun_is_measured(_view(config)))
    assert len(found) == faults
