"""Edges of the rules on the ways of signals."""

from __future__ import annotations

from typing import Any

from invented import deployment, station_config
from signal_ways import BOX, LOGGER, UP, station
from sunledger.config import ledger_paths as rules
from sunledger.config.ledger_view import LedgerView, ledger_view
from sunledger.config.models.base import parse_utc
from sunledger.config.models.checks import CheckSettings
from sunledger.config.models.processing import CalibrateSettings


def view(*devices: dict[str, Any], as_of: str | None = None, entries: Any = None) -> LedgerView:
    """The record of a global whose signal passes a multiplexer and the logger."""
    now = None if as_of is None else parse_utc(as_of)
    config = station(*devices, entries=entries)
    return ledger_view(config, CheckSettings(), now, CalibrateSettings())


def words(found: list[Any]) -> list[str]:
    """What was found, without its consequences."""
    return [f.why.partition(";")[0] for f in found]


def test_way_known_all_the_time() -> None:
    """Both devices have certificates before the instrument was put up; a direct wire has no way."""
    whole = view(LOGGER, BOX, entries=[UP])
    for rule in (rules.passage_of_unknown_place, rules.input_without_certificate):
        assert list(rule(whole)) == []
    direct = ledger_view(station_config(), CheckSettings(), None)
    assert list(rules.input_without_certificate(direct)) == []


def test_device_that_never_stood_there() -> None:
    """An undeployed multiplexer is an error of its own and not also a missing certificate."""
    absent = view(LOGGER, BOX)
    (found,) = rules.passage_of_unknown_place(absent)
    assert found.why.endswith("allowed: main (got box)")
    assert list(rules.input_without_certificate(absent)) == []


def test_another_input_of_the_same_device() -> None:
    """A certificate of input 2 says nothing about input 1."""
    other = {**BOX, "inputs": [{**BOX["inputs"][0], "input": "2"}]}
    (found,) = rules.input_without_certificate(view(LOGGER, other, entries=[UP]))
    assert words([found]) == [
        "input 1 of NR-MX-1 at box has no certificate from 2030-07-01 00:00 on"
    ]


def test_only_while_an_instrument_uses_the_way() -> None:
    """A certificate that comes after the device but before the radiometer is in time."""
    early = deployment("box", instrument="NR-MX-1", **{"from": "2029-01-01"})
    assert list(rules.input_without_certificate(view(LOGGER, BOX, entries=[early]))) == []


def test_age_of_an_input() -> None:
    """One day within the limit, one day beyond it, and nothing without a "now"."""
    assert list(rules.input_certificate_too_old(view(LOGGER, BOX, entries=[UP]))) == []
    in_time = view(LOGGER, BOX, as_of="2032-01-01", entries=[UP])
    assert list(rules.input_certificate_too_old(in_time)) == []
    late = view(LOGGER, BOX, as_of="2032-01-02", entries=[UP])
    assert words(list(rules.input_certificate_too_old(late))) == [
        "certificate NR-MX-1-2030-01-01 of input 1 at box, dated 2030-01-01, is older than 730"
        " days from 2032-01-01 00:00 on"
    ]
