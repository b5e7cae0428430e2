"""Edges of the rules on scales and thermal offsets."""

from __future__ import annotations

from typing import Any

import pytest

from invented import KINDS, certificate, deployment, instrument, station_config
from sunledger.config import ledger_corrections as rules
from sunledger.config.ledger_view import Finding, LedgerView, ledger_view
from sunledger.config.models.checks import CheckSettings
from sunledger.config.models.processing import CalibrateSettings


@pytest.fixture(autouse=True)
def _no_files(monkeypatch: pytest.MonkeyPatch) -> None:
    """The stations of these tests are in memory: findings stand at no line."""

    def at(self: LedgerView, serial: str, why: str, *place: Any, **more: Any) -> Finding:
        return Finding("", 0, serial, why)

    monkeypatch.setattr(LedgerView, "at_instrument", at)


def view(*changed: dict[str, Any], entries: Any = None, **settings: Any) -> LedgerView:
    """The invented station with other instruments."""
    mine = {i["serial_number"]: i for i in changed}
    every = [mine.pop(f"NR-{p}", instrument(p)) for p in KINDS] + list(mine.values())
    config = station_config(instruments=every, entries=entries)
    return ledger_view(config, CheckSettings(), None, CalibrateSettings.model_validate(settings))


def on_scale(position: str, scale: str, **changes: Any) -> dict[str, Any]:
    """An instrument with a certificate of a scale."""
    return instrument(position, certificate(position, reference_scale=scale), **changes)


def test_families_may_stand_on_scales_of_their_own() -> None:
    assert not list(rules.scales_mixed(view(on_scale("sky_1", "WISG"))))


def test_one_of_three_on_another_scale() -> None:
    (found,) = rules.scales_mixed(view(on_scale("direct_1", "older")))
    assert found.field == "NR-direct_1"
    assert "stand on WRR" in found.why


def test_an_instrument_in_the_store_does_not_count() -> None:
    spare = on_scale("global_1", "older", serial_number="NR-spare")
    assert not list(rules.scales_mixed(view(spare)))
    up = deployment("global_1", id="again", instrument="NR-spare", **{"from": "2032-01-01"})
    assert list(rules.scales_mixed(view(spare, entries=[up])))


def test_a_factor_settles_it() -> None:
    row = {"scale": "older", "to": "WRR", "factor": 1.003, "source": "here"}
    settings = {"expressed_in": {"shortwave": "WRR"}, "scale_factors": [row]}
    assert not list(rules.scales_mixed(view(on_scale("direct_1", "older"), **settings)))


def test_a_factor_of_other_dates_does_not() -> None:
    row = {"scale": "older", "to": "WRR", "factor": 1.003, "source": "here", "until": "2020-01-01"}
    settings = {"expressed_in": {"shortwave": "WRR"}, "scale_factors": [row]}
    assert list(rules.scales_mixed(view(on_scale("direct_1", "older"), **settings)))


@pytest.mark.parametrize(
    ("said", "method", "number"),
    [("removed", "night", 0), ("absorbed", "night", 1), (None, "night", 1), (None, "none", 0)],
)
def test_thermal_offset_and_responsivity(said: str | None, method: str, number: int) -> None:
    item = instrument("global_1", certificate("global_1", offset_in_responsivity=said))
    found = list(
        rules.thermal_offset_disagrees(view(item | {"thermal_offset": {"method": method}}))
    )
    assert len(found) == number


@pytest.mark.parametrize(("factor", "number"), [(0.035, 0), (0.036, 1)])
def test_bound_of_class_a(factor: float, number: int) -> None:
    """7 W m-2 at 200 W m-2: the limit itself is allowed."""
    model = {"method": "pyrgeometer", "beside": "sky_1", "net_longwave": factor}
    found = rules.thermal_offset_beyond_class(view(instrument("global_1", thermal_offset=model)))
    assert len(list(found)) == number
