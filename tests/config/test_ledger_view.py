"""What the checks read, and how they name times and places."""

from __future__ import annotations

from pathlib import Path

import pytest

from sunledger.config.ledger_view import ledger_view, overlap, written_period, written_time
from sunledger.config.loading import load_station
from sunledger.config.models.base import parse_utc
from sunledger.config.models.checks import CheckSettings
from sunledger.config.models.fieldlog import Deployment
from sunledger.config.record import DeploymentPeriod


def _period(start: int, end: int | None) -> DeploymentPeriod:
    entry = Deployment.model_validate(
        {
            "id": "a",
            "type": "deployment",
            "from": 10**9,
            "instrument": "GL-01",
            "position": "global_1",
            "role": "technician",
        }
    )
    return DeploymentPeriod(entry, start, end)


@pytest.mark.parametrize(
    ("first", "second", "shared"),
    [((0, 10), (10, 20), False), ((0, 11), (10, 20), True), ((0, None), (5, 6), True)],
)
def test_overlap(
    first: tuple[int, int | None], second: tuple[int, int | None], shared: bool
) -> None:
    """Half-open periods that touch do not overlap, in either order."""
    assert overlap(_period(*first), _period(*second)) is shared
    assert overlap(_period(*second), _period(*first)) is shared


def test_written_time_is_read_back() -> None:
    """What a message says can be written into the field log as it stands."""
    assert written_time(parse_utc("2031-03-25 12:30")) == "2031-03-25 12:30"
    assert written_period(_period(0, None)) == "1970-01-01 00:00 until now"


def test_last_instant(sound: Path) -> None:
    """The earlier of the deployment's end and the run's "now"; None when neither is known."""
    config = load_station(sound / "station")
    with_now, without = (ledger_view(config, CheckSettings(), t) for t in (50, None))
    assert [with_now.last_instant(_period(0, e)) for e in (None, 40, 60)] == [50, 40, 50]
    assert [without.last_instant(_period(0, e)) for e in (None, 40)] == [None, 40]


def test_findings_point_at_fields(sound: Path) -> None:
    """Every kind of place has its file, line and dotted name."""
    view = ledger_view(load_station(sound / "station"), CheckSettings(), None)
    text = (sound / "station" / "instruments.yaml").read_text(encoding="utf-8").splitlines()
    found = view.at_instrument("GL-02", "why", 0, "sensitivity.unit")
    assert found.field == "instruments[1] (GL-02).calibrations[0] (C-GL-02-30).sensitivity.unit"
    assert "as_left: 9.1" in text[found.line - 1]
    assert view.at_instrument("GL-02", "why").field == "instruments[1] (GL-02)"
    assert view.at_station("why", "primary", 0, "position").field == "primary[0].position"
    assert view.named(view.entries[1]).endswith("station/fieldlog.yaml:8)")
    assert {p.entry.instrument for p, _ in view.radiometer_periods()} == {
        "GL-01",
        "DF-01",
        "DR-01",
        "LW-01",
    }
