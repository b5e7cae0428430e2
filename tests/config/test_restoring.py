"""A resolved period comes back from a manifest as it was."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import invented
from sunledger.archive.digest import canonical_json, plain_data
from sunledger.archive.manifest import checked_manifest
from sunledger.config.models.processing import Processing
from sunledger.config.resolve import resolve_period
from sunledger.config.restoring import restored_period
from sunledger.errors import ArchiveError
from sunledger.run.keys import minute_settings


@pytest.mark.parametrize("station", ["osr", "kpn"])
def test_period_of_a_manifest(sample_folder: Path, station: str) -> None:
    """What the key was made of is what comes back, to the last number."""
    path = (
        sample_folder / "build/sample_archive" / station / "minute" / f"{station}_minute_2031-04.nc"
    )
    said = checked_manifest(path).resolved_configuration
    period = restored_period(said)
    again = plain_data(period)
    processing = {k: again["processing"][k] for k in said["processing"]}
    assert processing == said["processing"]
    rest = {k: v for k, v in again.items() if k != "processing"}
    assert {k: said[k] for k in rest} == rest
    assert period.coefficients
    assert period.loggers[0].channels


def test_same_as_before_it_was_written() -> None:
    positions = tuple(invented.SENSITIVITY)
    config = invented.station_config(
        {"main": invented.logger(positions)},
        [invented.instrument(p, invented.certificate(p)) for p in positions],
        [],
    )
    period = resolve_period(config, Processing(), 1930000000, 1930086400)
    plain = json.loads(canonical_json(minute_settings(period, config.station)))
    assert restored_period(plain) == period


@pytest.mark.parametrize("change", [{"coefficients": 3}, {"loggers": [{}]}, {"skylines": [[1, 2]]}])
def test_other_data_are_refused(change: dict[str, object]) -> None:
    config = invented.station_config(
        {"main": invented.logger(("global_1",))},
        [invented.instrument("global_1", invented.certificate("global_1"))],
        [],
    )
    period = resolve_period(config, Processing(), 0, 86400)
    with pytest.raises(ArchiveError, match="cannot be read back"):
        restored_period({**minute_settings(period, config.station), **change})
    with pytest.raises(ArchiveError, match="cannot be read back"):
        restored_period({})
