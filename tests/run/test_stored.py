"""What a fresh unit knows of its file without its manifest being read again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sunledger.archive.manifest import read_manifest
from sunledger.run import diagnosing, making
from sunledger.run.diagnosing import diagnosable
from sunledger.run.job import Choice, prepare
from sunledger.run.making import stored_outcome


def test_a_fresh_unit_is_told_without_its_manifest(
    made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same outcome, and the same months to be judged, as with the manifests read again."""
    job = prepare(made, Choice())
    units = job.plan.units
    bare = [replace(unit, stored=None) for unit in units]
    told = [stored_outcome(job.context, unit) for unit in bare]
    months = list(diagnosable(job.context, bare))
    assert {o.done for o in told} == {"unchanged"}
    assert len(months) == 2
    for module in (making, diagnosing):
        monkeypatch.setattr(module, "read_manifest", lambda _: pytest.fail("read again"))
    assert [stored_outcome(job.context, unit) for unit in units] == told
    assert list(diagnosable(job.context, units)) == months


def test_a_stale_unit_knows_nothing(made: Path, tmp_path: Path) -> None:
    """Nothing is in an empty archive; what is stored is that of the manifest."""
    assert all(u.stored is None for u in prepare(made, Choice(archive=tmp_path)).plan.units)
    job = prepare(made, Choice())
    unit = job.plan.units[-1]
    path = job.context.product_path(unit.station, unit.product, unit.period)
    manifest = read_manifest(path)
    assert manifest is not None
    assert unit.stored is not None
    assert (unit.stored.version, unit.stored.digest) == (manifest.version, manifest.logical_digest)
